"""Which alarms lie in the condition that their point was found to follow."""

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.drivers.air import MEASURES, air
from eventlab.analysis.drivers.areas import ago
from eventlab.analysis.drivers.grid import STEP_MIN, WEEKDAYS
from eventlab.analysis.drivers.naming import PATTERNS
from eventlab.analysis.drivers.shares import some
from eventlab.analysis.drivers.sky import AZIMUTHS, DOWN, dark, low, sky, up
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.settings import Settings

Flags = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]

_DAY_MIN = 1440
_TURN = 360 / AZIMUTHS
_ABOVE = ("sun", "dark", *MEASURES)
"""What is asked of the sun and the weather."""
_FALLING = frozenset({"cold", "cooling"})
"""Measures that count downwards, and are told upwards."""


def inside(
    moments: pl.DataFrame,
    found: pl.DataFrame,
    ground: Ground,
    context: Context,
    settings: Settings,
) -> pl.DataFrame:
    """Say which alarms lie in the condition that their point follows, as it was found.

    Parameters
    ----------
    moments : polars.DataFrame
        ``site, zone, area, tamper`` (Boolean), ``at`` (UTC), ``local`` (wall), ``begun_s``
        (since the point came to be at risk; null where not known), and any other columns.
    found : polars.DataFrame
        FOUND columns; only what ``find`` of this package found is looked at.
    ground : Ground
        When other areas were opened and closed.
    context : Context
        Places of sites and weather, the same as for ``find``.
    settings : Settings
        ``weather_within_km``.

    Returns
    -------
    polars.DataFrame
        The rows of ``moments`` whose point follows something, with ``driver``, ``open`` (it
        cannot be told apart from another) and ``inside``; null where what it would take is not
        known of that moment: the weather, the place, another area's opening or closing.
    """
    names = [str(pattern) for pattern in dict.fromkeys(PATTERNS.values())]
    told = found.filter(pl.col("pattern").is_in(names)).select(
        "site",
        zone="subject",
        found_area="area",
        **{name: _figure(name) for name in ("driver", "from", "to", "high", "level")},
        open=_figure("open") == "true",
        tamper=_figure("tamper") == "true",
    )
    same_area = (pl.col("area") == pl.col("found_area")).fill_null(value=True)
    pairs = (
        moments.drop_nulls(["zone", "at"])
        .join(told, on=["site", "zone", "tamper"], how="inner", maintain_order="left")
        .filter(same_area)
        .with_columns(
            pl.col("from", "to").cast(pl.Int64, strict=False),
            pl.col("level").cast(pl.Float64, strict=False),
            high=pl.col("high") == "true",
        )
    )
    if pairs.is_empty():
        return _shaped(pairs, np.zeros(0, dtype=bool), np.zeros(0, dtype=bool), moments)
    lies, known = _lie(pairs, ground, context, settings)
    return _shaped(pairs, lies, known, moments)


def _figure(name: str) -> pl.Expr:
    return pl.col("figures").str.json_path_match(f"$.{name}")


def _shaped(pairs: pl.DataFrame, lies: Flags, known: Flags, moments: pl.DataFrame) -> pl.DataFrame:
    return pairs.with_columns(lies=pl.Series(lies), known=pl.Series(known)).select(
        *moments.columns,
        pl.col("driver").cast(pl.String),
        "open",
        inside=pl.when("known").then("lies"),
    )


def _lie(
    pairs: pl.DataFrame, ground: Ground, context: Context, settings: Settings
) -> tuple[Flags, Flags]:
    """Say which lie in their condition, and of which it is known."""
    driver = pairs["driver"].to_numpy()
    # Of all other sites neither is laid out.
    names = pairs.filter(pl.col("driver").is_in(list(_ABOVE)))["site"].unique().sort().to_list()
    site = (
        pairs["site"]
        .replace_strict(names, range(len(names)), default=0, return_dtype=pl.Int64)
        .to_numpy()
    )
    utc = np.asarray(pairs["at"].dt.epoch("us").to_numpy(), dtype=np.int64)
    begin, end = (pairs[name].fill_null(0).to_numpy() for name in ("from", "to"))
    lies, known = np.zeros(len(utc), dtype=bool), np.zeros(len(utc), dtype=bool)

    mine = driver == "clock"
    shown = pairs["local"].dt.hour().cast(pl.Int64) * 60 + pairs["local"].dt.minute()
    minute = shown.fill_null(0).to_numpy() // STEP_MIN * STEP_MIN
    lies |= mine & ((minute - begin) % _DAY_MIN < np.maximum((end - begin) % _DAY_MIN, STEP_MIN))
    known |= mine

    mine = driver == "weekday"
    local = pairs["local"].dt
    week = WEEKDAYS + (local.day().cast(pl.Int64) - 1) // WEEKDAYS
    turns = np.stack([local.weekday().cast(pl.Int64).fill_null(1).to_numpy() - 1,
                      week.fill_null(0).to_numpy()])  # fmt: skip
    lies |= mine & (turns == begin).any(axis=0)
    known |= mine

    mine = driver == "arming"
    begun = pairs["begun_s"].cast(pl.Float64).fill_null(np.nan).to_numpy()
    lies |= mine & (begun >= 0) & (begun < 60 * end)
    known |= mine & ~np.isnan(begun)

    mine = driver == "area"
    if mine.any():
        moments = pairs.filter(pl.Series(mine)).select("site", "zone", "area", "at")
        since = ago(moments, ground)[np.arange(mine.sum()), np.minimum(begin[mine], 1)]
        lies[mine] = (since >= 0) & (since < 60 * end[mine])
        known[mine] = since >= 0

    told = air(context, names, settings) if names else None
    for name in ("sun", "dark"):
        mine = driver == name
        if mine.any():
            azimuth, height = sky(context.sites, names).stands(site[mine], utc[mine])
            high = pairs["high"].fill_null(value=False).to_numpy()[mine]
            shone = height
            if name == "sun" and told is not None:
                shone = np.where(told.sunless(site[mine], utc[mine]), DOWN, height)
            lies[mine] = _under(name, azimuth, shone, begin[mine], end[mine], high)
            known[mine] = ~np.isnan(height)

    level = pairs["level"].fill_null(np.nan).to_numpy()
    for name in MEASURES:
        mine = driver == name
        if mine.any() and told is not None:
            value = told.at(name, site[mine], utc[mine])
            bar = -level[mine] if name in _FALLING else level[mine]
            with np.errstate(invalid="ignore"):
                lies[mine] = (value >= bar) & some(name, value)
            known[mine] = ~np.isnan(value)
    return lies, known


def _under(
    name: str, azimuth: Numbers, height: Floats, begin: Numbers, end: Numbers, high: Flags
) -> Flags:
    if name == "dark":
        return dark(height)
    first, stop = (np.rint(edge / _TURN).astype(np.int64) for edge in (begin, end))
    stood = np.where(high, up(height), low(height))
    return np.asarray(stood & ((azimuth - first) % AZIMUTHS < (stop - first) % AZIMUTHS))
