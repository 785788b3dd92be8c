"""Ways of panels and detectors that hide alarms of plain sites, or the time they were armed for."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.int64]
Flags = NDArray[np.bool_]

_HOUR_S = 3600
_PART_FROM_S, _PART_TO_S = 9 * _HOUR_S, 12 * _HOUR_S
"""After noon: between 21:00 and midnight the last one leaves, and all is armed."""
_PART_SHARE = 0.3
_COMES = 0.5
_BYPASSED = 0.5
_BEFORE_S = 60


@dataclass(frozen=True)
class Ways:
    """How the panels and detectors of plain sites behave.

    Parameters
    ----------
    trip_limit : int
        Alarms of a point in one armed period before it is out, told by no row; 0 for no limit.
    latched : bool
        Whether a point that alarmed stays in alarm until the disarm.
    bypasses : bool
        Whether a point that alarmed is bypassed by half of the people who arm next; no row tells
        that this ended with the disarm.
    part : bool
        Whether on three nights of ten the first half of the points is armed only when the last one
        leaves, late in the evening.
    common : bool
        Whether the first half of the points stands in common space: armed only while a second
        tenant's area is armed too.
    comings : bool
        Whether a second tenant, whose area holds no point, comes in on some evenings.
    ring : int
        The most rows that a log holds; 0 where it holds all.
    lockout_s : int
        How long a detector sleeps after each alarm [s].
    """

    trip_limit: int = 0
    latched: bool = False
    bypasses: bool = False
    part: bool = False
    common: bool = False
    comings: bool = False
    ring: int = 0
    lockout_s: int = 0


NOTHING_HIDDEN = Ways()


@dataclass(frozen=True)
class Time:
    """Noon-to-noon days: when each begins, and from when to when it is armed [s since 1970]."""

    noon: Numbers
    since: Numbers
    until: Numbers

    def periods(self) -> tuple[Numbers, Numbers]:
        """Give when each armed period begins and ends; one runs on over noon."""
        on = self.until > self.since
        joined = (self.since[1:] == self.until[:-1]) & on[1:] & on[:-1]
        starts = on & ~np.append(False, joined)
        stops = on & ~np.append(joined, False)
        return self.since[starts], self.until[stops]


def staying(draw: np.random.Generator, time: Time) -> tuple[Time, Numbers]:
    """Arm in part first on some nights: give the wholly armed time, and where the part begins."""
    late = time.noon + draw.integers(_PART_FROM_S, _PART_TO_S, len(time.noon))
    stays = (draw.random(len(late)) < _PART_SHARE) & (time.since > time.noon)
    stays &= (time.since < late) & (late < time.until)
    return replace(time, since=np.where(stays, late, time.since)), time.since[stays]


def tenant(draw: np.random.Generator, time: Time) -> Time:
    """Give the armed time of a second tenant, who closes later and opens earlier."""
    busy, opens = time.since > time.noon, time.until < time.noon + 24 * _HOUR_S
    later = time.since + draw.integers(0, 4 * _HOUR_S, len(busy))
    early = time.until - draw.integers(0, 2 * _HOUR_S, len(busy))
    return replace(
        time,
        since=np.where(busy, later, time.since),
        until=np.where(opens, early, time.until),
    )


def comings(draw: np.random.Generator, time: Time) -> tuple[Numbers, Numbers]:
    """Say when a second tenant opens an area, and closes it again, while all else is armed."""
    opened = time.noon + draw.integers(8 * _HOUR_S, 14 * _HOUR_S, len(time.noon))
    comes = (draw.random(len(opened)) < _COMES) & (time.since < opened) & (opened < time.until)
    return opened[comes], opened[comes] + draw.integers(_HOUR_S // 2, 2 * _HOUR_S, int(comes.sum()))


def told(
    draw: np.random.Generator, at: Numbers, time: Time, ways: Ways
) -> tuple[Flags, Numbers, Numbers]:
    """Say which alarms of one point come to be told.

    Parameters
    ----------
    draw : numpy.random.Generator
        Stream of the point.
    at : numpy.ndarray of int
        Alarms, ascending [s].
    time : Time
        When the point was armed.
    ways : Ways
        What hides them.

    Returns
    -------
    kept : numpy.ndarray of bool
        Whether each is told.
    ends : numpy.ndarray of int
        When each is over [s].
    bypassed : numpy.ndarray of int
        When the point was bypassed [s].
    """
    begins, stops = time.periods()
    period = np.searchsorted(begins, at, side="right") - 1
    most = 1 if ways.latched else ways.trip_limit or len(at) + 1
    kept = np.zeros(len(at), dtype=bool)
    bypassed = []
    trips, last, now, out = 0, -np.inf, -1, -1
    for place, (moment, number) in enumerate(zip(at, period, strict=True)):
        if number != now:
            # The period after one with an alarm is the one that it may be bypassed for.
            if ways.bypasses and trips and now + 1 < len(begins) and draw.random() < _BYPASSED:
                bypassed.append(begins[now + 1] - _BEFORE_S)
                out = now + 1
            now, trips = number, 0
        if number == out or trips >= most or moment - last < ways.lockout_s:
            continue
        kept[place], last, trips = True, moment, trips + 1
    ends = stops[np.maximum(period, 0)] if ways.latched else at + 4
    return kept, ends, np.array(bypassed, dtype=np.int64)
