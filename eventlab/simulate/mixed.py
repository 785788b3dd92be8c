"""Ordinary sites with alarms of every cause, in about the shares that the trade publishes."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from eventlab.context import Context
from eventlab.schema import SITE, UTC, WALL, WEATHER, ZONE, Cause, Kind, Phase, Use, conform
from eventlab.simulate.breaking import break_in
from eventlab.simulate.causing import HAPPENINGS, PLACE, harmless
from eventlab.simulate.clock import ZONE_NAME, moment
from eventlab.simulate.draw import Draw
from eventlab.simulate.living import Lived, live
from eventlab.simulate.model import Building, Panel, Person, Point, Push, World
from eventlab.simulate.telling import Telling, as_events
from eventlab.simulate.weather import HOUR_S, STATION, Weather, make_weather

TRUE: Mapping[str, pl.DataType] = {
    "site": pl.String(),
    "at": UTC,
    "zone": pl.String(),
    "cause": pl.String(),
    "driver": pl.String(),
}
_HOURS: tuple[tuple[tuple[float, float] | None, ...], ...] = (
    ((9, 17.5),) * 5 + (None, None),
    ((8.5, 18),) * 6 + (None,),
    ((10, 20),) * 7,
)
_DAYS = 330

MIX: Mapping[Cause, float] = {
    Cause.PERSON_ENTERING: 5.6,
    Cause.PERSON_LEAVING: 2.9,
    Cause.ENVIRONMENT: 2.9,
    Cause.DETECTOR: 2.7,
    Cause.POWER: 0.7,
    Cause.RADIO: 0.5,
    Cause.PATH: 0.35,
    Cause.SERVICE: 0.5,
    Cause.INTRUSION: 0.5,
    Cause.UNEXPLAINED: 1.1,
}
"""Alarm nights of each cause at a site in a year, about: users one half, of them two thirds at
entry, then surroundings and equipment, real ones 2 to 6 in 100 (Gill and Hemming 2003, told in
POP guide 5; the rest common practice)."""


@dataclass(frozen=True)
class Mixed:
    """Sites as events, with what is known and the true cause of every alarm.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT columns.
    context : Context
        Site list, zone schedules, weather.
    true : polars.DataFrame
        ``site, at, zone, cause, driver`` of every alarm that a panel logged.
    """

    events: pl.DataFrame
    context: Context
    true: pl.DataFrame


def mixed(
    seed: int,
    *,
    sites: int,
    shifted: bool = False,
    break_ins: Sequence[str] = (),
    days: int = _DAYS,
) -> Mixed:
    """Make sites at which alarms of every cause happen.

    Parameters
    ----------
    seed : int
        The same seed makes the same sites.
    sites : int
        How many.
    shifted : bool
        Another world: surroundings, equipment and what nobody explains three times as frequent,
        effects of other shapes, panels that tell otherwise.
    break_ins : sequence of str
        Ways of ``breaking.WAYS``, taken in turn: each site has one break-in of it, no other, and
        two areas.
    days : int
        How many are told.

    Returns
    -------
    Mixed
        Events, context, truth.
    """
    weather = make_weather(seed, 366)
    lived, telling = [], {}
    for number in range(sites):
        way = break_ins[number % len(break_ins)] if break_ins else ""
        one = live(seed, days, _building(seed, f"M{number:05d}", shifted, days, way), weather)
        draw = Draw(seed, one.building.site, "telling")
        lived.append(one)
        telling[one.building.site] = Telling(
            centre=draw.chance(0.4), grain=60 if draw.chance(0.3 if shifted else 0.1) else 1
        )
    return Mixed(as_events(lived, telling), _context(lived, weather), _true(lived))


def _building(seed: int, site: str, shifted: bool, days: int, way: str) -> Building:
    draw = Draw(seed, site, "building")
    radio = draw.chance(0.5)
    points = [
        Point("1", "Front door", "contact", Use.ENTRY, route=True),
        Point("2", "Lobby", "pir", Use.FOLLOWER, route=True),
    ]
    for number in range(3, draw.whole(8, 12)):
        window = number in {3, 4} or (number > 6 and draw.chance(0.4))
        points.append(
            Point(
                str(number),
                f"Window {number}" if window else f"Room {number}",
                "contact" if window else "pir",
                Use.PERIMETER if window else Use.INTERIOR,
                link="radio" if radio else "wired",
                area="2" if way and number > 5 else "1",
            )
        )
    late = Cause.PERSON_ENTERING, Cause.PERSON_LEAVING
    shares = [_rate(draw, cause, shifted) / 290 for cause in late]
    people = tuple(
        Person(
            str(number), f"Person {number}", walk_s=draw.between(9, 20),
            hurried=shares[0] * weight, dawdles=shares[1] * weight,
        )
        for number, weight in ((1, 0.5), (2, 0.7), (3, 1.8))
    )  # fmt: skip
    panel = Panel(
        entry_s=draw.pick((30, 45)),
        exit_s=draw.pick((45, 60)),
        trip_limit=draw.pick((1, 2, 3)),
        restores=draw.weighted([("live", 3), ("at-disarm", 1)]),
        arm_at=draw.pick(("start", "end")),
        confirms=draw.chance(0.4),
        resets=draw.chance(0.3),
    )

    def story(world: World, building: Building) -> Iterator[Push]:
        if way:
            yield from break_in(world, building, way)
        for cause, happens in HAPPENINGS.items():
            if way and cause is Cause.INTRUSION:
                continue
            drawn = world.draw("how many", cause)
            many = _many(drawn, _rate(drawn, cause, shifted) * days / 365)
            yield from happens(world, building, many, shifted)
        if not way:
            yield from harmless(world)

    return Building(
        site=site,
        name=site,
        trade="shop",
        place=PLACE,
        hours=draw.pick(_HOURS),
        points=tuple(points),
        people=people,
        story=story,
        panel=panel,
    )


def _rate(draw: Draw, cause: Cause, shifted: bool) -> float:
    """Draw the nights a year of one cause at one site: few sites have most of each."""
    uneven = draw.weighted([(0.2, 5), (1.0, 3), (3.0, 2)])
    more = 3.0 if shifted and cause in _MORE else 1.0
    return MIX[cause] * uneven * more


_MORE = frozenset({Cause.ENVIRONMENT, Cause.DETECTOR, Cause.UNEXPLAINED})


def _many(draw: Draw, rate: float) -> int:
    many, left = 0, draw.wait(1.0)
    while left < rate:
        many, left = many + 1, left + draw.wait(1.0)
    return many


_ALARMS = frozenset({Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM, Kind.TAMPER_ALARM})


def _true(lived: list[Lived]) -> pl.DataFrame:
    rows = [
        (one.building.site, moment(record.at), record.zone, str(record.cause), record.driver)
        for one in lived
        for record in one.panel
        if record.kind in _ALARMS
        and record.phase is Phase.BEGIN
        and not record.note
        and record.cause is not None
    ]
    return pl.DataFrame(rows, schema=dict(TRUE), orient="row")


def _context(lived: list[Lived], weather: Weather) -> Context:
    sites, zones = [], []
    for one in lived:
        b = one.building
        sites.append(
            {"site": b.site, "name": b.name, "time_zone": ZONE_NAME, "latitude": PLACE[0],
             "longitude": PLACE[1], "entry_delay_s": b.panel.entry_s,
             "exit_delay_s": b.panel.exit_s}
        )  # fmt: skip
        zones += [
            {"site": b.site, "zone": p.zone, "name": p.name, "detector": p.detector,
             "use": str(p.use), "area": [p.area], "link": p.link, "entry_route": p.route}
            for p in b.points
        ]  # fmt: skip
    hours = pl.DataFrame(
        {
            "s": weather.start + np.arange(len(weather.gust)) * HOUR_S,
            "temperature_c": weather.temperature,
            "wind_m_s": weather.wind,
            "gust_m_s": weather.gust,
            "rain_mm": weather.rain,
            "told": weather.told,
        }
    ).filter("told")
    at = pl.from_epoch("s", time_unit="s").cast(WALL).dt.replace_time_zone("UTC").cast(UTC)
    return replace(
        Context.empty(),
        sites=conform(pl.DataFrame(sites), SITE),
        zones=conform(pl.DataFrame(zones), ZONE),
        weather=conform(hours.with_columns(at=at, station=pl.lit(STATION)), WEATHER),
    )
