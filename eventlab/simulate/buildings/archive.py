"""The archive: a loose contact on a strongroom door chatters by day and by night."""

from collections.abc import Iterator
from datetime import date

from eventlab.schema import Cause, Pattern, Use
from eventlab.simulate.clock import at as moment_of
from eventlab.simulate.clock import utc
from eventlab.simulate.happenings import clock_changes, reports, service_visit, stray
from eventlab.simulate.model import Building, Panel, Person, Point, Push, World
from eventlab.simulate.people import attend

LOOSE = "6"
BEGAN = date(2026, 6, 2)


def _story(world: World, building: Building) -> Iterator[Push]:
    yield from reports(world, building)
    yield from clock_changes(world)
    yield from _loose(world, building)
    for zone, when in (("7", "2026-01-11 04:02:22"), ("3", "2026-04-12 21:15:48")):
        yield from stray(world, building, zone, when)
    yield from service_visit(
        world, building, "2026-02-11 10:30:00", "yearly service, all points walked",
        test_rows=False,
    )  # fmt: skip


def _loose(world: World, building: Building) -> Iterator[Push]:
    """Break and make the joint in bursts, on more and more days."""
    first = last = None
    for day in world.days:
        age = (day - BEGAN).days
        draw = world.draw("loose", day.toordinal())
        if age < 0 or not draw.chance(0.05 + age * 0.0011):
            continue
        for _ in range(draw.whole(1, 3)):
            inside = building.hours[day.weekday()] is not None and draw.chance(0.6)
            start = utc(day, draw.whole(36_000, 57_600) if inside else draw.whole(0, 86_399))
            first, last = first or start, start
            yield from _burst(world, start)
        if draw.chance(0.3):
            yield from attend(draw, building, utc(day, 21 * 3600 + draw.whole(0, 3000)))
    # The night on which the clock goes back: one burst in each showing of the same hour.
    for fold in (0, 1):
        start = moment_of("2026-10-25 01:20:10", fold=fold)
        last = start
        yield from _burst(world, start)
    if first:
        world.tell(Pattern.CHATTERING, LOOSE, first, last)


def _burst(world: World, start: int) -> Iterator[Push]:
    draw = world.draw("burst", start)
    at = start
    for _ in range(draw.whole(3, 11)):
        stays = draw.whole(1, 2)
        yield Push(at, "open", zone=LOOSE, cause=Cause.DETECTOR, driver="loose joint")
        yield Push(at + stays, "shut", zone=LOOSE, cause=Cause.DETECTOR, driver="loose joint")
        at += stays + draw.whole(1, 5)


ARCHIVE = Building(
    site="TV03",
    name="Tarn Valley Archive",
    trade="archive",
    place=(54.4969, -3.0985),
    hours=(None, (9.5, 16.5), (9.5, 16.5), (9.5, 16.5), None, None, None),
    points=(
        Point("1", "Front door", "contact", Use.ENTRY, route=True),
        Point("2", "Entrance hall", "pir", Use.FOLLOWER, route=True),
        Point("3", "Search room", "pir", Use.INTERIOR, facing=200.0),
        Point("4", "Strongroom 1 door", "contact", Use.PERIMETER),
        Point("5", "Strongroom 1", "pir", Use.INTERIOR),
        Point("6", "Strongroom 2 door", "contact", Use.PERIMETER),
        Point("7", "Strongroom 2", "pir", Use.INTERIOR),
        Point("8", "Rear fire exit", "contact", Use.PERIMETER),
        Point("9", "Loading door", "contact", Use.PERIMETER),
    ),
    people=(
        Person("1", "Miriam Harrow", opens=2, closes=2),
        Person("3", "Edwin Sloe", opens=2, closes=1, walk_s=17),
        Person("4", "Ruth Calva", opens=1, closes=2, walk_s=12),
    ),
    story=_story,
    panel=Panel(report_s=2 * 3600 + 50 * 60, activations=True, trip_limit=3, arm_at="end"),
    grade="3",
    next_service="2027-02-01",
)
