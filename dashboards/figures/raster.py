"""The day raster: dates across, the day from noon to noon down, so that a night is one piece."""

from datetime import date
from typing import Any

import plotly.graph_objects as go
import polars as pl

from dashboards.figures import style
from dashboards.figures.nights import (
    HOUR_WORDS,
    HOURS,
    NEXT_NOON,
    NOON,
    date_form,
    date_step,
    dates,
    ends,
    marks_of,
    shades,
    sun_lines,
)
from dashboards.palette import FAMILIES, TONES, Theme


def draw(
    marks: pl.DataFrame,
    spans: pl.DataFrame,
    sun: pl.DataFrame,
    *,
    theme: Theme,
    first: date,
    last: date,
    binned: bool = False,
    chosen: int | None = None,
    narrow: bool = False,
) -> go.Figure:
    """Draw the day raster of a site.

    Parameters
    ----------
    marks : polars.DataFrame
        ``id`` Int64, ``night`` Date, ``hour`` Float64 (12 to 36), ``family`` String, ``say``
        String (what hovering tells); where binned also ``many`` Int64, and ``id`` null.
    spans : polars.DataFrame
        ``night`` Date, ``start_h``, ``end_h`` Float64, ``what`` String: ``armed``, ``part``,
        ``aside`` or ``gap``.
    sun : polars.DataFrame
        ``night`` Date, ``sunset_h``, ``sunrise_h`` Float64, by night.
    theme : Theme
        Scheme of light.
    first, last : date
        The nights at both ends, both shown.
    binned : bool
        Whether a mark stands for several alarms.
    chosen : int, optional
        The mark that is ringed.
    narrow : bool
        Small screen: smaller marks and fewer dates.

    Returns
    -------
    plotly.graph_objects.Figure
        Shades below, sun lines, one trace for each family of marks.
    """
    traces: list[Any] = [*shades(spans, theme), *sun_lines(sun, theme)]
    size = 6 if narrow else 8
    traces += [
        marks_of(marks.filter(pl.col("family") == family.key), family, theme, size, binned=binned)
        for family in reversed(FAMILIES)
    ]
    if chosen is not None:
        traces.append(_ring(marks.filter(pl.col("id") == chosen), theme, size))
    nights = (last - first).days + 1
    return go.Figure(
        data=traces,
        layout=style.layout(
            theme,
            margin={"l": 60, "r": 8, "t": 10 if narrow else 34, "b": 40},
            barmode="overlay",
            bargap=0,
            hovermode="closest",
            hoverdistance=12,
            clickmode="event",
            dragmode="pan" if narrow else "zoom",
            uirevision="raster",
            xaxis=style.axis(
                theme,
                type="date",
                range=ends(first, last),
                showgrid=False,
                tickformat=date_form(nights),
                dtick=date_step(nights, narrow=narrow),
                ticklabelmode="instant" if nights <= 45 else "period",
                fixedrange=narrow,
            ),
            yaxis=style.axis(
                theme,
                range=[NEXT_NOON, NOON],
                tickmode="array",
                tickvals=HOURS[::2] if narrow else HOURS,
                ticktext=HOUR_WORDS[::2] if narrow else HOUR_WORDS,
                fixedrange=True,
                layer="above traces",
            ),
        ),
    )


def _ring(marks: pl.DataFrame, theme: Theme, size: int) -> go.Scatter:
    return go.Scatter(
        x=dates(marks["night"]),
        y=marks["hour"].to_list(),
        mode="markers",
        name="chosen",
        hoverinfo="skip",
        marker={
            "symbol": "circle-open",
            "size": size + 12,
            "color": TONES[theme].ink,
            "line": {"width": 2.5},
        },
    )
