"""The page that answers how a place is used; figures about codes, never proof about people."""

from collections.abc import Sequence
from typing import Any

import plotly.graph_objects as go
from dash import dcc, html

from dashboards import ids, question, usage, words
from dashboards.figures import style
from dashboards.figures.usage import height
from dashboards.layouts import parts
from dashboards.question import People, Site
from dashboards.usage import PARTS, Used
from eventlab.lab import PeopleView

Drawn = dict[str, tuple[go.Figure, int]]
"""The figure of each chart that has one, and how many rows it has."""

MOST_EXCEPTIONS = 20

_KEYS: dict[str, tuple[tuple[str, str], ...]] = {
    "hours": (("opens", "usual opening"), ("dot", "usual closing"),
              ("band", "9 in 10 lie between")),
    "entries": (("ring", "no alarm"), ("late", "late: an alarm"),
                ("overall", "the entry delay")),
    "doors": (("bar", "no alarm"), ("striped", "late: an alarm")),
    "people": (("dot", "to be expected in 100 entries and closings"),
               ("reach", "where the true rate lies, 95 times in 100"), ("plain", "as counted")),
    "bypasses": (("bar", "lifted"), ("hatched", "not shown lifted")),
}  # fmt: skip


def draw(view: PeopleView, asked: People) -> html.Div:
    """Draw the page.

    Parameters
    ----------
    view : PeopleView
        What the lab tells of how the site is used.
    asked : question.People
        What the address asks.

    Returns
    -------
    dash.html.Div
        The page; the charts come by a callback, since they hang on the light.
    """
    return html.Div(
        [
            html.Div(
                [
                    html.P(parts.link(["All of ", view.site_name], Site(asked.site)),
                           className="back"),
                    html.H1(
                        ["How is ", html.Span(view.site_name, className="name"), " used?"],
                        tabIndex=-1,
                    ),
                    html.P(view.covers, className="lead"),
                    html.P(html.Strong(view.heading), className="hint"),
                ],
                className="page-head",
            ),
            html.Div(
                parts.skeleton("Entries and closings are being read."),
                id=ids.PEOPLE_CHARTS,
                className="use-parts",
            ),
            html.Section([html.H2("Did training help?"), *_training(view, asked)]),
        ],
        className="page",
    )  # fmt: skip


def sections(used: Used, drawn: Drawn, asked: People) -> list[Any]:
    """Draw the parts of the page, each with its sentence, chart and table.

    Parameters
    ----------
    used : Used
        What is shown.
    drawn : dict
        By chart.
    asked : question.People
        The page they stand on.

    Returns
    -------
    list of dash components
        What the log cannot show is told in words.
    """
    view, says = used.view, used.view.says
    told = view.questions
    asks = [
        html.H3("Questions about codes"),
        html.Ul([html.Li(one) for one in told], className="advice"),
    ]
    return [
        html.Section([html.H2("Opening and closing"), *_hours(used, drawn, asked)]),
        html.Section(
            [
                html.H2("Coming in"),
                _charts(
                    [
                        _part("entries", says["entry"], used, drawn, asked),
                        _part("doors", says["doors"], used, drawn, asked),
                    ]
                ),
                html.P(says["keypads"], className="says"),
            ]
        ),
        html.Section([html.H2("Leaving"), html.P(says["exit"], className="says")]),
        html.Section(
            [
                html.H2("By code"),
                _charts([_part("people", says["people"], used, drawn, asked)]),
                html.P(says["codes"], className="says"),
                *(asks if told else []),
            ]
        ),
        html.Section(
            [
                html.H2("What is left out"),
                _charts([_part("bypasses", says["bypasses"], used, drawn, asked)]),
                html.P(says["areas"], className="says"),
            ]
        ),
    ]


def _charts(told: Sequence[Any]) -> html.Div:
    return html.Div(told, className="use-charts")


