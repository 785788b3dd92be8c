"""Years of openings and closings by people, told by clocks whose faults are known."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from eventlab.schema import EVENT, conform

HOURS = (
    ((9, 17.5),) * 5 + (None, None),
    ((8.5, 18),) * 6 + (None,),
    (None, (13, 18), None, (10, 18), (13, 18), (10, 13), None),
    ((10, 20),) * 7,
    ((16, 25),) * 6 + (None,),
)
"""Opening and closing by weekday [h]; one closes after midnight."""


@dataclass
class Year:
    """What the year of one site is like.

    Parameters
    ----------
    zone : str
        Where people live.
    rule : str
        By which rule the panel's clock runs: ``zone``, ``standard-time`` or ``utc``.
    drift : float
        Of the panel's clock [s per day].
    steps : tuple of (int, float)
        Day and size [s] by which the clock was set, forward positive.
    shifts : tuple of (date, float, float)
        From a day on people open and close by so many hours later.
    closed : tuple of (date, date)
        When nobody comes.
    """

    zone: str = "Europe/London"
    rule: str = "zone"
    drift: float = 0.0
    steps: tuple = ()
    first: date = date(2025, 1, 6)
    days: int = 360
    grain: int = 1
    centre: bool = False
    centre_rule: str = "zone"
    shifts: tuple = ()
    closed: tuple = ()
    hours: tuple = HOURS[0]
    lag: tuple = (2, 6)
    lost: float = 0.03
    late: float = 0.02
    alarms: int = 40
    more: list = field(default_factory=list)


def standard(zone: str) -> timedelta:
    """Return the offset from UTC that a zone keeps in its winter."""
    own = ZoneInfo(zone)
    return min(datetime(2025, month, 1, tzinfo=own).utcoffset() for month in (1, 7))


def told(moment: datetime, zone: str, rule: str) -> datetime:
    """Return what a clock on the wall shows at a moment."""
    if rule == "zone":
        return moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None)
    shift = standard(zone) if rule == "standard-time" else timedelta(0)
    return (moment + shift).replace(tzinfo=None)


def read(wall: datetime, zone: str) -> datetime:
    """Return the moment that a reader takes a wall time for, by the rule of the zone."""
    return wall.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def rows(site: str, year: Year, rng: np.random.Generator) -> list[dict]:
    """Live one year and tell it."""
    home = ZoneInfo(year.zone)
    acts = []
    for number in range(year.days):
        day = year.first + timedelta(days=number)
        hours = year.hours[day.weekday()]
        if hours is None or any(low <= day <= high for low, high in year.closed):
            continue
        opens, closes = hours
        for since, more, less in year.shifts:
            if day >= since:
                opens, closes = opens + more, closes + less
        if rng.random() < 0.04:
            closes += rng.uniform(1, 3)
        person = str(rng.integers(1, 4))
        for hour, kind, spread, early in ((opens, "disarm", 7, -24), (closes, "arm", 5, 13)):
            midnight = datetime(day.year, day.month, day.day, tzinfo=home)
            wall = midnight + timedelta(hours=hour, minutes=early + rng.normal(0, spread))
            acts.append((wall.astimezone(UTC), kind, "moment", None, person))
    start = datetime(year.first.year, year.first.month, year.first.day, tzinfo=UTC)
    for _ in range(year.alarms):
        at = start + timedelta(seconds=float(rng.uniform(0, year.days * 86_400)))
        acts.append((at, "intrusion-alarm", "begin", str(rng.integers(3, 9)), None))
    found = []
    for at, kind, phase, zone, person in sorted(acts, key=lambda act: act[0]):
        days = (at - start).total_seconds() / 86_400
        off = year.drift * days + sum(size for day, size in year.steps if days >= day)
        wall = told(at + timedelta(seconds=off), year.zone, year.rule)
        same = {"site": site, "kind": kind, "phase": phase, "zone": zone, "person": person,
                "true": at}  # fmt: skip
        found.append({**same, "witness": "panel", "wall": _to(wall, year.grain)})
        if year.centre and rng.random() >= year.lost:
            lag = rng.uniform(*year.lag) + (
                rng.uniform(60, 7200) if rng.random() < year.late else 0
            )
            heard = told(at + timedelta(seconds=float(lag)), year.zone, year.centre_rule)
            found.append({**same, "witness": "receiver", "wall": _to(heard, 1)})
    return found


def _to(moment: datetime, grain: int) -> datetime:
    whole = moment.replace(microsecond=0)
    since = (whole - datetime(2000, 1, 1)).total_seconds()  # noqa: DTZ001 - a wall time
    return whole - timedelta(seconds=since % grain)


def years(many: dict[str, Year], seed: int = 1) -> tuple[pl.DataFrame, list[dict]]:
    """Tell the years of several sites; the true times come in column ``true``."""
    listed = []
    for site, year in many.items():
        key = int.from_bytes(site.encode(), "big") % 2**32
        for row in rows(site, year, np.random.default_rng([seed, key])):
            at = read(row["wall"], year.zone)
            listed.append({**row, "at": at, "placed": at, "grain": year.grain})
    frame = pl.DataFrame(listed, infer_schema_length=None)
    frame = frame.with_columns(
        timing=pl.lit("sure"),
        source=pl.col("site") + pl.col("witness"),
        piece=pl.lit(1),
        nth=pl.lit(1),
        reading=pl.lit("test"),
    )
    frame = frame.with_columns(row=pl.int_range(1, pl.len() + 1).over("source"))
    events = conform(frame, EVENT).with_columns(frame["true"].cast(pl.Datetime("us", "UTC")))
    sites = [{"site": site, "time_zone": year.zone} for site, year in many.items()]
    return events.sort("site", "placed", "row"), sites
