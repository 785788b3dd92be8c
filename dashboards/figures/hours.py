"""When a place is opened and closed on each day of the week."""

from typing import Any

import plotly.graph_objects as go
import polars as pl

from dashboards import usage
from dashboards.figures import style
from dashboards.figures.usage import laid, rows
from dashboards.palette import TONES, Theme
from dashboards.rates import DAYS


def draw(bands: pl.DataFrame, *, theme: Theme, narrow: bool = False) -> go.Figure:
    """Draw when a place is opened and closed on each day of the week.

    Parameters
    ----------
    bands : polars.DataFrame
        As ``UsualHours.bands``.
    theme : Theme
        Scheme of light.
    narrow : bool
        Small screen.

    Returns
    -------
    plotly.graph_objects.Figure
        A bar from the low to the high hour, a mark at the middle: openings open, closings filled.
    """
    tones = TONES[theme]
    data: list[Any] = []
    names = hour_rows(bands)
    several = bands["area"].n_unique() > 1
    for what, fill in (("opening", tones.raised), ("closing", tones.accent)):
        some = bands.filter(pl.col("what") == what)
        days = [_day(*one, several=several) for one in some.select("weekday", "area").iter_rows()]
        says = [
            f"<b>{DAYS[one['weekday'] - 1]}, {what}</b><br>usually "
            f"{usage.clock(one['middle_h'])}<br>9 in 10 between {usage.clock(one['low_h'])} and "
            f"{usage.clock(one['high_h'])}<br>{one['days']} of {one['of']} days"
            for one in some.iter_rows(named=True)
        ]
        data.append(
            go.Bar(
                y=days, x=(some["high_h"] - some["low_h"]).to_list(), base=some["low_h"].to_list(),
                orientation="h", width=0.34, text=says, textposition="none",
                hovertemplate="%{text}<extra></extra>", name=what,
                marker={"color": tones.armed, "line": {"width": 1, "color": tones.control}},
            )
        )  # fmt: skip
        data.append(
            go.Scatter(
                y=days, x=some["middle_h"].to_list(), mode="markers", text=says,
                hovertemplate="%{text}<extra></extra>", name=f"usual {what}",
                marker={
                    "symbol": "circle" if what == "closing" else "diamond", "size": 11,
                    "color": fill, "line": {"width": 2, "color": tones.accent},
                },
            )
        )  # fmt: skip
    low = min([*bands["low_h"], 8.0])
    high = max([*bands["high_h"], 18.0])
    step = 4 if narrow else 2
    ticks = [h for h in range(0, 49, step) if low - 1 <= h <= high + 1]
    return go.Figure(
        data=data,
        layout=laid(
            theme,
            left=110 if several else 44,
            barmode="overlay",
            xaxis=style.axis(
                theme, range=[low - 0.7, high + 0.7], tickmode="array", tickvals=ticks,
                ticktext=[f"{h % 24:02d}:00" for h in ticks], fixedrange=True,
            ),
            yaxis=rows(theme, names),
        ),
    )  # fmt: skip


def hour_rows(bands: pl.DataFrame) -> list[str]:
    """Name the rows of the picture of hours: days, each with its areas where there are several."""
    areas = bands["area"].unique().sort().to_list()
    several = len(areas) > 1
    return [_day(day, area, several=several) for day in range(1, 8) for area in areas or [None]]


def _day(weekday: int, area: str | None, *, several: bool) -> str:
    day = DAYS[weekday - 1]
    return f"{day}, {area or 'all'}" if several else day
