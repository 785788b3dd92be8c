"""A plain map: sites by latitude and longitude, a scale, no tiles from anywhere."""

from math import cos, radians
from typing import Any

import plotly.graph_objects as go
import polars as pl

from dashboards.figures import style
from dashboards.palette import TONES, Theme

KM_PER_DEGREE = 111.2
"""Mean length of a degree of latitude on the sphere of 6371 km."""

NAMED = 16
"""More sites than this carry no names: they would stand on each other."""

STEPS_KM = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000)


def draw(sites: pl.DataFrame, *, theme: Theme) -> go.Figure:
    """Draw sites where they stand.

    Parameters
    ----------
    sites : polars.DataFrame
        ``site``, ``name``, ``say`` String, ``latitude``, ``longitude`` Float64 [degrees, no
        nulls], ``alarms`` Int64, ``mark`` String: ``missing``, ``test``, ``unknown`` or ``plain``.
    theme : Theme
        Scheme of light.

    Returns
    -------
    plotly.graph_objects.Figure
        Square kilometres: east and north are on one scale. A site's number is its custom data.
    """
    west, east = _reach(sites["longitude"])
    south, north = _reach(sites["latitude"])
    narrowing = max(0.05, cos(radians((south + north) / 2)))
    return go.Figure(
        data=[_marks(sites, mark, theme) for mark in ("plain", "unknown", "test", "missing")],
        layout=style.layout(
            theme,
            margin={"l": 4, "r": 4, "t": 4, "b": 4},
            hovermode="closest",
            clickmode="event",
            dragmode="pan",
            uirevision="map",
            xaxis=style.axis(
                theme,
                range=[west, east],
                showticklabels=False,
                scaleanchor="y",
                scaleratio=narrowing,
                constrain="domain",
            ),
            yaxis=style.axis(theme, range=[south, north], showticklabels=False, constrain="domain"),
            **_scale(west, east, south, north, narrowing, theme),
        ),
    )


def _reach(degrees: pl.Series) -> tuple[float, float]:
    low, high = float(degrees.min() or 0), float(degrees.max() or 0)
    room = max(0.16 * (high - low), 0.01)
    return low - room, high + room


def _marks(sites: pl.DataFrame, mark: str, theme: Theme) -> go.Scatter:
    tones = TONES[theme]
    some = sites.filter(pl.col("mark") == mark)
    looks: dict[str, dict[str, Any]] = {
        "plain": {"symbol": "circle", "color": tones.accent, "line": {"width": 1}},
        "unknown": {"symbol": "circle-open-dot", "color": tones.quiet, "line": {"width": 1.8}},
        "test": {"symbol": "hourglass", "color": tones.ink, "line": {"width": 1}},
        "missing": {"symbol": "square", "color": tones.ink, "line": {"width": 1}},
    }
    look = looks[mark]
    if mark != "unknown":
        look["line"]["color"] = tones.raised
    size = (9 + some["alarms"].cast(pl.Float64).sqrt() * 1.6).clip(upper_bound=26)
    return go.Scatter(
        x=some["longitude"].to_list(),
        y=some["latitude"].to_list(),
        mode="markers+text" if sites.height <= NAMED else "markers",
        text=some["name"].to_list(),
        textposition=_sides(some, sites),
        textfont={"size": 12, "color": tones.ink},
        hovertext=some["say"].to_list(),
        hovertemplate="%{hovertext}<extra></extra>",
        customdata=some["site"].to_list(),
        cliponaxis=False,
        name=mark,
        marker={**look, "size": size.to_list(), "opacity": 1},
    )


def _sides(some: pl.DataFrame, sites: pl.DataFrame) -> list[str]:
    # Names lean away from the nearer edge, so that none is cut off.
    middle = (float(sites["longitude"].min() or 0) + float(sites["longitude"].max() or 0)) / 2
    return ["middle right" if x < middle else "middle left" for x in some["longitude"]]


def _scale(
    west: float, east: float, south: float, north: float, narrowing: float, theme: Theme
) -> dict[str, Any]:
    tones = TONES[theme]
    wide_km = (east - west) * KM_PER_DEGREE * narrowing
    length_km = max([step for step in STEPS_KM if step <= wide_km / 3] or [STEPS_KM[0]])
    length = length_km / KM_PER_DEGREE / narrowing
    left, low = west + 0.04 * (east - west), south + 0.05 * (north - south)
    said = f"{length_km:g} km" if length_km >= 1 else f"{length_km * 1000:g} m"
    return {
        "shapes": [
            {
                "type": "line",
                "x0": left,
                "x1": left + length,
                "y0": low,
                "y1": low,
                "line": {"color": tones.ink, "width": 2},
            }
        ],
        "annotations": [
            {
                "x": left,
                "y": low,
                "text": f"{said}, north is up",
                "showarrow": False,
                "xanchor": "left",
                "yanchor": "bottom",
                "font": {"size": 12, "color": tones.quiet},
            }
        ],
    }