def _part(key: str, says: str, used: Used, drawn: Drawn, asked: People) -> html.Article:
    part, frame = PARTS[key], PARTS[key].frame(used)
    body: list[Any] = [html.H3(part.title), html.P(says, className="chart-says")]
    if key in drawn:
        figure, rows = drawn[key]
        config = style.config(f"use-{key}")
        body += [
            _key(key, used),
            html.Div(
                dcc.Graph(
                    figure=figure,
                    config={**config, "modeBarButtons": [["toImage"]]},
                    responsive=True,
                ),
                role="figure",
                className="use-frame",
                style={"height": f"{height(rows)}px"},
                **{"aria-label": f"{part.title}. {says} The table below tells the same."},
            ),
        ]
    if frame.height:
        body.append(_behind(key, frame, asked))
    return html.Article(body, className="chart")


def _behind(key: str, frame: Any, asked: People) -> html.Details:
    part = PARTS[key]
    left = frame.height - usage.MOST_ROWS
    href = f"{question.path(People(asked.site))}/{key}.csv"
    return parts.more(
        "As a table",
        html.Div(
            [
                parts.table(
                    part.heads,
                    [part.row(one) for one in frame.head(usage.MOST_ROWS).iter_rows(named=True)],
                    label=part.title,
                    numeric=part.numeric,
                ),
                html.P(f"{words.count(left, 'more row')} in the file.", className="hint")
                if left > 0
                else None,
                html.P(
                    html.A("Take this table away as CSV", href=href, download=f"{key}.csv"),
                    className="pager",
                ),
            ]
        ),
    )


def _key(key: str, used: Used) -> html.Ul:
    keys = _KEYS[key]
    if key == "entries" and not usage.entries_drawn(used.view.entries)[1]:
        keys = _KEYS[key][1:2]
    return html.Ul(
        [
            html.Li([html.Span(className=f"key-{name}", **{"aria-hidden": "true"}), f" {text}"])
            for name, text in keys
        ],
        className="legend",
    )


def _hours(used: Used, drawn: Drawn, asked: People) -> list[Any]:
    hours = used.hours
    if not hours.recorded:
        said = "Openings and closings: not recorded. Nothing is said about usual hours."
        return [html.P(said, className="says"), *_notes(hours.notes)]
    if hours.bands.is_empty():
        said = hours.sentence or "Usual hours: not known from this log."
        return [html.P(said, className="says"), *_notes(hours.notes)]
    told: list[Any] = [_charts([_part("hours", hours.sentence, used, drawn, asked)])]
    some = hours.exceptions
    if some.height:
        told += [
            html.H3("Out of the usual"),
            parts.table(
                ("When", "What", "Who", "Usually", "How unusual"),
                [
                    (
                        words.moment(one["local"]) if one["local"] else words.day(one["date"]),
                        one["what"].replace("-", " "),
                        one["who"] or "–",
                        one["usual"] or "closed",
                        one["how_unusual"] or "–",
                    )
                    for one in some.head(MOST_EXCEPTIONS).iter_rows(named=True)
                ],
                label="Openings and closings out of the usual, the newest first",
            ),
        ]
        left = some.height - MOST_EXCEPTIONS
        if left > 0:
            told.append(html.P(f"{words.count(left, 'earlier one')} not shown.", className="hint"))
    return [*told, *_notes(hours.notes)]


def _notes(notes: Sequence[str]) -> list[Any]:
    return [html.P(one, className="hint") for one in notes]


def _training(view: PeopleView, asked: People) -> list[Any]:
    told = [
        html.P(
            "Late entries and closings before a date are set against those after it, each for "
            "the times that people came and went.",
            className="hint",
        ),
        html.Form(
            [
                html.Label("trained on", htmlFor="trained-at"),
                dcc.Input(
                    id="trained-at",
                    name="at",
                    type="text",
                    value=asked.at.isoformat() if asked.at else "",
                    placeholder="YYYY-MM-DD",
                    pattern=r"\d{4}-\d{2}-\d{2}",
                    autoComplete="off",
                    className="field date",
                    maxLength=10,
                ),
                html.Button("Compare", type="submit", className="button"),
            ],
            action=question.path(People(asked.site)),
            method="get",
            className="labelled use-training",
        ),
    ]
    if view.trained:
        told.append(html.Ul([html.Li(one) for one in view.trained], className="advice"))
    return told
