"""The small picture of one finding: when its events were, on the same ground as the day raster."""

from datetime import date

import plotly.graph_objects as go
import polars as pl

from dashboards.figures import style
from dashboards.figures.nights import (
    NEXT_NOON,
    NOON,
    date_form,
    date_step,
    ends,
    marks_of,
    shades,
)
from dashboards.palette import TONES, Family, Theme


def draw(
    marks: pl.DataFrame, spans: pl.DataFrame, *, theme: Theme, first: date, last: date
) -> go.Figure:
    """Draw the events of one finding over the armed time.

    Parameters
    ----------
    marks, spans : polars.DataFrame
        As in ``raster.draw``; ``what`` may also be ``held``: while the finding's condition
        lasted.
    theme : Theme
        Scheme of light.
    first, last : date
        The nights at both ends.

    Returns
    -------
    plotly.graph_objects.Figure
        Nothing in it reacts: its table says the same.
    """
    nights = (last - first).days + 1
    own = Family("own", "", "circle", {theme: TONES[theme].accent}, ())
    return go.Figure(
        data=[*shades(spans, theme), marks_of(marks, own, theme, 5, binned=False)],
        layout=style.layout(
            theme,
            margin={"l": 58, "r": 4, "t": 10, "b": 36},
            barmode="overlay",
            bargap=0,
            hovermode=False,
            dragmode=False,
            font={"family": style.FONT, "size": 12, "color": TONES[theme].quiet},
            xaxis=style.axis(
                theme,
                type="date",
                range=ends(first, last),
                showgrid=False,
                tickformat=date_form(nights),
                dtick=date_step(nights, narrow=True),
                ticklabelmode="instant" if nights <= 45 else "period",
                fixedrange=True,
            ),
            yaxis=style.axis(
                theme,
                range=[NEXT_NOON, NOON],
                tickmode="array",
                tickvals=(NOON, 24, NEXT_NOON),
                ticktext=("noon", "midnight", "noon"),
                fixedrange=True,
            ),
        ),
    )
