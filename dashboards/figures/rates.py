"""A rate against one driver: bars with their intervals, and below them the hours behind each."""

from typing import Any

import plotly.graph_objects as go
import polars as pl

from dashboards import rates
from dashboards.figures import style
from dashboards.figures.nights import HOUR_WORDS
from dashboards.palette import TONES, Theme
from dashboards.rates import DAYS
from dashboards.words import MONTHS, count, number

_APART = 0.5
"""How far what is not told stands from the rest [bins]."""
_ROOM = 1.18
_CLOCK_TICKS = 3
_SPLIT = (0.27, 0.37)
"""Where the hours end and the rates begin, of the height."""


def draw(
    bins: pl.DataFrame,
    driver: str,
    *,
    theme: Theme,
    overall: float | None,
    of_hours: str = "armed hours",
    narrow: bool = False,
) -> go.Figure:
    """Draw the rate in each bin of one driver.

    Parameters
    ----------
    bins : polars.DataFrame
        As ``rates.named`` gives them.
    driver : str
        Which driver.
    theme : Theme
        Scheme of light.
    overall : float or None
        The rate over all hours, per 100 hours.
    of_hours : str
        What the hours are.
    narrow : bool
        Small screen: fewer words under the axis.

    Returns
    -------
    plotly.graph_objects.Figure
        Intervals that reach out of the picture are cut at its edge, the table tells them whole.
    """
    tones = TONES[theme]
    told = bins["told"].to_list()
    x = [place + (0 if known else _APART) for place, known in enumerate(told)]
    top = _top(bins, overall)
    rate = bins["rate"].fill_null(0)
    reach = bins["rate_high"].fill_null(0).clip(upper_bound=top * 2)
    says = [_say(row, of_hours) for row in bins.iter_rows(named=True)]
    fill = [tones.accent if known else tones.control for known in told]
    bars = go.Bar(
        x=x,
        y=rate.to_numpy(),
        width=0.72,
        marker={"color": fill, "line": {"width": 0}},
        error_y={
            "type": "data",
            "symmetric": False,
            "array": (reach - rate).to_numpy(),
            "arrayminus": (rate - bins["rate_low"].fill_null(0)).to_numpy(),
            "color": tones.ink,
            "thickness": 1.2,
            "width": 2,
        },
        text=says,
        textposition="none",
        hovertemplate="%{text}<extra></extra>",
        name="rate",
    )
    behind = go.Bar(
        x=x,
        y=bins["hours"].to_numpy(),
        width=0.72,
        yaxis="y2",
        marker={"color": tones.armed, "line": {"width": 1, "color": tones.control}},
        text=says,
        textposition="none",
        hovertemplate="%{text}<extra></extra>",
        name="hours",
    )
    shapes: list[dict[str, Any]] = []
    if overall:
        line = {"color": tones.ink, "width": 1.2, "dash": "dash"}
        shapes.append({"type": "line", "xref": "paper", "x0": 0, "x1": 1,
                       "y0": overall, "y1": overall, "line": line})  # fmt: skip
    places, texts = _ticks(bins, driver, narrow=narrow)
    if not all(told):
        places, texts = [*places, x[-1]], [*texts, "not<br>told"]
    return go.Figure(
        data=[bars, behind],
        layout=style.layout(
            theme,
            margin={"l": 44, "r": 6, "t": 24, "b": 46 if rates.CHARTS[driver].unit else 30},
            bargap=0.2,
            hovermode="closest",
            dragmode=False,
            font={"family": style.FONT, "size": 12, "color": tones.quiet},
            shapes=shapes,
            annotations=[
                _heading("alarm days in 100 h", 1.0, theme),
                _heading(of_hours, _SPLIT[0], theme),
            ],
            xaxis=style.axis(
                theme,
                range=[-0.6, x[-1] + 0.6 if x else 1],
                showgrid=False,
                tickmode="array",
                tickvals=places,
                ticktext=texts,
                tickangle=0,
                fixedrange=True,
                anchor="y2",
                title={
                    "text": rates.CHARTS[driver].unit,
                    "standoff": 6,
                    "font": {"family": style.FONT, "size": 12, "color": tones.quiet},
                },
            ),
            yaxis=style.axis(
                theme,
                domain=[_SPLIT[1], 1],
                range=[0, top],
                nticks=4,
                rangemode="tozero",
                fixedrange=True,
                showline=False,
            ),
            yaxis2=style.axis(
                theme,
                domain=[0, _SPLIT[0] - 0.07],
                nticks=3,
                rangemode="tozero",
                fixedrange=True,
                anchor="x",
                tickformat="~s",
            ),
        ),
    )


