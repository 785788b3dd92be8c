"""The page that answers where to go first."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

import polars as pl
from dash import dcc, html

from dashboards import ids, question, words
from dashboards.data import Tally
from dashboards.figures import style
from dashboards.layouts import grid, parts
from dashboards.question import Order, Show
from eventlab.schema import formatted

SHOW_WORDS = {
    Show.ALL: "All sites",
    Show.MISSING: "Protection missing",
    Show.TEST: "Left on test",
    Show.ALARMS: "With alarms",
    Show.UNKNOWN: "Nothing is known",
}
ORDER_WORDS = {
    Order.FIRST: "where to go first",
    Order.ALARMS: "most alarms",
    Order.RATE: "highest rate",
    Order.NEWEST: "newest log",
    Order.OLDEST: "oldest log",
    Order.NAME: "first name of the alphabet",
}


def draw(sites: pl.DataFrame, tally: Tally, asked: question.Home, *, narrow: bool) -> html.Div:
    """Draw the page.

    Parameters
    ----------
    sites : polars.DataFrame
        As ``data.overview`` gives it.
    tally : Tally
        Counts over the whole store.
    asked : question.Home
        What the address asks.
    narrow : bool
        Small screen: each site is a card of its own, and the order is chosen above.

    Returns
    -------
    dash.html.Div
        The page; rows and map come by callbacks.
    """
    head: list[Any] = [html.H1("Where should we go first?", tabIndex=-1)]
    if not tally.sites:
        return html.Div([*head, _nothing(tally)], className="page")
    head.append(html.P(summary(tally), className="lead"))
    if tally.waiting:
        head.append(parts.waits(tally.waiting))
    return html.Div(
        [
            html.Div(head, className="page-head"),
            _filters(sites, tally, asked, narrow=narrow),
            dcc.Store(id=ids.HOME_ASKED),
            html.Div(
                [
                    html.Section(
                        [
                            html.H2("Sites", className="unseen"),
                            html.P(id=ids.HOME_COUNT, className="count", role="status"),
                            html.P(
                                "Rates are over the whole log of a site; beneath, the middle one "
                                "of all sites of its trade here.",
                                className="hint",
                            ),
                            html.Div(
                                grid.draw(asked, narrow=narrow, rows=tally.sites),
                                role="group",
                                className="grid-frame",
                                **{"aria-label": "Sites, one row for each"},
                            ),
                        ],
                        className="sites-list",
                    ),
                    html.Section(
                        [
                            html.H2("Where they are"),
                            html.P(id=ids.HOME_MAP_WORDS, className="hint"),
                            html.Div(
                                [
                                    html.Div(
                                        dcc.Graph(
                                            id=ids.HOME_MAP,
                                            figure=style.blank(),
                                            config=style.config("sites", bar=False),
                                            responsive=True,
                                        ),
                                        role="group",
                                        className="map",
                                        **{"aria-label": "Map of the sites, told by the table too"},
                                    ),
                                    _map_legend(),
                                ],
                                id=ids.HOME_MAP_FRAME,
                                className="map-frame",
                            ),
                        ],
                        className="sites-map",
                    ),
                ],
                className="home-body",
            ),
            html.P(
                parts.link("How sure are the causes told here?", question.HowSure()),
                className="hint",
            ),
        ],
        className="page",
    )


def summary(tally: Tally) -> list[Any]:
    """Say in one line how the sites stand."""
    said: list[Any] = []
    if tally.missing:
        said.append(f"protection is missing now at {words.number(tally.missing)}")
    if tally.test:
        said.append(f"{words.number(tally.test)} {_were(tally.test)} left on test")
    if tally.unknown:
        said.append(f"of {words.number(tally.unknown)} nothing is known")
    start = f"{words.count(tally.sites, 'site')}: "
    if not said:
        return [start + "no protection is missing, none was left on test, all are heard of."]
    last = said.pop()
    return [start + (f"{', '.join(said)}, and {last}." if said else f"{last}.")]


def _were(many: int) -> str:
    return "was" if many == 1 else "were"


def _nothing(tally: Tally) -> html.Div:
    body = [
        html.P(
            "Drop the exported event history of a site; a site list and a zone schedule help, "
            "and none is needed."
        ),
        html.P(parts.link("Bring in the first log", question.Logs(), className="button")),
    ]
    if tally.waiting:
        body.insert(0, parts.waits(tally.waiting))
    return parts.empty("No log has come in yet", body)


def _filters(sites: pl.DataFrame, tally: Tally, asked: question.Home, *, narrow: bool) -> html.Div:
    return html.Div(
        [
            html.Div(
                [
                    html.Label("Find", htmlFor=ids.HOME_FIND),
                    dcc.Input(
                        id=ids.HOME_FIND,
                        type="search",
                        value=asked.find,
                        placeholder="name or number",
                        debounce=0.35,
                        autoComplete="off",
                        className="field",
                    ),
                ],
                className="labelled",
            ),
            html.Div(
                choices(sites, tally, asked, narrow=narrow),
                id=ids.HOME_CHOICES,
                className="choices",
            ),
        ],
        className="filters",
        role="search",
        **{"aria-label": "Sites"},
    )


def choices(sites: pl.DataFrame, tally: Tally, asked: question.Home, *, narrow: bool) -> list[Any]:
    """Draw what else can be asked, as links: the address holds the question.

    Parameters
    ----------
    sites : polars.DataFrame
        All sites.
    tally : Tally
        Counts over the whole store.
    asked : question.Home
        What is asked now; each link changes one thing of it.
    narrow : bool
        Small screen: there are no headers to sort by.

    Returns
    -------
    list of dash components
        Which sites, which trade, and what the list begins with.
    """
    counts = {
        Show.ALL: tally.sites,
        Show.MISSING: tally.missing,
        Show.TEST: tally.test,
        Show.ALARMS: tally.alarms,
        Show.UNKNOWN: tally.unknown,
    }
    chips = [
        parts.link(
            [text, html.Span(words.number(counts[show]), className="chip-count")],
            replace(asked, show=show),
            stay=True,
            className="chip",
            **parts.current(here=show is asked.show),
        )
        for show, text in SHOW_WORDS.items()
    ]
    trades = sites["trade"].drop_nulls().unique().sort().to_list()
    told = [html.Div(chips, className="chips", role="group", **{"aria-label": "Which sites"})]
    if len(trades) > 1:
        wishes = [("", "all"), *((trade, trade) for trade in trades)]
        told.append(
            _menu(
                "Trade",
                [(text, replace(asked, trade=trade)) for trade, text in wishes],
                asked,
            )
        )
    if narrow:
        told.append(
            _menu(
                "Begin with",
                [(text, replace(asked, order=order)) for order, text in ORDER_WORDS.items()],
                asked,
            )
        )
    return told


def _menu(
    title: str, wishes: Sequence[tuple[str, question.Home]], asked: question.Home
) -> html.Details:
    now = next((text for text, wish in wishes if wish == asked), "all")
    return html.Details(
        [
            html.Summary([f"{title}: ", html.Strong(now)]),
            html.Ul(
                [
                    html.Li(parts.link(text, wish, stay=True, **parts.current(here=wish == asked)))
                    for text, wish in wishes
                ],
                className="menu-panel",
            ),
        ],
        className="menu",
    )


def _map_legend() -> html.Ul:
    marks = (
        ("missing", "protection missing"),
        ("test", "left on test"),
        ("plain", "no protection missing"),
        ("unknown", "nothing is known"),
    )
    return html.Ul(
        [
            html.Li(
                [
                    html.Span(className=f"site-mark site-mark-{mark}", **{"aria-hidden": "true"}),
                    f" {text}",
                ]
            )
            for mark, text in marks
        ],
        className="legend",
    )


def count_words(shown: int, sites: int, asked: question.Home) -> str:
    """Say how many sites the table lists, and what it begins with."""
    if not shown:
        return "No site answers to this. Widen the choice above."
    many = words.count(sites, "site")
    start = many if shown == sites else f"{words.number(shown)} of {many}"
    if asked.order is Order.FIRST:
        return f"{start}; left on test and protection missing stand first."
    return f"{start}, beginning with the {ORDER_WORDS[asked.order]}."


def map_words(drawn: int, listed: int) -> str:
    """Say what the map shows, and what it cannot."""
    if not drawn:
        return "No site list tells where these sites are, so there is no map."
    said = "Each mark is a site; the larger, the more alarms in 26 weeks. The table tells the same."
    left = listed - drawn
    return f"{said} {words.count(left, 'site')} without a known place." if left else said


def map_rows(sites: pl.DataFrame) -> pl.DataFrame:
    """Give the map its rows: where each site stands, and what hovering tells.

    Parameters
    ----------
    sites : polars.DataFrame
        As ``data.chosen`` gives it.

    Returns
    -------
    polars.DataFrame
        Sites whose place is known, with ``say`` and ``alarms``.
    """
    states = {
        "missing": "protection missing now",
        "test": "left on test",
        "unknown": "nothing is known",
        "plain": "no protection missing",
    }
    name = pl.col("name").fill_null(pl.col("site"))
    return sites.filter(
        pl.col("latitude").is_not_null() & pl.col("longitude").is_not_null()
    ).with_columns(
        name=_plain(name),
        alarms="alarms_26w",
        say=formatted(
            "<b>{}</b><br>{}<br>{} in 26 weeks",
            _plain(name),
            pl.col("mark").replace_strict(states, default=""),
            formatted(
                "{} alarm{}",
                "alarms_26w",
                pl.when(pl.col("alarms_26w") == 1).then(pl.lit("")).otherwise(pl.lit("s")),
            ),
        ),
    )


def _plain(text: pl.Expr) -> pl.Expr:
    return text.str.replace_all("&", "&amp;", literal=True).str.replace_all(
        "<", "&lt;", literal=True
    )


def rows(sites: pl.DataFrame, now: datetime) -> list[dict[str, Any]]:
    """Say each site in the words of its row; see ``grid``."""
    return [grid.row(one, now) for one in sites.iter_rows(named=True)]
