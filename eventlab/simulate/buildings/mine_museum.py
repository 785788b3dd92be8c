"""The mine museum: a long mains outage on a tired battery, later a path that dies in silence."""

from collections.abc import Iterator

from eventlab.schema import Cause, Kind, Pattern, Phase, Use
from eventlab.simulate.clock import at as moment_of
from eventlab.simulate.happenings import condition, lasting, mains_blip, reports, stray
from eventlab.simulate.model import Building, Panel, Person, Point, Push, World

PATH_DIES = "2026-10-02 12:00:00"


def _story(world: World, building: Building) -> Iterator[Push]:
    dies = moment_of(PATH_DIES)
    yield from reports(world, building, until=dies)
    # Two short faults of the path, restored, before the end of it.
    for when, minutes in (("2026-03-02 14:20:31", 7), ("2026-07-29 03:02:10", 12)):
        since = moment_of(when)
        yield from lasting(
            Kind.COMMS_FAIL, since, since + minutes * 60, cause=Cause.PATH, driver="short"
        )
    yield condition(
        moment_of("2026-10-03 03:58:26"), Kind.COMMS_FAIL, Phase.BEGIN, cause=Cause.PATH,
        driver="dead",
    )  # fmt: skip
    world.tell(Pattern.PATH_DOWN, "TV08", moment_of("2026-10-03 03:58:26"), kind="site")
    yield from _outage(world)
    yield from mains_blip(world, "2026-05-08 10:40:15", 8)
    for zone, when in (("4", "2026-02-01 02:30:11"), ("6", "2026-06-28 23:05:46")):
        yield from stray(world, building, zone, when)


def _outage(world: World) -> Iterator[Push]:
    """Lose the mains for a night and a morning; the battery runs low before it is back."""
    since, until = moment_of("2025-12-09 18:21:40"), moment_of("2025-12-10 11:02:15")
    low = moment_of("2025-12-10 03:44:08")
    yield from lasting(Kind.MAINS_LOSS, since, until, cause=Cause.POWER, driver="outage")
    yield from lasting(
        Kind.SYSTEM_BATTERY_LOW, low, until + 14_400, cause=Cause.POWER, driver="outage"
    )
    world.tell(Pattern.MAINS_OUT, "TV08", since, until, kind="site")


MINE_MUSEUM = Building(
    site="TV08",
    name="Greyrigg Mine Museum",
    trade="museum",
    place=(54.5442, -3.1493),
    hours=((10, 16), (10, 16), None, (10, 16), (10, 16), (10, 16.5), (10, 16.5)),
    points=(
        Point("1", "Ticket office door", "contact", Use.ENTRY, route=True),
        Point("2", "Ticket office", "pir", Use.FOLLOWER, route=True),
        Point("3", "Adit gate", "contact", Use.PERIMETER),
        Point("4", "Engine house", "dual", Use.INTERIOR),
        Point("5", "Mineral room", "pir", Use.INTERIOR, facing=110.0),
        Point("6", "Smithy", "pir", Use.INTERIOR),
        Point("7", "Store window", "contact", Use.PERIMETER),
    ),
    people=(
        Person("1", "Nell Askew", opens=2, closes=2),
        Person("2", "Ivor Thwaite", opens=2, closes=1, walk_s=17),
        Person("3", "Bea Lorton", opens=1, closes=2, walk_s=11),
    ),
    story=_story,
    panel=Panel(report_s=3 * 3600 + 55 * 60, restores="at-disarm"),
)
