"""The page that answers whether something worked."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import plotly.graph_objects as go
import polars as pl
from dash import dcc, html

from dashboards import ids, words
from dashboards.figures import style
from dashboards.layouts import parts
from dashboards.proving import WINDOW, Answer
from dashboards.question import Proof, Site
from eventlab.schema import Verdict

if TYPE_CHECKING:
    from eventlab.lab import SiteView

MOST_CHIPS = 10
"""Points that stand as choices; the others open on demand."""

LOOKS = {
    Verdict.BETTER: "better",
    Verdict.WORSE: "worse",
    Verdict.OUT: "missing",
    Verdict.QUIET: "unknown",
    Verdict.UNPROVEN: "unknown",
    Verdict.OPEN: "unknown",
}


def draw(view: "SiteView", asked: Proof) -> html.Div:
    """Draw the page; choices and answer come by callback.

    Parameters
    ----------
    view : SiteView
        What the lab tells of the site.
    asked : question.Proof
        What the address asks.

    Returns
    -------
    dash.html.Div
        The page.
    """
    return html.Div(
        [
            html.Div(
                [
                    html.P(parts.link(view.name, Site(view.site)), className="back"),
                    html.H1(
                        ["Did it work at ", html.Span(view.name, className="name"), "?"],
                        tabIndex=-1,
                    ),
                    html.P(
                        "Choose a visit or a date, and a point: the nights with an alarm before "
                        "it are set against those after it, each for the time in which the point "
                        "could alarm.",
                        className="lead",
                    ),
                ],
                className="page-head",
            ),
            html.Section(
                [
                    html.H2("Before and after what?", className="unseen"),
                    html.Div(
                        parts.skeleton("Visits are being read.", lines=2), id=ids.PROOF_CHOICES
                    ),
                    html.Div(
                        [
                            html.Label("any date", htmlFor=ids.PROOF_DATE),
                            dcc.Input(
                                id=ids.PROOF_DATE,
                                type="text",
                                value=asked.at.isoformat() if asked.at else "",
                                placeholder="YYYY-MM-DD",
                                pattern=r"\d{4}-\d{2}-\d{2}",
                                debounce=0.6,
                                autoComplete="off",
                                className="field date",
                                maxLength=10,
                            ),
                        ],
                        className="labelled proof-date",
                    ),
                ],
                className="proof-asked",
            ),
            html.Section(
                parts.skeleton("The answer is being worked out."),
                id=ids.PROOF_ANSWER,
                **{"aria-live": "polite"},
            ),
        ],
        className="page",
    )


def choices(answer: Answer, points: pl.DataFrame) -> list[Any]:
    """Draw visits and points as links.

    Parameters
    ----------
    answer : Answer
        With the visits, and what is shown.
    points : polars.DataFrame
        ``zone``, ``name``, ``alarms``, ``life_safety`` of the site.

    Returns
    -------
    list of dash components
        What is shown is marked as such.
    """
    asked = answer.asked
    told: list[Any] = []
    if answer.visits.height:
        visits = [
            parts.link(
                [words.day(one["day"]), html.Span(one["work"] or "", className="chip-count")],
                Proof(asked.site, visit=one["visit"], zone=asked.zone),
                stay=True,
                className="chip",
                **parts.current(here=one["visit"] == asked.visit),
            )
            for one in answer.visits.sort("visit", descending=True).to_dicts()
        ]
        told.append(_named("Visits on file", visits))
    else:
        told.append(html.P("No visit to this site is on file.", className="hint"))
    if answer.first is not None:
        told.append(_named("Of what", _points(answer, points)))
    return told


def _named(name: str, links: Sequence[Any]) -> html.Div:
    return html.Div(
        [html.P(name, className="choice-name"), html.Div(links, className="chips")],
        role="group",
        className="proof-choices",
        **{"aria-label": name},
    )


def _points(answer: Answer, points: pl.DataFrame) -> list[Any]:
    asked, first = answer.asked, answer.first or {}
    shown = first.get("zone")
    listed = points.filter(pl.col("zone").is_not_null()).to_dicts()
    alarmed = [one for one in listed if one["alarms"] or one["zone"] == shown]
    rest = [one for one in listed if one not in alarmed] + alarmed[MOST_CHIPS:]

    def chip(zone: str | None, text: str) -> html.A:
        here = parts.current(here=zone == shown)
        there = replace(asked, zone=zone)
        return parts.link(text, there, stay=True, className="chip", **here)

    # A visit that names its points is about these.
    own = answer.visits.filter(pl.col("visit").eq_missing(pl.lit(asked.visit, pl.Int64)))["zones"]
    named = [] if own.drop_nulls().len() else [chip(None, "the whole site")]
    chips = named + [chip(one["zone"], _name(one)) for one in alarmed[:MOST_CHIPS]]
    if rest:
        more = [chip(one["zone"], _name(one)) for one in rest]
        chips.append(
            parts.more(f"{words.count(len(rest), 'more point')}", html.Div(more, className="chips"))
        )
    return chips


def _name(one: dict[str, Any]) -> str:
    return f"{one['zone']} {one['name']}" if one.get("name") else str(one["zone"])


def answered(answer: Answer, figure: go.Figure | None) -> list[Any]:
    """Draw what a proof comes to.

    Parameters
    ----------
    answer : Answer
        With the row that was asked for.
    figure : plotly.graph_objects.Figure or None
        Its picture; None where nothing is counted.

    Returns
    -------
    list of dash components
        Verdict, sentence, what would settle it, picture, figures, caution.
    """
    first = answer.first
    if first is None:
        return [
            parts.empty(
                "Nothing to compare yet",
                "Give a date above, or take a file of visits in on the page of logs: site, time, "
                "points and what was done.",
            )
        ]
    told: list[Any] = [
        html.P(_verdict(first), className="verdict"),
        html.H2(first["statement"].replace(" h)", "\u202fh)"), className="proof-sentence"),
        html.P(first["verdict_told"], className="proof-reason"),
    ]
    told += [html.P(first[name]) for name in ("settles", "regression") if first[name]]
    lead = [html.Div(told, className="proof-words")]
    if figure is not None:
        lead.append(_picture(answer, figure))
    shown: list[Any] = [html.Div(lead, className="proof-lead")]
    if not first["life_safety"]:
        shown.append(_sides(first))
    if answer.others:
        shown.append(_others(answer))
    shown.append(html.P([html.Strong("Mind: "), first["caution"]], className="caution"))
    return shown


def _verdict(row: dict[str, Any]) -> html.Span:
    return parts.tag(LOOKS.get(row["verdict"], "stands"), row["verdict"])


def _picture(answer: Answer, figure: go.Figure) -> html.Figure:
    unit = "calendar days" if (answer.first or {})["basis"] == "calendar" else "nights at risk"
    rows = [
        (
            f"{words.day(one['since'])} to {words.day(one['until'])}",
            one["side"],
            words.number(one["nights"]),
            words.number(one["days"]),
            "too few nights" if one["rate"] is None else words.number(one["rate"], 1),
        )
        for one in answer.windows.to_dicts()
    ]
    return html.Figure(
        [
            html.Figcaption(
                f"Alarm nights in {WINDOW} {unit}, by windows of {WINDOW} nights back and forward "
                "from the date; dotted: the mean of either side."
            ),
            html.Div(
                dcc.Graph(figure=figure, config=style.config("proof", bar=False), responsive=True),
                role="img",
                className="proof-picture",
                **{"aria-label": "Alarm nights before and after. The table below tells the same."},
            ),
            parts.more(
                "The same as a table",
                parts.table(
                    ("From and to", "Side", "Nights", "Alarm nights", f"In {WINDOW} nights"),
                    rows,
                    label="Alarm nights by window",
                    numeric=(2, 3, 4),
                ),
            ),
        ],
        className="proof-figure",
    )


def _sides(row: dict[str, Any]) -> html.Div:
    def side(name: str) -> tuple[str, ...]:
        nights, days = row[f"{name}_nights"], row[f"{name}_days"]
        rate = words.number(WINDOW * days / nights, 1) if nights else "–"
        told = (days, row[f"{name}_alarms"], nights, row[f"{name}_hours"])
        return (name, *(words.number(one) for one in told), rate)

    return html.Div(
        [
            parts.table(
                ("Side", "Alarm nights", "Alarms", "Nights at risk", "Hours at risk",
                 f"Alarm nights in {WINDOW}"),
                (side("before"), side("after")),
                label="Before and after",
                numeric=(1, 2, 3, 4, 5),
            ),
            html.P(_chance(row), className="hint"),
        ],
        className="proof-sides",
    )  # fmt: skip


def _chance(row: dict[str, Any]) -> str:
    if row["p_exact"] is None:
        return "One side has no time at risk, so nothing can be compared."
    if not row["before_days"] + row["after_days"]:
        return "No alarm on either side: the chance of that, were nothing changed, is 1."
    low = words.number(row["ratio_low"], 2)
    high = "more" if row["ratio_high"] is None else words.number(row["ratio_high"], 2)
    ratio = "not known" if row["ratio"] is None else words.number(row["ratio"], 2)
    return (
        f"Rate after over rate before: {ratio}, in 95 of 100 cases between {low} and {high}. Were "
        f"nothing changed, so large a difference had a chance of {_small(row['p_exact'])} (exact), "
        f"{_small(row['p_mid'])} (mid-p), given the number of alarm nights."
    )


def _small(value: float) -> str:
    return "less than 0.0001" if value < 1e-4 else f"{value:.2g}"


def _others(answer: Answer) -> html.Div:
    rows = [
        (
            parts.link(one["zone"], replace(answer.asked, zone=one["zone"]), stay=True),
            one["subject"].partition("(")[2].rstrip(")") or "not named",
            _verdict(one),
            words.number(one["before_days"]) if one["before_days"] is not None else "not counted",
            words.number(one["after_days"]) if one["after_days"] is not None else "not counted",
            one["settles"] or "",
        )
        for one in answer.others
    ]
    return html.Div(
        [
            html.H3("Point by point"),
            parts.table(
                (
                    "Point",
                    "Name",
                    "It comes to",
                    "Alarm nights before",
                    "Alarm nights after",
                    "To settle it",
                ),
                rows,
                label="What the same date comes to for single points",
                numeric=(3, 4),
            ),
        ],
        className="proof-points",
    )
