"""What the whole log says of each point under each driver, in closed form.

A bound says at once of most points that they follow nothing, and the gain of each condition says
which of several tells the alarms best.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from eventlab.analysis.drivers import sky as skies
from eventlab.analysis.drivers.areas import within
from eventlab.analysis.drivers.grid import STEPS
from eventlab.analysis.drivers.shares import (
    ARMING_MIN,
    CLOCK,
    SUN_LOW,
    SUN_UP,
    Shares,
    some,
    sums,
    turning,
)
from eventlab.analysis.drivers.sky import AZIMUTHS
from eventlab.stats import binomial_tail, gain

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

_LEAST = 5e-4
"""No share is taken for less: the sun is laid out by fortnights, time at risk by ten minutes."""
_FACING_STEPS = 24
"""A point that faces a known way looks for the sun within 60 degrees of it."""


@dataclass(frozen=True)
class Hits:
    """The alarms that are screened, one a day, in the conditions they came under.

    Parameters
    ----------
    number, row, site, day, step : numpy.ndarray of int, shape (n,)
        Series (rising), row of time at risk, site, day and step of the clock.
    utc : numpy.ndarray of int
        Moment [us since 1970].
    asked : dict of str to numpy.ndarray of bool
        By measure of the air: kept where neighbouring days are not asked both.
    turns : numpy.ndarray of int, shape (n, 2)
        Weekday and week of the month, as ``Grid.turns`` counts them.
    azimuth : numpy.ndarray of int
        Step of the horizon.
    height : numpy.ndarray of float
        Of the sun [deg]; not a number where the place is not known.
    shone : numpy.ndarray of float
        The same, but down where the weather contradicts the sun.
    begun_s : numpy.ndarray of int
        Since the point came to be at risk [s]; -1 where not known.
    other_s : numpy.ndarray of int, shape (n, 2)
        Since another area was opened, and closed [s]; -1 where not known.
    air : dict of str to numpy.ndarray of float
        By measure.
    facing : numpy.ndarray of float, shape (series,)
        Which way each point looks [deg]; not a number where not known.
    first : numpy.ndarray of bool, shape (series,)
        Of which only the first trip of an armed period may be told.
    count : int
        How many series there are.
    """

    number: Numbers
    row: Numbers
    site: Numbers
    day: Numbers
    step: Numbers
    utc: Numbers
    asked: dict[str, Flags]
    turns: Numbers
    azimuth: Numbers
    height: Floats
    shone: Floats
    begun_s: Numbers
    other_s: Numbers
    air: dict[str, Floats]
    facing: Floats
    first: Flags
    count: int

    def heads(self) -> Numbers:
        """Give the row of time at risk of each series."""
        return self.row[np.searchsorted(self.number, np.arange(self.count))]


@dataclass(frozen=True)
class Bound:
    """What the whole log says of each series under one driver.

    ``p`` bounds the chance from above, windows paid for; not a number where it is not told.
    ``gain`` tells how much better the best window tells the alarms than nothing, windows paid
    for [nats]; ``window`` which, ``hits`` of ``days`` in it, ``share`` of the time. The chance
    is that of days far enough apart; what tells best is judged on all, the same for all drivers.
    """

    p: Floats
    gain: Floats
    window: Numbers
    hits: Numbers
    days: Numbers
    share: Floats


def bounds(hits: Hits, told: Shares) -> dict[str, Bound]:
    """Bound the chance of each series under each driver, and weigh the drivers.

    Parameters
    ----------
    hits : Hits
        The alarms.
    told : Shares
        The time at risk.

    Returns
    -------
    dict of str to Bound
        By driver.
    """
    soon = (hits.begun_s[:, None] >= 0) & (
        hits.begun_s[:, None] < 60 * np.array(ARMING_MIN)[None, :]
    )
    every = np.ones(len(hits.number), dtype=bool)
    placed = ~np.isnan(hits.height)
    under = {
        "clock": Counts(_days(hits, every), _around(hits, hits.step, STEPS, every, CLOCK)),
        "weekday": _counted(hits, turning(hits.turns), every),
        "sun": Counts(
            _days(hits, placed),
            np.concatenate(
                [
                    _around(hits, hits.azimuth, AZIMUTHS, skies.low(hits.shone), SUN_LOW),
                    _around(hits, hits.azimuth, AZIMUTHS, skies.up(hits.shone), SUN_UP),
                ],
                axis=1,
            ),
        ),
        "dark": _counted(hits, skies.dark(hits.height)[:, None], placed),
        "area": _counted(hits, within(hits.other_s), every),
        "arming": _counted(hits, soon, hits.begun_s >= 0),
    }
    few = dict(under)
    for measure, level in told.levels.items():
        value = hits.air[measure]
        tall, known = hits_over(hits, value, level, measure), ~np.isnan(value)
        under[measure] = _counted(hits, tall, known)
        few[measure] = _counted(hits, tall, known & hits.asked[measure])
    heads, looks = hits.heads(), {"sun": _facing(hits.facing)}
    return {
        driver: _bound(counts, few[driver], told.of[driver][heads], looks.get(driver))
        for driver, counts in under.items()
    }


class Counts(NamedTuple):
    """Days of each series, shape (series,), and how many of them lie in each window."""

    days: Numbers
    inside: Numbers


def _days(hits: Hits, known: Flags) -> Numbers:
    return np.bincount(hits.number[known], minlength=hits.count)


def _counted(hits: Hits, member: Flags, known: Flags) -> Counts:
    """Count what is known of by windows that it is a member of."""
    heads = np.searchsorted(hits.number, np.arange(hits.count))
    inside = np.add.reduceat(member & known[:, None], heads, axis=0, dtype=np.int64)
    return Counts(_days(hits, known), inside)


def _around(
    hits: Hits, cell: Numbers, circle: int, some: Flags, windows: tuple[Numbers, Numbers]
) -> Numbers:
    """Count some alarms by windows of a circle."""
    place = hits.number[some] * circle + cell[some]
    spread = np.bincount(place, minlength=hits.count * circle).reshape(hits.count, circle)
    return sums(spread.astype(np.float64), windows).astype(np.int64)


def hits_over(hits: Hits, value: Floats, level: Floats, measure: str) -> Flags:
    """Say at which alarms a measure of the air was over each of its site's levels."""
    with np.errstate(invalid="ignore"):
        over = value[:, None] >= level[np.maximum(hits.air["source"].astype(np.int64), 0)]
    return np.asarray(over & some(measure, value)[:, None])


