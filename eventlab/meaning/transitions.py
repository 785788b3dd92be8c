"""The changes of each time zone, from the tz database that the ``tzdata`` package carries.

The system's own database is never asked: two machines would give two answers, and reports
could not say which one was used.
"""

from datetime import UTC, datetime
from functools import cache
from importlib import import_module, resources
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.errors import UsageError
from eventlab.schema import UTC as UTC_TYPE
from eventlab.schema import Schema

Longs = npt.NDArray[np.int64]

TRANSITION: Schema = {
    "zone": pl.String(),
    "at": UTC_TYPE,
    "before_s": pl.Int32(),
    "after_s": pl.Int32(),
}
"""One change of a zone's offset from UTC."""

_DAY = 86_400
_FIRST_YEAR, _LAST_YEAR = 1900, 2100


def tz_version() -> str:
    """Return the version of the tz database in use, such as ``2026f``."""
    return str(import_module("tzdata").IANA_VERSION)


@cache
def zone_names() -> tuple[str, ...]:
    """Return all time zone names, sorted."""
    names = (resources.files("tzdata") / "zones").read_text("utf-8").split()
    return tuple(sorted(name for name in names if name != "Factory"))  # means "not set"


@cache
def _known() -> frozenset[str]:
    return frozenset(zone_names())


def known_zone(name: str) -> bool:
    """Say whether a time zone has exactly this name."""
    return name in _known()


@cache
def _zone(name: str) -> ZoneInfo:
    if not known_zone(name):
        raise UsageError(
            f"no time zone is called {name!r}",
            do="Give a name of the tz database, such as Europe/London or Australia/Sydney",
        )
    place = resources.files("tzdata").joinpath("zoneinfo", *name.split("/"))
    with place.open("rb") as file:
        return ZoneInfo.from_file(file, key=name)


def _offset(name: str, instant: int) -> int:
    shift = datetime.fromtimestamp(instant, _zone(name)).utcoffset()
    return 0 if shift is None else int(shift.total_seconds())


def _year_start(year: int) -> int:
    return int(datetime(year, 1, 1, tzinfo=UTC).timestamp())


@cache
def _year(name: str, year: int) -> tuple[tuple[int, int, int], ...]:
    """Return the changes of one zone in one UTC year as (instant, before, after) [s]."""
    found = []
    low, end = _year_start(year), _year_start(year + 1)
    before = _offset(name, low)
    while low < end:
        high = low + _DAY
        if _offset(name, high) == before:
            low = high
            continue
        # The first instant in (low, high] with another offset; a day may hold two changes.
        left, right = low, high
        while right - left > 1:
            middle = (left + right) // 2
            left, right = (middle, right) if _offset(name, middle) == before else (left, middle)
        after = _offset(name, right)
        found.append((right, before, after))
        low, before = right, after
    # A step of a day that began before the end of the year may look into the next one.
    return tuple(change for change in found if change[0] <= end)


@cache
def changes(name: str, first: int, last: int) -> tuple[int, tuple[tuple[int, int, int], ...]]:
    """Return the offset at the start of a year and all changes up to the end of another.

    Parameters
    ----------
    name : str
        Time zone.
    first, last : int
        UTC years, both included.

    Returns
    -------
    tuple
        Offset at the start [s] and (instant [s since 1970 UTC], before [s], after [s]) of each.

    Raises
    ------
    UsageError
        If there is no such zone.
    """
    found = {c[0]: c for year in range(first, last + 1) for c in _year(name, year)}
    return _offset(name, _year_start(first)), tuple(found[at] for at in sorted(found))


def transitions(zone: str, start: datetime, end: datetime) -> pl.DataFrame:
    """Return the changes of a zone's offset from UTC in a stretch of time.

    Parameters
    ----------
    zone : str
        A name of the tz database.
    start, end : datetime
        With a time zone, or UTC where they have none; ``start`` included, ``end`` not.

    Returns
    -------
    polars.DataFrame
        ``TRANSITION``, sorted by time: ``at`` is the first instant of the new offset.

    Raises
    ------
    UsageError
        If there is no such zone.
    """
    low, high = (int((t if t.tzinfo else t.replace(tzinfo=UTC)).timestamp()) for t in (start, end))
    _, found = changes(zone, start.year - 1, end.year + 1)
    rows = [(zone, at * 1_000_000, *offsets) for at, *offsets in found if low <= at < high]
    types = {**TRANSITION, "at": pl.Int64()}
    return pl.DataFrame(rows, schema=types, orient="row").cast({"at": UTC_TYPE})


