"""The botanic glasshouse: low afternoon sun reaches a detector that faces west-north-west."""

from collections.abc import Iterator

import numpy as np

from eventlab.context.sun import position
from eventlab.schema import Cause, Pattern, Use
from eventlab.simulate.clock import utc, wall
from eventlab.simulate.happenings import clock_changes, mains_blip, reports, service_visit, stray
from eventlab.simulate.model import Building, Panel, Person, Point, Push, World
from eventlab.simulate.people import attend, is_open

FACING = 292.5
STEP_S = 600


def _story(world: World, building: Building) -> Iterator[Push]:
    yield from reports(world, building)
    yield from clock_changes(world)
    yield from _sun(world, building)
    yield from mains_blip(world, "2026-01-24 04:13:20", 3)
    yield from mains_blip(world, "2026-06-18 11:02:00", 4)
    for zone, when in (
        ("4", "2025-12-03 05:12:41"),
        ("6", "2026-02-17 23:40:05"),
        ("4", "2026-04-26 01:55:37"),
        ("7", "2026-07-08 03:31:12"),
        ("6", "2026-09-29 22:08:50"),
    ):
        yield from stray(world, building, zone, when)
    yield from service_visit(
        world, building, "2026-03-05 10:10:00", "yearly service, all points walked"
    )


def _sun(world: World, building: Building) -> Iterator[Push]:
    """Trip the fern house detector while clear low sun stands before it."""
    slots = [utc(day, 43_200 + STEP_S * n) for day in world.days for n in range(58)]
    moments = (np.array(slots) * 1_000_000).astype("datetime64[us]")
    azimuth, height = position(moments, *building.place)
    before = np.abs(np.round(azimuth, 2) - FACING) <= 25
    low = (np.round(height, 2) >= 2) & (np.round(height, 2) <= 24)
    struck: dict[int, list[int]] = {}
    for index in np.flatnonzero(before & low):
        slot = slots[index]
        local = wall(slot)
        seconds = local.hour * 3600 + local.minute * 60
        clear = world.weather.cloud[world.weather.hour(slot)] < 0.47
        if clear and not is_open(building, local.date(), seconds):
            struck.setdefault(local.date().toordinal(), []).append(slot)
    first, last = None, 0
    for day, hits in struck.items():
        draw = world.draw("sun", day)
        if not draw.chance(0.5):
            continue
        at = draw.pick(hits) + draw.whole(0, STEP_S - 1)
        first, last = first or at, at
        for _ in range(draw.weighted([(1, 0.6), (2, 0.3), (3, 0.1)])):
            yield Push(at, "move", zone="5", cause=Cause.ENVIRONMENT, driver="sun")
            at += draw.whole(190, 900)
        if draw.chance(0.35):
            back = at + draw.whole(1500, 2700)
            if not is_open(building, wall(back).date(), wall(back).hour * 3600):
                yield from attend(draw, building, back)
    if first:
        world.tell(Pattern.FOLLOWS_SUN, "5", first, last + 3600)


GLASSHOUSE = Building(
    site="TV02",
    name="Tarn Botanic Glasshouse",
    trade="glasshouse",
    place=(54.5123, -3.1042),
    hours=(None, (9, 16.5), (9, 16.5), (9, 16.5), (9, 16.5), (9.5, 16), None),
    points=(
        Point("1", "Main door", "contact", Use.ENTRY, route=True),
        Point("2", "Lobby", "pir", Use.FOLLOWER, route=True, facing=45.0),
        Point("3", "Potting shed door", "contact", Use.PERIMETER),
        Point("4", "Palm house", "pir", Use.INTERIOR, facing=0.0),
        Point("5", "Fern house", "pir", Use.INTERIOR, facing=FACING),
        Point("6", "Tropical house", "pir", Use.INTERIOR, facing=90.0),
        Point("7", "Seed store window", "contact", Use.PERIMETER),
        Point("8", "Fire exit", "contact", Use.PERIMETER),
    ),
    people=(
        Person("1", "Hester Vane", opens=3, closes=2),
        Person("2", "Colm Ridding", opens=2, closes=3, walk_s=12),
        Person("3", "Ada Birkett", opens=1, closes=1, walk_s=16),
    ),
    story=_story,
    panel=Panel(report_s=3 * 3600 + 17 * 60, resets=True),
    next_service="2027-03-01",
)
