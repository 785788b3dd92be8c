"""Many plain sites at once, straight as events: for measuring false findings and power.

A site is armed from closing to opening and on closed days; its points alarm by a background
that follows nothing, and one of them may follow a driver beside it.
"""

import zlib
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from eventlab.context import Context
from eventlab.context.sun import position
from eventlab.errors import UsageError
from eventlab.schema import (
    EVENT,
    OUTCOME,
    SITE,
    VISIT,
    WALL,
    ZONE,
    Kind,
    Mode,
    Phase,
    Schema,
    Timing,
    Use,
    Witness,
    conform,
    empty,
    formatted,
)
from eventlab.simulate.backgrounds import BACKGROUNDS, bad_days
from eventlab.simulate.clock import DAY_S, ZONE_NAME, public_holiday, utc, zone
from eventlab.simulate.clock import days as last_days
from eventlab.simulate.ways import NOTHING_HIDDEN, Time, Ways, comings, staying, tenant, told
from eventlab.simulate.weather import HOUR_S, Weather, make_weather, measured

PLACE = (54.5, -3.1)
FACING = (230.0, 310.0)
"""Between which directions a detector in the sun looks: where evenings are armed [deg]."""
DRIVERS = ("sun", "clock", "temperature", "wind", "rain", "arming", "dark")
AREA = "area"
"""A second tenant who comes in; sites need one (``Ways.comings``)."""

AFFECTED: Schema = {
    "site": pl.String(),
    "zone": pl.String(),
    "driver": pl.String(),
    "alarms": pl.Int64(),
}

Numbers = NDArray[np.int64]


@dataclass(frozen=True)
class Driven:
    """What one point of a site follows.

    Parameters
    ----------
    driver : str
        One of ``DRIVERS``, or ``AREA``.
    alarms : int
        How many alarm days it makes, where so many are to be had.
    """

    driver: str
    alarms: int


@dataclass(frozen=True)
class Sites:
    """Simulated sites as events.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT columns, by site and time.
    context : Context
        Site list, zone schedule, weather of one station.
    affected : polars.DataFrame
        ``site, zone, driver, alarms``: the points that follow something, and how many of
        their alarms do; nobody else follows anything.
    """

    events: pl.DataFrame
    context: Context
    affected: pl.DataFrame


def site_events(
    seed: int,
    *,
    sites: int = 1,
    days: int = 365,
    points: int = 8,
    alarms: tuple[int, int] = (4, 25),
    background: str = "bad-days",
    story: Driven | None = None,
    weather: Weather | None = None,
    ways: Ways = NOTHING_HIDDEN,
    sky: bool = False,
) -> Sites:
    """Make sites with a known truth.

    Parameters
    ----------
    seed : int
        The same seed makes the same events.
    sites, days, points : int
        How many.
    alarms : tuple of int
        Fewest and most background alarms of a point over the log.
    background : str
        One of ``BACKGROUNDS``: independent; several on bad days; spells of one to five bad
        days; bad days six times as frequent in one season as in the other.
    story : Driven, optional
        What the first point of each site follows, beside a fifth as much background.
    weather : Weather, optional
        Of all sites, such as a recorded year; simulated where left out.
    ways : Ways, optional
        What panels and detectors hide.
    sky : bool
        Whether the weather tells cloud too.

    Returns
    -------
    Sites
        Events, context, truth.

    Raises
    ------
    UsageError
        Where a background or driver is not known.
    """
    known = (*DRIVERS, AREA) if ways.comings else DRIVERS
    if background not in BACKGROUNDS or (story is not None and story.driver not in known):
        raise UsageError(
            "no such background or driver",
            do=f"Backgrounds: {', '.join(BACKGROUNDS)}; drivers: {', '.join(known)}.",
        )
    weather = weather or make_weather(seed, days)
    names = [f"S{number:04d}" for number in range(1, sites + 1)]
    frames, affected = [], []
    for name in names:
        draw = np.random.Generator(np.random.PCG64([seed, zlib.crc32(name.encode())]))
        turning = story is not None and story.driver == "arming"
        whole = _armed_time(draw, days, _TURNING if turning else _SAME)
        # A stream of its own, so that the alarms of a site do not depend on how few are told.
        hides = np.random.Generator(np.random.PCG64([seed, zlib.crc32(name.encode()), 1]))
        time, acts, opened = _areas(hides, whole, ways)
        rows = [acts]
        for point in range(1, points + 1):
            mine = time if point <= points // 2 else whole
            driven = np.zeros(0, dtype=np.int64)
            many = int(draw.integers(alarms[0], alarms[1] + 1))
            if story is not None and point == 1:
                driven = _driven(draw, mine, weather, story, opened)
                many = max(1, round(story.alarms / 5))
            at = np.concatenate([driven, _background(draw, mine, many, background)])
            order = np.argsort(at, kind="stable")
            kept, ends, bypassed = told(hides, at[order], mine, ways)
            if story is not None and point == 1:
                left = int(kept[order < len(driven)].sum())
                affected.append((name, "1", story.driver, left))
            rows += _point(point, at[order][kept], ends[kept], bypassed)
        frames.append(_frame(name, rows, ways.ring))
    return Sites(
        conform(pl.concat(frames).sort("site", "at", maintain_order=True), EVENT),
        _context(names, points, measured(weather, _start(days), sky=sky), ways),
        pl.DataFrame(affected, schema=AFFECTED, orient="row"),
    )


