"""Buildings where nothing is wrong: only what happens anywhere."""

from collections.abc import Iterator

from eventlab.schema import Cause, Kind, Use
from eventlab.simulate.clock import at as moment_of
from eventlab.simulate.happenings import lasting, mains_blip, reports, service_visit, stray
from eventlab.simulate.model import Building, Panel, Person, Point, Push, World


def _bypass(zone: str, since: str, until: str) -> Iterator[Push]:
    yield from lasting(
        Kind.BYPASS, moment_of(since), moment_of(until), zone=zone, driver="same day"
    )


def _central(world: World, building: Building) -> Iterator[Push]:
    yield from reports(world, building)
    yield from mains_blip(world, "2026-03-11 13:40:05", 6)
    yield from stray(world, building, "6", "2026-05-17 03:22:48")
    yield from _bypass("8", "2026-06-23 09:20:10", "2026-06-23 16:40:33")
    yield from service_visit(
        world, building, "2026-03-24 10:00:00", "yearly service, all points walked",
        test_rows=False,
    )  # fmt: skip


def _hillside(world: World, building: Building) -> Iterator[Push]:
    yield from reports(world, building)
    yield from stray(world, building, "4", "2026-09-05 23:41:17")
    yield from lasting(
        Kind.DEVICE_BATTERY_LOW,
        moment_of("2026-08-25 04:00:00"),
        moment_of("2026-08-27 11:15:00"),
        zone="7",
        cause=Cause.RADIO,
        driver="replaced",
    )


def _upper(world: World, building: Building) -> Iterator[Push]:
    yield from reports(world, building)
    yield from mains_blip(world, "2026-07-21 16:05:44", 9)
    yield from stray(world, building, "3", "2026-08-09 04:44:02")


def _lower(world: World, building: Building) -> Iterator[Push]:
    yield from reports(world, building)
    yield from stray(world, building, "2", "2026-06-13 21:17:36")
    yield from _bypass("3", "2026-09-16 14:05:00", "2026-09-16 17:31:20")


CENTRAL_LIBRARY = Building(
    site="TV01",
    name="Tarn Bridge Central Library",
    trade="library",
    place=(54.5000, -3.1000),
    hours=((9, 18), (9, 20), (9, 18), (9, 20), (9, 18), (9, 17), None),
    points=(
        Point("1", "Staff entrance", "contact", Use.ENTRY, route=True),
        Point("2", "Staff lobby", "pir", Use.FOLLOWER, route=True),
        Point("3", "Main doors", "contact", Use.PERIMETER),
        Point("4", "Lending hall", "pir", Use.INTERIOR, facing=190.0),
        Point("5", "Children's library", "pir", Use.INTERIOR, facing=80.0),
        Point("6", "Reference room", "pir", Use.INTERIOR, facing=10.0),
        Point("7", "Fire exit east", "contact", Use.PERIMETER),
        Point("8", "Fire exit west", "contact", Use.PERIMETER),
        Point("9", "Office corridor", "pir", Use.INTERIOR, area="2"),
        Point("10", "Local studies store", "pir", Use.INTERIOR, area="2"),
        Point("11", "Deeds safe", "vibration", Use.ALL_HOURS, area="2"),
        Point("12", "Issue desk button", "hold-up button", Use.HOLD_UP),
        Point("13", "Boiler room smoke", "smoke", Use.FIRE),
    ),
    people=(
        Person("1", "Harriet Dean", opens=2, closes=1),
        Person("2", "Omar Lisle", opens=2, closes=2, walk_s=12),
        Person("3", "Freya Mounsey", opens=1, closes=2, walk_s=15),
        Person("4", "Stan Iveson", opens=1, closes=1, walk_s=13),
    ),
    story=_central,
    panel=Panel(report_s=3 * 3600 + 5 * 60, resets=False),
    late=("2026-09-10",),
    grade="3",
    next_service="2027-03-20",
)

HILLSIDE_LIBRARY = Building(
    site="TV10",
    name="Hillside Library",
    trade="library",
    place=(54.4765, -3.0544),
    hours=((9.5, 17), (9.5, 17), None, (9.5, 18), (9.5, 17), (9.5, 12.5), None),
    points=(
        Point("1", "Front door", "contact", Use.ENTRY, route=True),
        Point("2", "Porch", "pir", Use.FOLLOWER, route=True),
        Point("3", "Library room", "pir", Use.INTERIOR, facing=140.0),
        Point("4", "Study room", "pir", Use.INTERIOR, facing=30.0),
        Point("5", "Kitchen", "pir", Use.INTERIOR),
        Point("6", "Garden door", "contact", Use.PERIMETER),
        Point("7", "Cellar window", "contact", Use.PERIMETER, link="radio"),
    ),
    people=(
        Person("2", "Leah Winder", opens=2, closes=2),
        Person("5", "Petra Lowe", opens=2, closes=2, walk_s=12),
    ),
    story=_hillside,
    panel=Panel(report_s=4 * 3600, activations=True),
    keyholder="5",
)


def _reading_room(site: str, name: str, place: tuple[float, float], **more: object) -> Building:
    return Building(
        site=site,
        name=name,
        trade="reading room",
        place=place,
        hours=(None, (13, 18), None, (13, 18), None, (10, 13), None),
        points=(
            Point("1", "Door", "contact", Use.ENTRY, route=True),
            Point("2", "Reading room", "pir", Use.INTERIOR),
            Point("3", "Rear window", "contact", Use.PERIMETER),
            Point("4", "Store", "pir", Use.INTERIOR),
        ),
        people=(Person("1", "Edie Holroyd"), Person("2", "Gil Pattinson", walk_s=11)),
        panel=Panel(report_s=3 * 3600 + 48 * 60),
        told_days=200,
        **more,  # type: ignore[arg-type]  # field names are given below
    )


UPPER_READING_ROOM = _reading_room(
    "TV11", "Upper Tarn Reading Room", (54.5614, -3.1228), story=_upper, late=("2026-10-08",)
)
LOWER_READING_ROOM = _reading_room(
    "TV12", "Lower Tarn Reading Room", (54.4612, -3.0831), story=_lower
)
