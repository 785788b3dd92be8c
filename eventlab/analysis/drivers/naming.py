"""Which driver tells the alarms best, which comes next, and when they could be told apart."""

import numpy as np
import polars as pl

from eventlab.analysis.drivers.conditions import steps_in
from eventlab.analysis.drivers.screen import Screened
from eventlab.schema import Pattern
from eventlab.settings import Settings

PATTERNS: dict[str, Pattern] = {
    "sun": Pattern.FOLLOWS_SUN,
    "clock": Pattern.FOLLOWS_CLOCK,
    "weekday": Pattern.FOLLOWS_CLOCK,
    "dark": Pattern.AFTER_DARK,
    "arming": Pattern.FOLLOWS_ARMING,
    "area": Pattern.FOLLOWS_AREA,
    "hot": Pattern.FOLLOWS_TEMPERATURE,
    "warming": Pattern.FOLLOWS_TEMPERATURE,
    "cold": Pattern.FOLLOWS_TEMPERATURE,
    "cooling": Pattern.FOLLOWS_TEMPERATURE,
    "wind": Pattern.FOLLOWS_WIND,
    "rain": Pattern.FOLLOWS_RAIN,
    "wet": Pattern.FOLLOWS_RAIN,
}
WORDS = {
    "sun": "the sun",
    "clock": "the time of day",
    "weekday": "the day of the week or month",
    "dark": "darkness",
    "arming": "the time since arming",
    "area": "another area's opening or closing",
    "hot": "heat",
    "cold": "cold",
    "warming": "fast warming",
    "cooling": "fast cooling",
    "wind": "wind",
    "rain": "rain",
    "wet": "the rain of the days before",
}
"""Each driver as people say it."""

ONE = {"weekday": "clock", "warming": "hot", "cooling": "cold", "wet": "rain"}
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
    grid = screen.grid
    site = grid.site[screen.hits.heads()[number]]
    ahead = grid.days + np.arange(_YEAR_DAYS)
    windows = (int(screen.bounds[name].window[number]) for name in ("clock", "sun"))
    hours, shone = (
        steps_in(screen, name, window, int(site), days=ahead)
        for name, window in zip(("clock", "sun"), windows, strict=True)
    )
    if hours is None or shone is None:
        return None
    both = (shone & hours).sum(axis=1)
    either = np.maximum(np.minimum(shone.sum(axis=1), hours.sum(axis=1)), 1)
    apart = np.flatnonzero(both / either < _APART)
    return int(apart[0]) if len(apart) else None
