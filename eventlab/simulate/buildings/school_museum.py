"""The school museum: nobody ended the test with the monitoring centre after a visit."""

from collections.abc import Iterator

from eventlab.schema import Pattern, Use
from eventlab.simulate.clock import at as moment_of
from eventlab.simulate.happenings import mains_blip, reports, service_visit, stray
from eventlab.simulate.model import Building, Panel, Person, Point, Push, World

VISIT = "2026-09-22 10:05:00"


def _story(world: World, building: Building) -> Iterator[Push]:
    yield from reports(world, building)
    yield from mains_blip(world, "2026-01-14 08:52:30", 35)
    for zone, when in (
        ("5", "2026-02-26 03:40:12"),
        ("4", "2026-07-04 22:31:50"),
        ("6", "2026-10-11 01:48:27"),
    ):
        yield from stray(world, building, zone, when)
    yield from service_visit(
        world, building, VISIT, "yearly service, lid spring of 5 replaced",
        zones=("5",), test_rows=False, lids=("5",), left=True,
    )  # fmt: skip
    world.tell(Pattern.LEFT_ON_TEST, "TV09", moment_of(VISIT), kind="site")


SCHOOL_MUSEUM = Building(
    site="TV09",
    name="Old School Museum",
    trade="museum",
    place=(54.5170, -3.0620),
    hours=(None, (10, 16), (10, 16), (10, 16), (10, 16), (10, 16), None),
    points=(
        Point("1", "Porch door", "contact", Use.ENTRY, route=True),
        Point("2", "Cloakroom", "pir", Use.FOLLOWER, route=True),
        Point("3", "Classroom door", "contact", Use.PERIMETER),
        Point("4", "Classroom", "pir", Use.INTERIOR, facing=210.0),
        Point("5", "Hall", "pir", Use.INTERIOR),
        Point("6", "Bell loft hatch", "contact", Use.PERIMETER),
    ),
    people=(
        Person("1", "Clara Benson", opens=2, closes=2),
        Person("2", "Hugh Tyson", opens=1, closes=1, walk_s=16),
    ),
    story=_story,
    panel=Panel(report_s=2 * 3600 + 35 * 60, resets=True),
    told_days=300,
)
