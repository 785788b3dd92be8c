"""A plain map: sites by latitude and longitude, a scale, no tiles from anywhere."""

from math import cos, radians
from typing import Any

import plotly.graph_objects as go
import polars as pl

from dashboards.figures import style
from dashboards.palette import TONES, Theme

KM_PER_DEGREE = 111.2
"""Mean length of a degree of latitude on the sphere of 6371 km."""

NAMED = 40
"""More sites than this carry no names: hardly any would stand free."""

SIDE_PX, HALF_PX, LETTER_PX = 390, 150, 6.8
"""About what a map measures, from its middle to its edge, and a letter of a name on it; names that
would meet, or be cut off, are left out."""

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
    # The scale has a strip of its own below the southernmost name.
    south -= 0.08 * (north - south)
    narrowing = max(0.05, cos(radians((south + north) / 2)))
    px = SIDE_PX / max((east - west) * narrowing, north - south)
    sites = _labelled(sites, px * narrowing, px)
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
        mode="markers+text",
        text=some["label"].to_list(),
        textposition=some["side"].to_list(),
        textfont={"size": 12, "color": tones.ink},
        hovertext=some["say"].to_list(),
        hovertemplate="%{hovertext}<extra></extra>",
        customdata=some["site"].to_list(),
        cliponaxis=False,
        name=mark,
        marker={**look, "size": size.to_list(), "opacity": 1},
    )


def _labelled(sites: pl.DataFrame, px_east: float, px_north: float) -> pl.DataFrame:
    """Give each site the side on which its name stands free; no name where none is free."""
    places = sites.select("longitude", "latitude", "name").rows()
    spots = [(x * px_east, y * px_north) for x, y, _ in places]
    taken = [(x - 6, y - 6, x + 6, y + 6) for x, y in spots]
    told: list[tuple[str, str]] = []
    middle = (min(x for x, _ in spots) + max(x for x, _ in spots)) / 2 if spots else 0
    for (x, y), (_, _, name) in zip(spots, places, strict=True):
        half, reach = len(name) * LETTER_PX / 2, len(name) * LETTER_PX
        sides = {
            "middle right": (x + 7, y - 7, x + 12 + reach, y + 7),
            "middle left": (x - 12 - reach, y - 7, x - 7, y + 7),
            "top center": (x - half, y + 7, x + half, y + 21),
            "bottom center": (x - half, y - 21, x + half, y - 7),
        }
        # Names lean away from the nearer edge first, so that none is cut off.
        wishes = sorted(sides, key="middle left".__ne__) if x > middle else list(sides)
        free = [
            side
            for side in wishes
            if abs(sides[side][0] - middle) < HALF_PX
            and abs(sides[side][2] - middle) < HALF_PX
            and not any(_meet(sides[side], t) for t in taken)
        ]
        side = free[0] if free and sites.height <= NAMED else None
        told.append((name if side else "", side or "middle right"))
        if side:
            taken.append(sides[side])
    labels, sides_ = zip(*told, strict=True) if told else ((), ())
    return sites.with_columns(
        label=pl.Series(labels, dtype=pl.String), side=pl.Series(sides_, dtype=pl.String)
    )


def _meet(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _scale(
    west: float, east: float, south: float, north: float, narrowing: float, theme: Theme
) -> dict[str, Any]:
    tones = TONES[theme]
    wide_km = (east - west) * KM_PER_DEGREE * narrowing
    length_km = max([step for step in STEPS_KM if step <= wide_km / 3] or [STEPS_KM[0]])
    length = length_km / KM_PER_DEGREE / narrowing
    left, low = west + 0.04 * (east - west), south + 0.025 * (north - south)
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
