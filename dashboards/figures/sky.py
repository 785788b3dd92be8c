"""Where the sun stood when a point alarmed, over where it stood while the point could."""

from typing import Any

import plotly.graph_objects as go
import polars as pl

from dashboards import rates
from dashboards.figures import style
from dashboards.palette import TONES, Theme
from dashboards.words import count, number

_WIDE, _TALL = 15, 10
_NAMES = ("N", "NE", "E", "SE", "S", "SW", "W", "NW", "N")
_AHEAD = 60
"""The sun this far to either side of the way a point faces can shine into it [deg]."""


def draw(
    cells: pl.DataFrame,
    *,
    theme: Theme,
    facing: float | None = None,
    of_hours: str = "armed hours",
    narrow: bool = False,
) -> go.Figure:
    """Draw the sky as a field of directions and heights.

    Parameters
    ----------
    cells : polars.DataFrame
        As ``rates.named`` gives those of the sun; what has no azimuth is left to the words.
    theme : Theme
        Scheme of light.
    facing : float, optional
        Which way the point looks [deg].
    of_hours : str
        What the hours are.
    narrow : bool
        Small screen: four directions are named.

    Returns
    -------
    plotly.graph_objects.Figure
        Shades for hours at risk, round marks for alarm days, the larger the more.
    """
    tones = TONES[theme]
    up = cells.filter(pl.col("azimuth").is_not_null())
    west, east = _reach(up, facing)
    top = min(90, max([40, *(int(h) + 2 * _TALL for h in up["height"])]))
    # Only what is seen is drawn: what lies beyond an edge would still lie over the words there.
    columns, rows = (east - west) // _WIDE, top // _TALL
    hours: list[list[float | None]] = [[None] * columns for _ in range(rows)]
    says = [[""] * columns for _ in range(rows)]
    for row in up.iter_rows(named=True):
        place = int(row["height"]) // _TALL, (int(row["azimuth"]) - west) // _WIDE
        hours[place[0]][place[1]] = row["hours"]
        says[place[0]][place[1]] = _say(row, of_hours)
    seen = up.filter(pl.col("alarms") > 0)
    # A column of numbers: its largest is one, which the type does not say.
    most = int(seen["alarms"].max() or 1)  # type: ignore[call-overload]  # numbers
    field = go.Heatmap(
        x=[west + place * _WIDE + _WIDE / 2 for place in range(columns)],
        y=[place * _TALL + _TALL / 2 for place in range(rows)],
        z=hours,
        zmin=0,
        colorscale=[[0, _faded(tones.control, 0.08)], [1, _faded(tones.control, 0.6)]],
        showscale=False,
        xgap=1,
        ygap=1,
        text=says,
        hovertemplate="%{text}<extra></extra>",
        name="hours",
    )
    marks = go.Scatter(
        x=(seen["azimuth"] + _WIDE / 2).to_list(),
        y=(seen["height"] + _TALL / 2).to_list(),
        mode="markers",
        marker={
            "color": tones.accent,
            "opacity": 1,
            "size": [
                (6 if narrow else 8) + (8 if narrow else 14) * (n / most) ** 0.5
                for n in seen["alarms"]
            ],
            "line": {"width": 1, "color": tones.raised},
        },
        text=[_say(row, of_hours) for row in seen.iter_rows(named=True)],
        hovertemplate="%{text}<extra></extra>",
        name="alarm days",
    )
    return go.Figure(
        data=[field, marks],
        layout=style.layout(
            theme,
            margin={"l": 44, "r": 6, "t": 24, "b": 30},
            hovermode="closest",
            dragmode=False,
            font={"family": style.FONT, "size": 12, "color": tones.quiet},
            shapes=_facing(facing, tones.sun),
            annotations=_named(facing, theme),
            xaxis=style.axis(
                theme,
                range=[west, east],
                showgrid=False,
                tickmode="array",
                tickvals=[place * 45 for place in range(9)][:: 2 if narrow else 1],
                ticktext=_NAMES[:: 2 if narrow else 1],
                tickangle=0,
                fixedrange=True,
            ),
            yaxis=style.axis(
                theme,
                range=[0, top],
                dtick=20,
                ticksuffix="°",
                showgrid=False,
                fixedrange=True,
            ),
        ),
    )


def _say(row: dict[str, Any], of_hours: str) -> str:
    return (
        f"<b>{row['name']}</b><br>{count(row['alarms'], 'alarm day')} in "
        f"{number(row['hours'], 1 if row['hours'] < 10 else 0)} {of_hours}<br>"
        f"in 100 h: {rates.rate(row)}"
    )


def _reach(up: pl.DataFrame, facing: float | None) -> tuple[int, int]:
    """Find the directions that are drawn: where the sun ever stands, and what the point faces."""
    seen = [int(one) // _WIDE * _WIDE for one in up["azimuth"]]
    seen += [] if facing is None else [int(facing % 360) // _WIDE * _WIDE]
    if not seen:
        return 0, 360
    return max(0, min(seen) - 2 * _WIDE), min(360, max(seen) + 3 * _WIDE)


def _facing(facing: float | None, colour: str) -> list[dict[str, Any]]:
    if facing is None:
        return []
    middle = facing % 360
    line = {"color": colour, "width": 2}
    drawn: list[dict[str, Any]] = [
        {"type": "line", "yref": "paper", "x0": middle, "x1": middle, "y0": 0, "y1": 1,
         "line": line}
    ]  # fmt: skip
    for edge in (middle - _AHEAD, middle + _AHEAD):
        at = edge % 360
        drawn.append({"type": "line", "yref": "paper", "x0": at, "x1": at, "y0": 0, "y1": 1,
                      "line": {**line, "width": 1, "dash": "dot"}})  # fmt: skip
    return drawn


def _named(facing: float | None, theme: Theme) -> list[dict[str, Any]]:
    font = {"family": style.FONT, "size": 12, "color": TONES[theme].quiet}
    told: list[dict[str, Any]] = [
        {"text": "height", "xref": "paper", "yref": "paper", "x": 0, "y": 1, "xanchor": "left",
         "yanchor": "bottom", "showarrow": False, "font": font}
    ]  # fmt: skip
    if facing is not None:
        middle = facing % 360
        told.append(
            {"text": "faces", "x": middle, "yref": "paper", "y": 1,
             "xanchor": "center", "yanchor": "bottom", "showarrow": False, "font": font}
        )  # fmt: skip
    return told


def _faded(colour: str, share: float) -> str:
    red, green, blue = (int(colour[place : place + 2], 16) for place in (1, 3, 5))
    return f"rgba({red},{green},{blue},{share})"
