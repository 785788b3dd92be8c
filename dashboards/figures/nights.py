"""The pieces of a picture with dates across and the day from noon to noon down."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import plotly.graph_objects as go
import polars as pl

from dashboards.palette import TONES, Family, Theme

NOON, NEXT_NOON = 12, 36
HOURS = tuple(range(NOON, NEXT_NOON + 1, 3))
HOUR_WORDS = ("noon", "15:00", "18:00", "21:00", "midnight", "03:00", "06:00", "09:00", "noon")
DAY_MS = 86_400_000
GROWN = {"star": 4, "triangle-up": 2, "diamond": 1, "x": 1, "cross": 1}
"""Shapes of less area are drawn larger, so that all weigh alike; life safety weighs most."""


def ends(first: date, last: date) -> list[str]:
    """Return both ends of the axis of dates."""
    # Written by hand: left alone, the axis pads a year by weeks.
    return [f"{first - timedelta(days=1)} 12:00", f"{last} 12:00"]


def date_form(nights: int) -> str:
    """Say how dates are written on an axis that shows so many nights."""
    return "%-d %b" if nights <= 120 else "%b\n%Y"


def date_step(nights: int, *, narrow: bool) -> str | int:
    """Say how far apart dates are written."""
    if nights <= 10:
        return DAY_MS * (2 if narrow else 1)
    if nights <= 45:
        return DAY_MS * (10 if narrow else 5)
    if nights <= 120:
        return "M1" if narrow else DAY_MS * 14
    if nights <= 500:
        return "M3" if narrow else "M1"
    return "M12" if narrow else "M6"


def shades(spans: pl.DataFrame, theme: Theme) -> list[go.Bar]:
    """Draw what lies under the marks, one trace of bars for each sort.

    Parameters
    ----------
    spans : polars.DataFrame
        ``night``, ``start_h``, ``end_h``, ``what``.
    theme : Theme
        Scheme of light.

    Returns
    -------
    list of plotly.graph_objects.Bar
        Bars with a base: exact edges, any number in one night.
    """
    tones = TONES[theme]
    looks: Sequence[tuple[str, dict[str, Any]]] = (
        ("gap", _hatched(".", tones.gap, size=5)),
        ("part", {"color": tones.part}),
        ("armed", {"color": tones.armed}),
        ("aside", {**_hatched("/", tones.hatch, size=6), "color": tones.aside}),
        ("held", _hatched("\\", tones.accent, size=8, solidity=0.12)),
    )
    drawn = []
    for what, look in looks:
        some = spans.filter(pl.col("what") == what)
        if some.height:
            drawn.append(
                go.Bar(
                    x=dates(some["night"]),
                    # Arrays are taken as they are; each value of a list would be looked at.
                    y=(some["end_h"] - some["start_h"]).to_numpy(),
                    base=some["start_h"].to_numpy(),
                    width=DAY_MS,
                    marker={"line": {"width": 0}, **look},
                    hoverinfo="skip",
                    name=what,
                )
            )
    return drawn


def _hatched(shape: str, ink: str, *, size: int, solidity: float = 0.18) -> dict[str, Any]:
    return {
        "color": "rgba(0,0,0,0)",
        "pattern": {"shape": shape, "fgcolor": ink, "size": size, "solidity": solidity},
    }


def sun_lines(sun: pl.DataFrame, theme: Theme) -> list[go.Scatter]:
    """Draw sunset and sunrise as lines."""
    return [
        go.Scatter(
            x=dates(sun["night"]),
            y=sun[column].to_list(),
            mode="lines",
            line={"color": TONES[theme].sun, "width": 1.5, "dash": dash},
            hoverinfo="skip",
            name=name,
        )
        for column, name, dash in (
            ("sunset_h", "sunset", "solid"),
            ("sunrise_h", "sunrise", "dot"),
        )
    ]


def marks_of(
    marks: pl.DataFrame, family: Family, theme: Theme, size: int, *, binned: bool
) -> go.Scatter:
    """Draw the marks of one family.

    Parameters
    ----------
    marks : polars.DataFrame
        ``night``, ``hour``; ``id``, ``say`` and, where binned, ``many``.
    family : Family
        Colour and shape.
    theme : Theme
        Scheme of light.
    size : int
        Of a round mark [px].
    binned : bool
        Whether marks grow with what they stand for.

    Returns
    -------
    plotly.graph_objects.Scatter
        Drawn as SVG: a drawing surface of the graphics card gains nothing at these numbers.
    """
    say = marks["say"].to_list() if "say" in marks.columns else None
    sizes: Any = size + GROWN.get(family.symbol, 0)
    if binned:
        sizes = (size - 2 + 3 * marks["many"].log(base=2)).clip(upper_bound=22).to_list()
    hollow = family.symbol.endswith("-open")
    return go.Scatter(
        x=dates(marks["night"]),
        y=marks["hour"].to_list(),
        mode="markers",
        name=family.word,
        text=say,
        hovertemplate="%{text}<extra></extra>",
        customdata=marks["id"].to_list() if "id" in marks.columns else None,
        marker={
            "symbol": family.symbol,
            "color": family.colour[theme],
            "size": sizes,
            "opacity": 1,
            "line": {
                "width": 1.8 if hollow else 0.8,
                "color": family.colour[theme] if hollow else TONES[theme].raised,
            },
        },
    )


def dates(nights: pl.Series) -> list[str]:
    """Write nights as an axis of dates wants them."""
    return nights.dt.to_string("%Y-%m-%d").to_list()