def gaps(table: pl.DataFrame, *, theme: Theme, narrow: bool = False) -> go.Figure:
    """Draw how often an alarm followed the one before after how long.

    Parameters
    ----------
    table : polars.DataFrame
        As ``rates.gaps_named`` gives it.
    theme : Theme
        Scheme of light.
    narrow : bool
        Small screen: every second edge is named.

    Returns
    -------
    plotly.graph_objects.Figure
        Bars of equal width over lengths that grow about three times each.
    """
    tones = TONES[theme]
    edges = table["low_s"].to_list()
    step = 2 if narrow or len(edges) > 9 else 1
    places = [place - 0.5 for place in range(len(edges))][1::step]
    says = [
        f"<b>{row['name']}</b><br>{count(row['many'], 'gap')}"
        for row in table.iter_rows(named=True)
    ]
    return go.Figure(
        data=[
            go.Bar(
                x=list(range(len(edges))),
                y=table["many"].to_numpy(),
                width=0.86,
                marker={"color": tones.accent, "line": {"width": 0}},
                text=says,
                textposition="none",
                hovertemplate="%{text}<extra></extra>",
                name="gaps",
            )
        ],
        layout=style.layout(
            theme,
            margin={"l": 44, "r": 6, "t": 24, "b": 30},
            hovermode="closest",
            dragmode=False,
            font={"family": style.FONT, "size": 12, "color": tones.quiet},
            annotations=[_heading("gaps", 1.0, theme)],
            xaxis=style.axis(
                theme,
                range=[-0.6, len(edges) - 0.4],
                showgrid=False,
                tickmode="array",
                tickvals=places,
                ticktext=[rates.seconds(edge) for edge in edges[1::step]],
                tickangle=0,
                fixedrange=True,
            ),
            yaxis=style.axis(theme, nticks=4, rangemode="tozero", fixedrange=True),
        ),
    )


def _top(bins: pl.DataFrame, overall: float | None) -> float:
    """Find the height of the picture: all rates, and of the intervals what does not dwarf them."""
    rate = bins["rate"].drop_nulls()
    # A column of numbers: its largest is one, which the type does not say.
    most = max([float(rate.max() or 0), 2.5 * (overall or 0)])  # type: ignore[arg-type]  # of numbers
    high = bins["rate_high"].drop_nulls()
    reach = [float(value) for value in high if value <= 2 * most]
    return max([most, *reach, 1e-6]) * _ROOM


def _say(row: dict[str, Any], of_hours: str) -> str:
    return (
        f"<b>{row['name']}</b><br>{count(row['alarms'], 'alarm day')} in "
        f"{number(row['hours'], 1 if row['hours'] < 10 else 0)} {of_hours}<br>"
        f"in 100 h: {rates.rate(row)}"
    )


def _heading(text: str, y: float, theme: Theme) -> dict[str, Any]:
    return {
        "text": text,
        "xref": "paper",
        "yref": "paper",
        "x": 0,
        "y": y,
        "xanchor": "left",
        "yanchor": "bottom",
        "showarrow": False,
        "font": {"family": style.FONT, "size": 12, "color": TONES[theme].quiet},
    }


def _ticks(bins: pl.DataFrame, driver: str, *, narrow: bool) -> tuple[list[float], list[str]]:
    """Name the bins, or the edges between them."""
    known = bins.filter("told")
    many = known.height
    if driver == "clock":
        step = _CLOCK_TICKS * (2 if narrow else 1)
        places = [place - 0.5 for place in range(0, 25, step)]
        return places, list(HOUR_WORDS[:: 2 if narrow else 1])
    if driver == "weekday":
        return list(map(float, range(many))), [DAYS[int(one) - 1] for one in known["low"]]
    if driver == "month":
        names = [MONTHS[int(one) - 1] for one in known["low"]]
        return list(map(float, range(many))), [one[0] for one in names] if narrow else names
    if driver == "rain":
        places = [0.0, *(place + 0.5 for place in range(1, many - 1))]
        return places, ["none", *(f"{edge:g}" for edge in known["high"].to_list()[1:-1])]
    edges = known["high"].to_list()[:-1]
    names = [rates.minutes(edge) if driver in {"arming", "area"} else f"{edge:g}" for edge in edges]
    # The first edges of so short a time would stand on each other.
    start = 1 if narrow and driver == "arming" else 0
    return [place + 0.5 for place in range(start, len(edges))], names[start:]
