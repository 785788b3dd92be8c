"""The boathouse: wind lifts the roller door against its contact."""

from collections.abc import Iterator

from eventlab.schema import Cause, Pattern, Use
from eventlab.simulate.clock import wall
from eventlab.simulate.happenings import mains_blip, reports, service_visit, stray
from eventlab.simulate.model import Building, Panel, Person, Point, Push, World
from eventlab.simulate.people import attend, is_open
from eventlab.simulate.weather import HOUR_S

LIFTS_M_S = 14.5
"""A gust beyond this can lift the door [m/s]."""


def _story(world: World, building: Building) -> Iterator[Push]:
    yield from reports(world, building)
    yield from _wind(world, building)
    for when, minutes in (("2026-01-24 04:13:20", 2), ("2026-02-20 23:47:05", 11)):
        yield from mains_blip(world, when, minutes)
    for zone, when in (
        ("3", "2026-03-22 02:17:33"),
        ("5", "2026-05-30 04:50:18"),
        ("3", "2026-08-14 23:12:59"),
    ):
        yield from stray(world, building, zone, when)
    yield from service_visit(
        world, building, "2026-05-14 11:20:00", "yearly service; roller door guide greased",
        zones=("4",),
    )  # fmt: skip


def _wind(world: World, building: Building) -> Iterator[Push]:
    """Shake the roller door in every gusty hour, more the stronger the gust."""
    weather = world.weather
    times: list[int] = []
    for hour, gust in enumerate(weather.gust):
        start = weather.start + hour * HOUR_S
        draw = world.draw("wind", start)
        strikes = draw.chance((gust - LIFTS_M_S) * 0.1)
        if not strikes:
            continue
        local = wall(start)
        if is_open(building, local.date(), local.hour * 3600):
            continue
        at = start + draw.whole(0, HOUR_S - 400)
        for _ in range(draw.whole(1, 4)):
            stays = draw.whole(1, 3)
            yield Push(at, "open", zone="4", cause=Cause.ENVIRONMENT, driver="wind")
            yield Push(at + stays, "shut", zone="4", cause=Cause.ENVIRONMENT, driver="wind")
            times.append(at)
            at += stays + draw.whole(5, 110)
        back = at + draw.whole(2000, 3600)
        there = wall(back)
        away = is_open(building, there.date(), there.hour * 3600)
        if draw.chance(0.15) and not away and gust < 20:
            yield from attend(draw, building, back)
    began = [at for at in times if wall(at).date() in set(world.days)]
    if began:
        world.tell(Pattern.FOLLOWS_WIND, "4", began[0], began[-1])


BOATHOUSE = Building(
    site="TV06",
    name="Tarn Foot Boathouse",
    trade="boathouse",
    place=(54.4871, -3.1266),
    hours=(None, None, (10, 17), (10, 17), (10, 17), (9, 18), (9, 18)),
    points=(
        Point("1", "Slip door", "contact", Use.ENTRY, route=True),
        Point("2", "Workshop", "pir", Use.FOLLOWER, route=True, facing=135.0),
        Point("3", "Boat hall", "dual", Use.INTERIOR, facing=180.0),
        Point("4", "Roller door", "contact", Use.PERIMETER),
        Point("5", "Chandlery", "pir", Use.INTERIOR, facing=20.0),
        Point("6", "Office window", "glass-break", Use.PERIMETER),
        Point("7", "Fuel store door", "contact", Use.PERIMETER),
    ),
    people=(
        Person("1", "Joss Fell", opens=3, closes=3),
        Person("2", "Marnie Stott", opens=2, closes=2, walk_s=11),
        Person("4", "Wilf Garth", opens=1, closes=1, walk_s=17),
    ),
    story=_story,
    panel=Panel(report_s=3 * 3600 + 41 * 60, trip_limit=3),
    next_service="2027-05-01",
)