_SAME = (17.5,) * 7
_TURNING = (17.5, 20.0, 17.5, 20.0, 17.5, 13.0, 17.5)
"""Closing hours by weekday. Where all are the same, time since arming is the time of day."""


def _armed_time(draw: np.random.Generator, days: int, closes: tuple[float, ...]) -> Time:
    told = last_days(days + 1)
    opens = [day.weekday() < 6 and not public_holiday(day) for day in told]
    noon = np.array([utc(day, DAY_S // 2) for day in told], dtype=np.int64)
    closing = np.array([utc(day, closes[day.weekday()] * 3600) for day in told]) + draw.integers(
        -900, 1800, days + 1
    )
    opening = np.array([utc(day, 8.5 * 3600) for day in told]) + draw.integers(-1500, 900, days + 1)
    busy = np.array(opens)
    since = np.where(busy[:-1], closing[:-1], noon[:-1])
    until = np.where(busy[1:], opening[1:], noon[1:])
    return Time(noon[:-1], since.astype(np.int64), until.astype(np.int64))


def _within(draw: np.random.Generator, time: Time, day: Numbers) -> Numbers:
    """Draw a moment evenly over the armed time of each given day."""
    length = time.until[day] - time.since[day]
    return time.since[day] + (draw.random(len(day)) * (length - 10)).astype(np.int64)


def _areas(
    draw: np.random.Generator, whole: Time, ways: Ways
) -> tuple[Time, pl.DataFrame, Numbers]:
    """Give when the first half of the points is armed, rows of arming, comings of a tenant."""
    time, rows, opened = whole, [], np.zeros(0, dtype=np.int64)
    since, until = whole.periods()
    modes = np.full(len(since), str(Mode.FULL))
    if ways.part:
        time, part = staying(draw, whole)
        modes = np.where(np.isin(since, part), str(Mode.PART), modes)
        rows.append(_codes(time.since[time.since > whole.since], Kind.ARM, Mode.FULL))
    if ways.common:
        time = tenant(draw, whole)
        begins, ends = time.periods()
        rows += [
            part.with_columns(area=pl.lit("2"), person=pl.lit("2"))
            for part in (_codes(begins, Kind.ARM, Mode.FULL), _codes(ends, Kind.DISARM, None))
        ]
    if ways.comings:
        opened, closed = comings(draw, whole)
        rows += [
            _codes(at, kind, mode).with_columns(area=pl.lit("2"), person=pl.lit("2"))
            for at, kind, mode in ((opened, Kind.DISARM, None), (closed, Kind.ARM, Mode.FULL))
        ]
    armed = _codes(since, Kind.ARM, Mode.FULL).with_columns(mode=pl.Series(modes))
    every = pl.concat([armed, _codes(until, Kind.DISARM, None), *rows], how="diagonal")
    return time, every, opened


def _point(point: int, at: Numbers, ends: Numbers, bypassed: Numbers) -> list[pl.DataFrame]:
    """Give the rows of one point."""
    told = (
        (at, Kind.INTRUSION_ALARM, Phase.BEGIN),
        (ends, Kind.INTRUSION_ALARM, Phase.END),
        (bypassed, Kind.BYPASS, Phase.BEGIN),
    )
    return [
        pl.DataFrame({"s": moments}).with_columns(
            area=pl.lit("1"), zone=pl.lit(str(point)), kind=pl.lit(kind), phase=pl.lit(phase)
        )
        for moments, kind, phase in told
    ]


def _background(draw: np.random.Generator, time: Time, many: int, background: str) -> Numbers:
    hours = (time.until - time.since).astype(float)
    day = bad_days(draw, len(time.noon), many, background, hours=hours)
    return _within(draw, time, day)


def _driven(
    draw: np.random.Generator, time: Time, weather: Weather, story: Driven, opened: Numbers
) -> Numbers:
    """Draw one moment on each of several days, where the driver is strong."""
    step = 600
    count = DAY_S // step
    slot = time.noon[:, None] + np.arange(count) * step
    armed = (slot >= time.since[:, None]) & (slot + step <= time.until[:, None])
    hour = np.clip((slot - weather.start) // HOUR_S, 0, len(weather.gust) - 1)
    if story.driver == "sun":
        moments = (slot.ravel() * 1_000_000).astype("datetime64[us]")
        azimuth, height = position(moments, *PLACE)
        facing = draw.uniform(*FACING)
        struck = (np.abs(azimuth - facing) <= 25) & (height > 2) & (height < 30)
        cloud, rain = (np.asarray(of)[hour] for of in (weather.cloud, weather.rain))
        clear = draw.random(len(time.noon))[:, None] > cloud**_HIDES
        shines = clear & (rain < _SHOWER_MM) & (cloud < _OVERCAST)
        strength = struck.reshape(slot.shape) & shines
    elif story.driver == "dark":
        moments = (slot.ravel() * 1_000_000).astype("datetime64[us]")
        strength = (position(moments, *PLACE)[1] < _DUSK_DEG).reshape(slot.shape)
    elif story.driver == "arming":
        # What begins at noon goes on from the day before, unless it was closed then.
        fresh = np.append(True, time.since[1:] != time.until[:-1])
        minutes = (slot - time.since[:, None]) / 60
        strength = np.where(fresh[:, None], np.exp(-minutes / _SETTLES_MIN), 0.0)
    elif story.driver == AREA:
        before = np.searchsorted(opened, slot, side="right") - 1
        strength = (before >= 0) & (slot - opened[np.maximum(before, 0)] < step)
    elif story.driver == "clock":
        begins = int(draw.integers(*_NIGHT_SLOTS))
        strength = np.broadcast_to(np.arange(count) == begins, slot.shape)
    else:
        value = np.asarray(getattr(weather, _MEASURE[story.driver]), dtype=float)
        power = {"temperature": 0.6, "wind": 0.6, "rain": 1.5}[story.driver]
        scale = np.exp(power * (value - value.max()))
        strength = (scale * (value > 0) if story.driver == "rain" else scale)[hour]
    weight = np.where(armed, strength, 0.0)
    daily = weight.sum(axis=1)
    usable = int((daily > 0).sum())
    if usable == 0:
        return np.zeros(0, dtype=np.int64)
    chosen = draw.choice(
        len(daily), size=min(story.alarms, usable), replace=False, p=daily / daily.sum()
    )
    places = [draw.choice(count, p=weight[day] / daily[day]) for day in chosen]
    return slot[chosen, places] + draw.integers(0, step, len(chosen))


_DUSK_DEG = -6.0
"""Civil twilight ends: lamps come on, insects fly (common practice)."""
_SETTLES_MIN = 12.0
"""Fans run down, doors and air come to rest after closing (common practice)."""
_NIGHT_SLOTS = (40, 115)
"""Ten-minute steps after noon that are armed on every night: 18:40 to 07:10."""
_HIDES, _SHOWER_MM, _OVERCAST = 1.5, 0.2, 0.94
"""Where the sun shines: less often the more cloud, never in rain or under a closed sky."""
_MEASURE = {"temperature": "temperature", "wind": "gust", "rain": "rain"}


def _frame(site: str, rows: list[pl.DataFrame], ring: int) -> pl.DataFrame:
    local = pl.col("at").dt.convert_time_zone(zone().key).dt.replace_time_zone(None)
    return (
        pl.concat(rows, how="diagonal")
        .sort("s", maintain_order=True)
        .pipe(lambda every: every.tail(ring) if ring else every)
        .with_row_index("row", offset=1)
        .with_columns(
            at=pl.from_epoch("s", time_unit="s").cast(WALL).dt.replace_time_zone("UTC"),
            site=pl.lit(site),
        )
        .with_columns(
            placed="at",
            wall=local,
            timing=pl.lit(Timing.SURE),
            grain=pl.lit(1),
            witness=pl.lit(Witness.PANEL),
            source=pl.lit(f"simulated {site}"),
            piece=pl.lit(1),
            nth=pl.lit(1),
            reading=pl.lit("simulated"),
        )
        .drop("s")
    )


def _codes(at: Numbers, kind: Kind, mode: Mode | None) -> pl.DataFrame:
    return pl.DataFrame({"s": at}).with_columns(
        kind=pl.lit(kind),
        phase=pl.lit(Phase.MOMENT),
        mode=pl.lit(mode, pl.String),
        area=pl.lit("1"),
        person=pl.lit("1"),
    )


def _start(days: int) -> int:
    return utc(last_days(days + 1)[0], 0) - DAY_S


def _context(names: list[str], points: int, weather: pl.DataFrame, ways: Ways) -> Context:
    sites = pl.DataFrame({"site": names}).with_columns(
        name="site",
        time_zone=pl.lit(ZONE_NAME),
        latitude=pl.lit(PLACE[0]),
        longitude=pl.lit(PLACE[1]),
    )
    zones = pl.DataFrame({"zone": [str(n) for n in range(1, points + 1)]}).with_columns(
        name=formatted("Room {}", "zone"),
        detector=pl.lit("pir"),
        use=pl.lit(Use.INTERIOR),
        area=pl.lit(["1"]),
    )
    half = pl.int_range(pl.len()) < points // 2
    if ways.common:
        both = pl.when(half).then(pl.lit(["1", "2"])).otherwise("area")
        zones = zones.with_columns(area=both, area_rule=pl.lit("all"))
    if ways.part:
        always = pl.when(half).then(pl.lit(["full"])).otherwise(pl.lit(["full", "part"]))
        zones = zones.with_columns(armed_in=always)
    return Context(
        conform(sites, SITE),
        conform(sites.select("site").join(zones, how="cross"), ZONE),
        weather,
        empty(VISIT),
        empty(OUTCOME),
    )
