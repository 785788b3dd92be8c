"""Which driver tells the alarms best, which comes next, and when they could be told apart."""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.drivers.grid import STEPS
from eventlab.analysis.drivers.screen import Screened
from eventlab.analysis.drivers.shares import CLOCK, SUN_LOW, SUN_UP
from eventlab.analysis.drivers.sky import AZIMUTHS, low, up
from eventlab.schema import Pattern
from eventlab.settings import Settings

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]

PATTERNS: dict[str, Pattern] = {
    "sun": Pattern.FOLLOWS_SUN,
    "clock": Pattern.FOLLOWS_CLOCK,
    "dark": Pattern.AFTER_DARK,
    "arming": Pattern.FOLLOWS_ARMING,
    "hot": Pattern.FOLLOWS_TEMPERATURE,
    "warming": Pattern.FOLLOWS_TEMPERATURE,
    "cold": Pattern.FOLLOWS_TEMPERATURE,
    "cooling": Pattern.FOLLOWS_TEMPERATURE,
    "wind": Pattern.FOLLOWS_WIND,
    "rain": Pattern.FOLLOWS_RAIN,
    "wet": Pattern.FOLLOWS_RAIN,
}
ONE = {"warming": "hot", "cooling": "cold", "wet": "rain"}
"""Drivers of one matter: they do not stand against each other."""

_YEAR_DAYS = 366
_APART = 1 / 3
"""Sun and clock are apart on a day on which their windows share less than this."""


def named(screen: Screened, settings: Settings) -> pl.DataFrame:
    """Name what each series follows, or the two that cannot be told apart yet.

    Parameters
    ----------
    screen : Screened
        What the screening says.
    settings : Settings
        ``driver_q``, ``driver_lead``, ``driver_own_p``.

    Returns
    -------
    polars.DataFrame
        One row for each series of which at least one driver is proven: ``number, driver`` (the
        best), ``p, q, looks, gain, lead`` (over the next [nats]), ``rival`` (the next), ``named``
        (the best is told alone), ``told_days`` (days after the end of the log until both could be
        told apart; null where named, or not within a year).
    """
    tests = screen.tests.with_columns(
        matter=pl.col("driver").replace(ONE), least=pl.col("q").min().over("number")
    ).filter(pl.col("least") <= settings.driver_q)
    ranked = tests.sort("number", "gain", "driver", descending=[False, True, False])
    rivals = (
        ranked.with_columns(first=pl.col("matter").first().over("number"))
        .filter(pl.col("matter") != pl.col("first"))
        .unique("number", keep="first", maintain_order=True)
        .select("number", rival="driver", rival_gain="gain")
    )
    best = (
        ranked.unique("number", keep="first", maintain_order=True)
        .join(rivals, on="number", how="left", maintain_order="left")
        .with_columns(lead=pl.col("gain") - pl.col("rival_gain").clip(lower_bound=0.0))
        .with_columns(
            named=(pl.col("lead") >= settings.driver_lead) & (pl.col("p") <= settings.driver_own_p)
        )
    )
    days = [
        None if row["named"] else _told_days(screen, row, settings)
        for row in best.iter_rows(named=True)
    ]
    return best.with_columns(told_days=pl.Series(days, dtype=pl.Int64)).select(
        *("number", "driver", "p", "q", "looks", "gain", "lead", "rival", "named", "told_days")
    )


def _told_days(screen: Screened, row: dict[str, object], settings: Settings) -> int | None:
    """Say in how many days more alarms as these would tell the two drivers apart.

    Each alarm under the best driver widens its lead by what it gains a day; sun and clock must
    first have moved away from each other.
    """
    number = int(str(row["number"]))
    bound = screen.bounds[str(row["driver"])]
    hits = max(int(bound.hits[number]), 1)
    missing = max(settings.driver_lead - float(str(row["lead"])), 0.0)
    more = max(1.0, np.ceil(missing / max(float(str(row["gain"])) / hits, 1e-6)))
    mine = screen.hits.day[screen.hits.number == number]
    span = max(int(mine.max() - mine.min()), 1)
    wait = 0
    if {row["driver"], row["rival"]} == {"sun", "clock"}:
        parts = _parting(screen, number)
        if parts is None:
            return None
        wait = parts
    days = wait + int(np.ceil(more * span / hits))
    return days if days <= _YEAR_DAYS else None


def _parting(screen: Screened, number: int) -> int | None:
    """Say after how many days sun and clock no longer fall into the same hours."""
    grid, sky = screen.grid, screen.sky
    site = screen.grid.site[screen.hits.heads()[number]]
    clock = screen.bounds["clock"].window[number]
    hours = (np.arange(STEPS) - CLOCK[0][clock]) % STEPS < CLOCK[1][clock]
    ahead = np.repeat(np.arange(grid.days, grid.days + _YEAR_DAYS), STEPS)
    where = np.full(len(ahead), site)
    # The clock's shift of the same day a year before stands for that of a day to come.
    offset = grid.offset[site][(ahead - _YEAR_DAYS) % grid.days]
    steps = np.tile(np.arange(STEPS), _YEAR_DAYS)
    wall = grid.utc(where, np.zeros_like(ahead), steps) + grid.offset[site, 0]
    utc = wall + ahead * 86_400_000_000 - offset
    azimuth, height = sky.stands(where, utc)
    window = screen.bounds["sun"].window[number]
    begin, width, flag = sun_window(int(window))
    shone = (flag(height) & ((azimuth - begin) % AZIMUTHS < width)).reshape(-1, STEPS)
    both = (shone & hours).sum(axis=1)
    either = np.maximum(np.minimum(shone.sum(axis=1), hours.sum()), 1)
    apart = np.flatnonzero(both / either < _APART)
    return int(apart[0]) if len(apart) else None


def sun_window(window: int) -> tuple[int, int, Callable[[Floats], npt.NDArray[np.bool_]]]:
    """Give where a window of the sun begins, how wide it is, and which sun it asks for."""
    many = len(SUN_LOW[0])
    if window < many:
        return int(SUN_LOW[0][window]), int(SUN_LOW[1][window]), low
    return int(SUN_UP[0][window - many]), int(SUN_UP[1][window - many]), up
