"""The branch library: a keypad far from the door, people in a hurry, people who stay late."""

from collections.abc import Iterator

from eventlab.schema import Cause, Kind, Pattern, Use
from eventlab.simulate.clock import at as moment_of
from eventlab.simulate.happenings import mains_blip, reports, stray
from eventlab.simulate.model import Building, Panel, Person, Point, Push, World


def _story(world: World, building: Building) -> Iterator[Push]:
    yield from reports(world, building)
    yield from mains_blip(world, "2026-02-03 19:25:00", 5)
    for zone, when in (("4", "2026-03-15 02:41:09"), ("7", "2026-07-19 23:58:31")):
        yield from stray(world, building, zone, when)
    # The button at the counter was pressed in earnest.
    pressed = moment_of("2026-05-21 15:47:12")
    yield Push(pressed, "open", zone="9", cause=Cause.UNEXPLAINED, driver=Kind.HOLD_UP)
    yield Push(pressed + 310, "shut", zone="9", cause=Cause.UNEXPLAINED, driver=Kind.HOLD_UP)
    for person in ("4", "7"):
        world.tell(Pattern.ENTRY_OVERRUN, person, world.start, kind="person")
    world.tell(Pattern.EXIT_OVERRUN, "7", world.start, kind="person")
    world.tell(Pattern.LATE_CLOSING, "1", world.start, kind="area")


BRANCH_LIBRARY = Building(
    site="TV04",
    name="Fellside Branch Library",
    trade="library",
    place=(54.5307, -3.0711),
    hours=((9, 17), (9, 19), (9, 17), (9, 19), (9, 17), (9.5, 13), None),
    points=(
        Point("1", "Main entrance", "contact", Use.ENTRY, route=True),
        Point("2", "Foyer", "pir", Use.FOLLOWER, route=True),
        Point("3", "Lending room", "pir", Use.INTERIOR, facing=160.0),
        Point("4", "Reading room", "pir", Use.INTERIOR, facing=70.0),
        Point("5", "Staff room", "pir", Use.INTERIOR),
        Point("6", "Rear door", "contact", Use.PERIMETER),
        Point("7", "Children's corner window", "contact", Use.PERIMETER),
        Point("8", "Café shutter", "contact", Use.PERIMETER),
        Point("9", "Counter button", "hold-up button", Use.HOLD_UP),
    ),
    people=(
        Person("2", "Dorothy Lund", opens=2, closes=2, walk_s=20),
        Person("4", "Zoë Ashdown", opens=2, closes=2, walk_s=23, hurried=0.13, lingers=0.09),
        Person("5", "Bernard Troy", opens=2, closes=2, walk_s=19),
        Person("7", "Françoise Keld", opens=2, closes=2, walk_s=24, hurried=0.15, dawdles=0.10),
    ),
    story=_story,
    panel=Panel(report_s=4 * 3600 + 5 * 60, memory=True, arm_at="end"),
    keyholder="2",
)