def years(low_us: int, high_us: int) -> tuple[int, int]:
    """Return the UTC years that cover two instants, with one to spare on both sides.

    Parameters
    ----------
    low_us, high_us : int
        Microseconds since 1970.

    Returns
    -------
    tuple of int
        First and last year, inside what the tz database says anything about.
    """
    year_us = 31_556_952 * 1_000_000
    first, last = (1970 + us // year_us for us in (low_us, high_us))
    return (
        min(max(first - 1, _FIRST_YEAR), _LAST_YEAR),
        min(max(last + 1, _FIRST_YEAR), _LAST_YEAR),
    )


# One sorted array for all zones: the zone's place in the upper bits, the time in the lower.
_SHIFT = 53
_HALF = 1 << 52


def keys(zone_index: Longs | int, time_us: Longs) -> Longs:
    """Join zone and time to one sortable number.

    Parameters
    ----------
    zone_index : int64 array or int
        Place of the zone in its tuple, under 1,000.
    time_us : int64 array
        Microseconds since 1970, wall or UTC; held inside the years 1827 to 2112.

    Returns
    -------
    int64 array
    """
    inside = np.clip(time_us, -_HALF, _HALF - 1)
    inside += _HALF
    inside += np.left_shift(np.asarray(zone_index, dtype=np.int64), _SHIFT)
    return inside


def _stack(table: list[tuple[int, int, int, int, int]]) -> tuple[Longs, Longs, Longs, Longs]:
    rows = np.array(table, dtype=np.int64).reshape(-1, 5)
    at = keys(rows[:, 0], rows[:, 1])
    order = np.argsort(at, kind="stable")
    return at[order], rows[order, 2], rows[order, 3], rows[order, 4]


SURE, FOLD, GAP = 0, 1, 2
_START = -_HALF


def utc_steps(zones: tuple[str, ...], first: int, last: int) -> tuple[Longs, Longs]:
    """Return where the offset changes in UTC, for several zones in one sorted array.

    Parameters
    ----------
    zones : tuple of str
        Zone names; their place is the zone index of ``keys``.
    first, last : int
        UTC years.

    Returns
    -------
    tuple of int64 array
        Keys and the offset that holds from there [us].
    """
    table = []
    for index, name in enumerate(zones):
        offset, found = changes(name, first, last)
        table.append((index, _START, offset, 0, 0))
        table += [(index, at * 1_000_000, after, 0, 0) for at, _, after in found]
    at, offset_s, _, _ = _stack(table)
    return at, offset_s * 1_000_000


def wall_steps(zones: tuple[str, ...], first: int, last: int) -> tuple[Longs, Longs, Longs, Longs]:
    """Return where the reading of a wall time changes, for several zones in one sorted array.

    Parameters
    ----------
    zones : tuple of str
        Zone names; their place is the zone index of ``keys``.
    first, last : int
        UTC years.

    Returns
    -------
    tuple of int64 array
        Keys; the offset before and after the change that the stretch belongs to [us] (the same
        where there is no doubt); and the state: ``SURE``, ``FOLD`` (the wall time occurs twice)
        or ``GAP`` (it does not occur).
    """
    second = 1_000_000
    table = []
    for index, name in enumerate(zones):
        offset, found = changes(name, first, last)
        table.append((index, _START, offset, offset, SURE))
        for at, before, after in found:
            state = FOLD if after < before else GAP
            start, end = at + min(before, after), at + max(before, after)
            table.append((index, start * second, before, after, state))
            table.append((index, end * second, after, after, SURE))
    keyed, before_s, after_s, states = _stack(table)
    return keyed, before_s * second, after_s * second, states
