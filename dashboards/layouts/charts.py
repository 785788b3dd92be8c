"""A point's alarm days against each driver: sentence, chart, table, file to take away."""

from collections.abc import Sequence
from typing import Any

import plotly.graph_objects as go
from dash import dcc, html

from dashboards import question, rates, words
from dashboards.figures import style
from dashboards.layouts import parts
from dashboards.question import Point
from eventlab.lab import PointView, Profile

FEW = 4
"""With fewer alarm days the charts stand folded: they can prove nothing."""

Drawn = dict[str, go.Figure]
"""The figure of each chart that has one."""


def section(view: PointView, drawn: Drawn, asked: Point) -> list[Any]:
    """Draw all charts of a point, what leads first.

    Parameters
    ----------
    view : PointView
        With the sentence of each chart.
    drawn : dict of str to plotly.graph_objects.Figure
        By chart.
    asked : question.Point
        The page they stand on.

    Returns
    -------
    list of dash components
        Charts with nothing to show are told in words.
    """
    profile = view.profile
    if profile is None:
        return []
    shown = [key for key in view.says if key in drawn]
    by_driver = [key for key in shown if key != "gaps"]
    told: list[Any] = []
    if by_driver:
        told += [_how(view.of_hours), _key(view.of_hours)]
    if by_driver and profile.alarms < FEW:
        said = (
            f"{words.count(profile.alarms, 'alarm day') if profile.alarms else 'No alarm day'}: "
            f"it takes {FEW} to say anything of what they follow."
        )
        charts = html.Div(
            [_chart(key, view, profile, drawn[key], asked, first=False) for key in by_driver],
            className="charts",
        )
        told = [
            html.P(said, className="says"),
            parts.more("Show the armed hours all the same", html.Div([*told, charts])),
        ]
        rest = [key for key in shown if key == "gaps"]
    else:
        rest = shown
    told.append(
        html.Div(
            [
                _chart(key, view, profile, drawn[key], asked, first=number == 0 and key != "gaps")
                for number, key in enumerate(rest)
            ],
            className="charts",
        )
    )
    return [html.Div([*told, _untold(view, drawn)], className="chart-list")]


def _how(of_hours: str) -> html.P:
    return html.P(
        "One alarm of each day is counted, so that a bad night weighs no more than a quiet one, "
        f"and held against the {of_hours} spent in each condition. People coming or going are "
        "left out.",
        className="hint",
    )


def _key(of_hours: str) -> html.Ul:
    items = (
        ("rate", "alarm days in 100 hours"),
        ("reach", "where the true rate lies, 95 times in 100"),
        ("overall", "rate over all hours"),
        ("hours", f"{of_hours} behind it"),
    )
    return _legend(items)


def _legend(items: Sequence[tuple[str, str]]) -> html.Ul:
    return html.Ul(
        [
            html.Li([html.Span(className=f"key-{key}", **{"aria-hidden": "true"}), f" {text}"])
            for key, text in items
        ],
        className="legend",
    )


def _sky_key(profile: Profile, of_hours: str) -> html.Ul:
    items = [
        ("sky", f"{of_hours} while the sun stood there, the stronger the more"),
        ("day", "alarm days, the larger the more"),
    ]
    if profile.facing is not None:
        items.append(("faces", "which way the point faces; dotted: 60° to either side"))
    return _legend(items)


def _chart(
    key: str, view: PointView, profile: Profile, figure: go.Figure, asked: Point, *, first: bool
) -> html.Article:
    chart = rates.CHARTS[key]
    href = f"{question.path(asked)}/rates/{key}.csv"
    if asked.within:
        href += question.search(Point(asked.site, zone=asked.zone, within=asked.within))
    says = view.says[key]
    return html.Article(
        [
            html.H3(chart.title),
            html.P(says, className="chart-says"),
            _sky_key(profile, view.of_hours) if key == "sun" else None,
            html.Div(
                dcc.Graph(
                    figure=figure, config=style.config(f"point-{key}", bar=False), responsive=True
                ),
                role="img",
                className="chart-frame chart-sky" if key == "sun" else "chart-frame",
                **{
                    "aria-label": f"{chart.title}. {view.says[key]} The table below tells the same."
                },
            ),
            parts.more(
                "As a table",
                html.Div(
                    [
                        _table(profile, key),
                        html.P(
                            html.A("Take this table away as CSV", href=href, download=f"{key}.csv"),
                            className="pager",
                        ),
                    ]
                ),
            ),
        ],
        className="chart chart-first" if first else "chart",
    )


def _table(profile: Profile, key: str) -> html.Div:
    chart = rates.CHARTS[key]
    if key == "gaps":
        return parts.table(
            (chart.column, "How often"),
            [
                (one["name"], words.number(one["many"]))
                for one in rates.gaps_named(profile).iter_rows(named=True)
            ],
            label=chart.title,
            numeric=(1,),
        )
    return parts.table(
        (chart.column, "Alarm days", "Hours at risk", "In 100 hours"),
        [
            (
                one["name"],
                words.number(one["alarms"]),
                words.number(one["hours"], 1 if one["hours"] < 10 else 0),
                rates.rate(one),
            )
            for one in rates.rows(profile, key)
        ],
        label=chart.title,
        numeric=(1, 2, 3),
    )


def _untold(view: PointView, drawn: Drawn) -> Any:
    """Say of each chart that is not there why; those of one reason together."""
    why: dict[str, list[str]] = {}
    for key, said in view.says.items():
        if key not in drawn:
            why.setdefault(said, []).append(rates.CHARTS[key].title)
    if not why:
        return None
    return html.Div(
        [
            html.H3("Not shown here"),
            parts.facts([(", ".join(titles), said) for said, titles in why.items()], name="untold"),
        ],
        className="chart-none",
    )
