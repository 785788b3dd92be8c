"""Days and wall clocks of the simulated valley, by the time-zone data that the project ships."""

from datetime import UTC, date, datetime, timedelta
from functools import cache
from importlib.resources import files
from zoneinfo import ZoneInfo

ZONE_NAME = "Europe/London"
END = date(2026, 11, 1)
"""The logs are taken at the first minute of this day."""

DAY_S = 86_400

_CLOSED = frozenset(
    {
        date(2025, 12, 24),
        date(2025, 12, 25),
        date(2025, 12, 26),
        date(2026, 1, 1),
        date(2026, 4, 3),
        date(2026, 4, 6),
        date(2026, 5, 4),
        date(2026, 5, 25),
        date(2026, 8, 31),
    }
)


@cache
def zone() -> ZoneInfo:
    """Return the valley's time zone from the ``tzdata`` package, not from the machine."""
    place = files("tzdata.zoneinfo").joinpath(*ZONE_NAME.split("/"))
    with place.open("rb") as data:
        return ZoneInfo.from_file(data, key=ZONE_NAME)


def utc(day: date, seconds: float, *, fold: int = 0) -> int:
    """Return the moment at which the wall clock shows a time on a day.

    Parameters
    ----------
    day : datetime.date
        Day on the wall.
    seconds : float
        Seconds of the wall clock since midnight; may run over into the next day.
    fold : int
        1 for the second showing of a repeated hour.

    Returns
    -------
    int
        Seconds since 1970 UTC.
    """
    shown = datetime(day.year, day.month, day.day) + timedelta(seconds=round(seconds))  # noqa: DTZ001 - a wall time, placed in its zone next
    return int(shown.replace(tzinfo=zone(), fold=fold).timestamp())


def at(text: str, *, fold: int = 0) -> int:
    """Return the moment of a wall time written ``2026-10-17 02:11:20``."""
    return int(datetime.fromisoformat(text).replace(tzinfo=zone(), fold=fold).timestamp())


def wall(moment: int) -> datetime:
    """Return what the wall clock shows at a moment, with its zone."""
    return datetime.fromtimestamp(moment, zone())


def moment(seconds: int) -> datetime:
    """Return a moment as a UTC datetime."""
    return datetime.fromtimestamp(seconds, UTC)


def days(count: int) -> list[date]:
    """Return the last ``count`` days before the logs are taken."""
    return [END - timedelta(days=back) for back in range(count, 0, -1)]


def public_holiday(day: date) -> bool:
    """Tell whether every building of the valley is closed."""
    return day in _CLOSED
