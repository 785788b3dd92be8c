"""Findings as cards, and the events that prove them."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import plotly.graph_objects as go
import polars as pl
from dash import dcc, html

from dashboards import showing, words
from dashboards.figures import style
from dashboards.layouts import parts
from dashboards.question import Point, Site
from dashboards.showing import MOST_ROWS, Shown
from eventlab.schema import Pattern, Subject

FIRST_EVIDENCE = 5
"""Lines of evidence that stand on a card; more open on demand."""


Told = tuple[dict[str, Any], Shown | None, go.Figure | None]
"""A finding, its events where they are pictured, and the picture."""


def cards(shown: Sequence[Told], asked: Site, apart: frozenset[str] = frozenset()) -> list[Any]:
    """Draw the findings of a site in the order they were given.

    Parameters
    ----------
    shown : sequence of Told
        Each finding with its picture.
    asked : question.Site
        The page they stand on.
    apart : frozenset of str
        Numbers of points that restart with each area.

    Returns
    -------
    list of dash components
        A designed nothing where there are none.
    """
    if not shown:
        where = "on this point" if isinstance(asked, Point) else "at this site"
        return [
            html.P(
                f"No finding stands {where}. That says what its log can show, and no more.",
                className="says",
            )
        ]
    return [html.Ol([_card(*one, asked, apart) for one in shown], className="findings")]


def _card(
    finding: dict[str, Any],
    shown: Shown | None,
    figure: go.Figure | None,
    asked: Site,
    apart: frozenset[str],
) -> html.Li:
    there = replace(asked, around=None, finding=showing.key(finding), page=1)
    words_of: list[Any] = [
        html.P(
            [
                html.Span(words.pattern(finding["pattern"]), className="pattern"),
                html.Span(words.confidence(finding["confidence"]), className="sure"),
                parts.tag("stands", "still so") if finding["standing"] else None,
            ],
            className="card-head",
        ),
        html.H3(finding["statement"] or words.pattern(finding["pattern"])),
    ]
    advice = finding["advice"] or []
    if advice:
        words_of += [
            html.H4("What to try"),
            html.Ul([html.Li(_led(one)) for one in advice], className="advice"),
        ]
    if finding["caution"]:
        words_of.append(html.P([html.Strong("Mind: "), finding["caution"]], className="caution"))
    evidence = finding["evidence"] or []
    proof: list[Any] = []
    if shown is not None and figure is not None:
        proof.append(_picture(shown, figure))
    if evidence:
        proof.append(_evidence(evidence[:FIRST_EVIDENCE]))
    if len(evidence) > FIRST_EVIDENCE:
        rest = evidence[FIRST_EVIDENCE:]
        proof.append(parts.more(f"{words.number(len(rest))} more", _evidence(rest)))
    ways = [parts.link("Show me the events", there, stay=True, className="button button-quiet")]
    if finding["subject_kind"] == Subject.ZONE and not isinstance(asked, Point):
        ways.append(parts.link(f"Why point {finding['subject']}?", _point(asked, finding, apart)))
    proof.append(html.P(ways, className="ways"))
    name = "finding finding-first" if _first(finding["pattern"]) else "finding"
    return html.Li(
        [html.Div(words_of, className="finding-words"), html.Div(proof, className="proof")],
        className=name,
    )


def _point(asked: Site, finding: dict[str, Any], apart: frozenset[str]) -> Point:
    zone = finding["subject"]
    return Point(asked.site, zone=zone, within=finding["area"] if zone in apart else None)


def _led(advice: str) -> list[Any]:
    # Advice begins with its place in the order ("First: ..."), which leads the eye.
    lead, colon, rest = advice.partition(": ")
    return [html.Strong(lead + colon), rest] if colon and len(lead) < 32 else [advice]


def _evidence(evidence: Sequence[dict[str, str | None]]) -> html.Dl:
    return html.Dl(
        [
            html.Div([html.Dt(one["what"]), html.Dd([one["figure"], _basis(one["basis"])])])
            for one in evidence
        ],
        className="evidence",
    )


def _first(pattern: str) -> bool:
    return pattern in {Pattern.LEFT_ON_TEST, Pattern.POSSIBLE_INTRUSION}


def _basis(basis: str | None) -> html.Span | None:
    return html.Span(f" {basis}", className="basis") if basis else None


def _picture(shown: Shown, figure: go.Figure) -> html.Figure:
    events = words.count(shown.events.height, "event")
    held = "; hatched while it lasted" if shown.held.height else ""
    said = f"{events} by night and hour, over the armed time{held}."
    return html.Figure(
        [
            html.Div(
                dcc.Graph(
                    figure=figure,
                    config=style.config("finding", bar=False) | {"staticPlot": True},
                    responsive=True,
                ),
                role="img",
                className="small",
                **{"aria-label": said},
            ),
            html.Figcaption(said),
        ]
    )


def events(title: str, events: pl.DataFrame, back: Site, *, marked: int | None = None) -> list[Any]:
    """Draw events as a table in the site's own wall clock.

    Parameters
    ----------
    title : str
        What they are.
    events : polars.DataFrame
        As ``showing.wall_clock`` gives them.
    back : question.Site
        The page without them.
    marked : int, optional
        Row of the table that is the event in question.

    Returns
    -------
    list of dash components
        At most ``MOST_ROWS`` rows, and how many more there are.
    """
    head = html.Div(
        [
            html.H2(title, tabIndex=-1, id="events-title"),
            parts.link("Close", back, stay=True, className="button button-quiet"),
        ],
        className="section-head",
    )
    if events.is_empty():
        return [head, html.P("The log holds no such event in this time.")]
    rows = [
        (
            html.Span(words.moment(one["local"]), className="marked" if i == marked else None),
            words.kind(one["kind"], one["phase"]),
            one["zone"] or "–",
            one["person"] or "–",
            one["witness"] or "–",
            one["text"] or one["code"] or one["raw"] or "–",
            "this alarm" if i == marked else words.timing(one["timing"]),
        )
        for i, one in enumerate(events.head(MOST_ROWS).iter_rows(named=True))
    ]
    told: list[Any] = [
        head,
        parts.table(
            ("When (site's own clock)", "What", "Point", "User", "Log of the", "As logged", "Note"),
            rows,
            label=title,
        ),
    ]
    left = events.height - MOST_ROWS
    if left > 0:
        told.append(html.P(f"{words.count(left, 'more event')} not shown.", className="hint"))
    return told
