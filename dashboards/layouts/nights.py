"""The day raster on its page: choices, legend, sentence, table."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from dash import dcc, html

from dashboards import ids, question, words
from dashboards.data import PAGE_ROWS, USUAL_NIGHTS, Picture
from dashboards.figures import style
from dashboards.layouts import parts
from dashboards.palette import BY_KEY, FAMILIES, LIFE_SAFETY
from dashboards.question import HowSure, Point, Site

SHADES = (
    ("armed", "armed"),
    ("part", "part of it armed"),
    ("aside", "set aside: on test, service, restart"),
    ("gap", "not covered by the log"),
)


def section(asked: Site, *, narrow: bool, odds_from: str = "") -> html.Section:
    """Draw the section; what it shows comes by callback.

    Parameters
    ----------
    asked : question.Site
        What the address asks.
    narrow : bool
        Small screen: no row of buttons over the picture.
    odds_from : str
        What the probabilities of causes are from.

    Returns
    -------
    dash.html.Section
        Choices, legend, picture, table.
    """
    return html.Section(
        [
            html.H2("Night by night"),
            html.P(
                "Each column is one day from noon to noon, so that a night is one piece. Each mark "
                "is an alarm; choose one to see what stood around it.",
                className="hint",
            ),
            html.P(
                [
                    f"Its colour is its likeliest cause; how likely is told {odds_from}. ",
                    parts.link("How sure are these causes?", HowSure()),
                ],
                className="hint",
            )
            if odds_from
            else None,
            html.Div(
                [
                    html.Div(id=ids.SITE_SPAN, className="spans"),
                    _date(ids.SITE_SINCE, "from", asked.since),
                    _date(ids.SITE_UNTIL, "to", asked.until),
                ],
                className="filters",
            ),
            html.Div(id=ids.SITE_RASTER_WORDS, className="says", role="status"),
            html.Div(
                id=ids.SITE_FAMILIES,
                role="group",
                className="legend legend-choices",
                **{"aria-label": "Alarms shown, by what explains them best"},
            ),
            html.Div(
                dcc.Graph(
                    id=ids.SITE_RASTER,
                    figure=style.blank(),
                    config=style.config("nights", bar=not narrow),
                    responsive=True,
                ),
                role="group",
                className="raster",
                **{
                    "aria-label": "Alarms by night and hour over the armed time. "
                    "The table below tells the same."
                },
            ),
            html.Div(id=ids.SITE_SHADES),
            parts.more("The same as a table", html.Div(id=ids.SITE_RASTER_TABLE)),
        ],
        className="nights",
    )


def legend(picture: Picture, asked: Site) -> list[html.A]:
    """Draw the legend as choices: mark, word and how many; each link shows or hides one.

    Parameters
    ----------
    picture : Picture
        With the counts of all families.
    asked : question.Site
        With the families that are left out.

    Returns
    -------
    list of dash.html.A
        Families that this time holds, life safety always among them.
    """
    return [
        parts.link(
            [
                parts.mark(family),
                f" {family.word} ",
                html.Span(words.number(picture.counts[family.key]), className="chip-count"),
                html.Span(
                    ", hidden; show" if family.key in asked.without else ", shown; hide",
                    className="unseen",
                ),
            ],
            replace(asked, without=asked.without ^ {family.key}, page=1),
            stay=True,
            className="legend-choice off" if family.key in asked.without else "legend-choice",
        )
        for family in FAMILIES
        if picture.counts[family.key] or family is LIFE_SAFETY
    ]


def _date(key: str, label: str, value: date | None) -> html.Div:
    return html.Div(
        [
            html.Label(label, htmlFor=key),
            dcc.Input(
                id=key,
                type="text",
                value=value.isoformat() if value else "",
                placeholder="YYYY-MM-DD",
                pattern=r"\d{4}-\d{2}-\d{2}",
                debounce=0.6,
                autoComplete="off",
                className="field date",
                maxLength=10,
            ),
        ],
        className="labelled",
    )


def shades(picture: Picture) -> list[Any]:
    """Draw the legend of what lies under the marks: only what this time holds.

    Parameters
    ----------
    picture : Picture
        What is shown.

    Returns
    -------
    list of dash components
        And a word on what is not known.
    """
    held = set(picture.spans["what"])
    items = [
        html.Li([html.Span(className=f"shade shade-{key}", **{"aria-hidden": "true"}), f" {text}"])
        for key, text in SHADES
        if key in held
    ]
    if picture.sun.height:
        items += [
            html.Li([html.Span(className=f"sun {look}", **{"aria-hidden": "true"}), f" {text}"])
            for look, text in (("sun-set", "sunset"), ("sun-rise", "sunrise"))
        ]
    unknown = []
    if not held & {"armed", "part"}:
        unknown.append("Arming is not recorded in this time.")
    if not picture.sun.height:
        unknown.append("Where the site stands is not known, so no sunset and sunrise are drawn.")
    return [
        html.Ul(items, className="legend") if items else None,
        *[html.P(text, className="hint") for text in unknown],
    ]


def spans(picture: Picture, asked: Site) -> list[Any]:
    """Draw links to usual stretches of the log.

    Parameters
    ----------
    picture : Picture
        What is shown now.
    asked : question.Site
        What is asked now; the rest of it stays.

    Returns
    -------
    list of dash components
        The one that is shown is marked as such.
    """
    first, last = picture.log
    shown = (picture.first, picture.last)
    wishes = [
        (words.count(nights, "night"), (max(first, last - timedelta(days=nights - 1)), last))
        for nights in (30, 90)
        if (last - first).days >= nights
    ]
    year = (max(first, last - timedelta(days=USUAL_NIGHTS - 1)), last)
    if year != picture.log:
        wishes.append(("a year", year))
    wishes.append(("the whole log", picture.log))
    links = []
    for text, (since, until) in wishes:
        # Without an end the address stays true when the log grows.
        usual = since == max(first, last - timedelta(days=USUAL_NIGHTS - 1))
        there = replace(
            asked, since=None if usual else since, until=None, around=None, finding=None, page=1
        )
        here = parts.current(here=(since, until) == shown)
        links.append(parts.link(text, there, stay=True, className="chip", **here))
    return links


def says(picture: Picture, asked: Site) -> list[Any]:
    """Say in a sentence what the picture shows.

    Parameters
    ----------
    picture : Picture
        What is shown.
    asked : question.Site
        The site or the point.

    Returns
    -------
    list of dash components
        Counts with their armed hours; a note where marks were brought together.
    """
    ordinary = {k: n for k, n in picture.counts.items() if k != LIFE_SAFETY.key}
    total, life = sum(ordinary.values()), picture.counts[LIFE_SAFETY.key]
    nights = (picture.last - picture.first).days + 1
    start = words.count(total, "alarm")
    if isinstance(asked, Point):
        start += f" of point {asked.zone}"
    if isinstance(asked, Point) and not total:
        # Over which armed hours does not matter to what watches at all hours.
        calls = words.count(life, "life-safety alarm") if life else "No alarm"
        real = ", each treated as real until examined" if life else ""
        return [
            html.P(
                f"{calls} of point {asked.zone}, over {words.count(nights, 'night')} from "
                f"{words.day(picture.first)} to {words.day(picture.last)}{real}."
            )
        ]
    armed = (
        f"in {words.number(picture.armed_hours)} armed hours"
        if picture.armed_hours
        else "with no armed time recorded"
    )
    sentence = (
        f"{start} {armed}, over {words.count(nights, 'night')} from {words.day(picture.first)} to "
        f"{words.day(picture.last)}."
    )
    told: list[Any] = [html.P(sentence)]
    leading = sorted(ordinary.items(), key=lambda one: -one[1])[:2]
    if total:
        shares = " and ".join(f"{words.number(n)} by {BY_KEY[k].word}" for k, n in leading if n)
        told.append(html.P(f"Explained best: {shares.replace('by not', 'are not')}."))
    if life:
        told.append(
            html.P(
                f"{words.count(life, 'life-safety alarm')} besides, counted apart: treated as real "
                "until examined."
            )
        )
    if picture.binned:
        told.append(
            html.P(
                f"{words.number(picture.marks.height)} alarms are too many for single marks: each "
                "stands for several, the larger the more. Choose a shorter time to see them "
                "one by one."
            )
        )
    return told


def table(picture: Picture, asked: Site) -> list[Any]:
    """Draw the alarms of the picture as a table, a page at a time, the newest first.

    Parameters
    ----------
    picture : Picture
        What is shown.
    asked : question.Site
        With the page of the table.

    Returns
    -------
    list of dash components
        Table, links to its other pages, and the file to take away.
    """
    marks = picture.marks.sort("local", "id", descending=True)
    if marks.is_empty():
        return [html.P("No alarm in this time.")]
    pages = -(-marks.height // PAGE_ROWS)
    page = min(asked.page, pages)
    rows = [
        (
            parts.link(words.moment(one["local"]), _at(asked, one["id"], page), stay=True),
            one["zone"] or "–",
            one["zone_name"] or "–",
            words.kind(one["kind"]),
            parts.named_mark(one["family"]),
            words.confidence(one["probability"]) if one["probability"] is not None else "–",
        )
        for one in marks[(page - 1) * PAGE_ROWS : page * PAGE_ROWS].iter_rows(named=True)
    ]
    href = question.path(asked) + "/alarms.csv" + question.search(asked)
    return [
        parts.table(
            ("When", "Point", "Name", "What", "Explained best by", "How sure"),
            rows,
            label="Alarms in this time, the newest first",
        ),
        html.Div(
            [
                parts.link("Newer", _at(asked, asked.around, page - 1), stay=True)
                if page > 1
                else html.Span("Newer", className="off"),
                html.Span(f"page {page} of {words.number(pages)}"),
                parts.link("Older", _at(asked, asked.around, page + 1), stay=True)
                if page < pages
                else html.Span("Older", className="off"),
                html.A("Take these alarms away as CSV", href=href, download="alarms.csv"),
            ],
            className="pager",
        ),
    ]


def _at(asked: Site, around: int | None, page: int) -> Site:
    return replace(asked, around=around, finding=None, page=page)