def _facing(facing: Floats) -> Flags:
    """Say which windows of the sun lie before a point that faces a known way."""
    begin = np.concatenate([SUN_LOW[0], SUN_UP[0]])
    width = np.concatenate([SUN_LOW[1], SUN_UP[1]])
    look = facing / (360 / AZIMUTHS)
    with np.errstate(invalid="ignore"):
        off = np.abs((begin + width / 2 - look[:, None] + AZIMUTHS / 2) % AZIMUTHS - AZIMUTHS / 2)
        return np.asarray(np.isnan(look)[:, None] | (off <= _FACING_STEPS))


def _bound(counts: Counts, few: Counts, share: Floats, allowed: Flags | None) -> Bound:
    each = np.where(np.isfinite(share), np.maximum(share, _LEAST), share)
    open_ = np.isfinite(each) if allowed is None else np.isfinite(each) & allowed
    windows = np.maximum(open_.sum(axis=1), 1)
    safe = np.where(open_, each, 1.0)
    worth = gain(counts.inside, counts.days[:, None], safe)
    best = worth.argmax(axis=1)
    # With no more hits than expected the tail is a half at least.
    more = few.inside > few.days[:, None] * safe
    tail = np.ones(safe.shape)
    days = np.broadcast_to(few.days[:, None], safe.shape)
    tail[more] = binomial_tail(few.inside[more], days[more], safe[more])
    here = np.arange(len(best))
    told = np.isfinite(each).any(axis=1) & (few.days > 0)
    return Bound(
        np.where(told, np.minimum(windows * tail.min(axis=1), 1.0), np.nan),
        np.where(told, np.round(worth[here, best] - np.log(windows), 9), -np.inf),
        best,
        counts.inside[here, best],
        counts.days,
        each[here, best],
    )
