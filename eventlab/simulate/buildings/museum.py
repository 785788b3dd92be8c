"""The museum: probing nights, then a break-in in a storm; earlier storms only rattled a window."""

from collections.abc import Iterator

from eventlab.schema import Cause, Kind, Pattern, Use
from eventlab.simulate.clock import at as moment_of
from eventlab.simulate.happenings import (
    clock_changes,
    lasting,
    mains_blip,
    reports,
    service_visit,
    stray,
)
from eventlab.simulate.model import Building, Panel, Person, Point, Push, World
from eventlab.simulate.people import attend

BREAK_IN = "2026-10-17 02:11:20"


def _story(world: World, building: Building) -> Iterator[Push]:
    yield from reports(world, building)
    yield from clock_changes(world)
    yield from _storms(world)
    yield from _probing()
    yield from _break_in(world, building)
    yield from stray(world, building, "7", "2026-04-19 04:27:50")
    yield from service_visit(
        world, building, "2026-04-28 10:15:00", "half-yearly service, all points walked",
        test_rows=False,
    )  # fmt: skip


def _storms(world: World) -> Iterator[Push]:
    """Rattle the side window and dip the mains, as storms do."""
    for when, second in (("2026-01-24 04:13:20", 95), ("2026-02-20 23:47:05", 40)):
        yield from mains_blip(world, when, 2)
        at = moment_of(when) + second
        yield Push(at, "open", zone="3", cause=Cause.ENVIRONMENT, driver="storm")
        yield Push(at + 2, "shut", zone="3", cause=Cause.ENVIRONMENT, driver="storm")


def _probing() -> Iterator[Push]:
    """Try the yard and the window on three nights; afterwards a point is taken out."""
    cause, driver = Cause.INTRUSION, "probing"
    for when in ("2026-10-06 03:14:42", "2026-10-13 01:33:05", "2026-10-13 01:36:51"):
        yield Push(moment_of(when), "move", zone="12", cause=cause, driver=driver)
    lid = moment_of("2026-10-09 02:46:10")
    yield Push(lid, "lid", zone="3", cause=cause, driver=driver)
    yield Push(lid + 210, "lid-shut", zone="3", cause=cause, driver=driver)
    yield from lasting(
        Kind.BYPASS,
        moment_of("2026-10-14 17:06:30"),
        moment_of("2026-10-19 09:31:00"),
        zone="12",
        driver="after probing",
    )


def _break_in(world: World, building: Building) -> Iterator[Push]:
    """Come in by the side window, cross the house, leave by the fire exit; nobody disarms."""
    yield from lasting(
        Kind.MAINS_LOSS,
        moment_of("2026-10-17 01:52:10"),
        moment_of("2026-10-17 01:53:02"),
        cause=Cause.POWER,
        driver="storm",
    )
    start = moment_of(BREAK_IN)
    cause, driver = Cause.INTRUSION, "break-in"
    opened = ((0, "3"), (502, "5"))
    moved = (
        (47, "10"), (52, "10"), (88, "7"), (131, "8"), (164, "9"), (239, "9"), (301, "8"),
        (377, "7"), (455, "10"),
    )  # fmt: skip
    for second, zone in opened:
        yield Push(start + second, "open", zone=zone, cause=cause, driver=driver)
    for second, zone in moved:
        yield Push(start + second, "move", zone=zone, cause=cause, driver=driver)
    comes = start + 2_190
    yield from attend(world.draw("break-in"), building, comes, stays_s=4_800)
    for zone, second in (("5", 900), ("3", 2_400)):
        yield Push(comes + second, "shut", zone=zone, cause=cause, driver=driver)
    world.tell(Pattern.POSSIBLE_INTRUSION, "1", start, comes, kind="area")
    world.tell(Pattern.REPEATED_FROM_OUTSIDE, "12", moment_of("2026-10-06 03:14:42"), start)


MUSEUM = Building(
    site="TV07",
    name="Tarn Valley Museum",
    trade="museum",
    place=(54.4998, -3.1010),
    hours=(None, (10, 17), (10, 17), (10, 17), (10, 17), (10, 17), (12, 16)),
    points=(
        Point("1", "Staff entrance", "contact", Use.ENTRY, route=True),
        Point("2", "Staff lobby", "pir", Use.FOLLOWER, route=True),
        Point("3", "Side window", "contact", Use.PERIMETER),
        Point("4", "Main doors", "contact", Use.PERIMETER),
        Point("5", "Rear fire exit", "contact", Use.PERIMETER),
        Point("6", "Entrance hall", "pir", Use.INTERIOR),
        Point("7", "Gallery 1", "dual", Use.INTERIOR),
        Point("8", "Gallery 2", "dual", Use.INTERIOR),
        Point("9", "Silver case", "vibration", Use.INTERIOR),
        Point("10", "Print room", "pir", Use.INTERIOR),
        Point("11", "Reception button", "hold-up button", Use.HOLD_UP),
        Point("12", "Yard beam", "beam", Use.OUTDOOR),
        Point("13", "Attic smoke", "smoke", Use.FIRE),
    ),
    people=(
        Person("1", "Ines Calder", opens=2, closes=1),
        Person("2", "Roland Pike", opens=1, closes=2, walk_s=12),
        Person("5", "Thea Garside", opens=1, closes=1, walk_s=16),
    ),
    story=_story,
    panel=Panel(report_s=3 * 3600 + 22 * 60, confirms=True, trip_limit=3, resets=True),
    grade="3",
    next_service="2026-11-20",
)
