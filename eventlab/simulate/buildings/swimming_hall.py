"""The swimming hall: wireless contacts whose batteries die and which fall silent."""

from collections.abc import Iterator
from functools import partial

from eventlab.schema import Cause, Kind, Pattern, Phase, Use
from eventlab.simulate.clock import DAY_S
from eventlab.simulate.clock import at as moment_of
from eventlab.simulate.happenings import (
    clock_changes,
    condition,
    lasting,
    reports,
    service_visit,
    stray,
)
from eventlab.simulate.model import Building, Panel, Person, Point, Push, World

WATCH = "03:12:40"
"""The receiver tells what it has found wrong once a day at this time."""


def _story(world: World, building: Building) -> Iterator[Push]:
    yield from reports(world, building)
    yield from clock_changes(world)
    yield from _batteries(world)
    yield from _silences(world)
    for zone, when in (("5", "2026-01-18 05:21:07"), ("3", "2026-06-07 22:49:55")):
        yield from stray(world, building, zone, when)
    # Smoke in the plant room, by day, seen to by the staff.
    smoke = moment_of("2026-03-14 14:12:31")
    yield Push(smoke, "open", zone="20", cause=Cause.UNEXPLAINED, driver=Kind.FIRE)
    yield Push(smoke + 1124, "shut", zone="20", cause=Cause.UNEXPLAINED, driver=Kind.FIRE)
    yield from service_visit(
        world, building, "2026-02-24 13:05:00", "new cell in 12, all points walked",
        zones=("12",),
    )  # fmt: skip


def _batteries(world: World) -> Iterator[Push]:
    """Tell low cells at the watch time, again every day until somebody changes them."""
    for zone, since, until in (
        ("12", "2026-02-08", "2026-02-24 13:40:00"),
        ("16", "2026-10-05", None),
    ):
        at = moment_of(f"{since} {WATCH}")
        end = world.end if until is None else moment_of(until)
        world.tell(Pattern.BATTERY_WEAK, zone, at, None if until is None else end)
        low = partial(condition, kind=Kind.DEVICE_BATTERY_LOW, zone=zone, cause=Cause.RADIO)
        while at < end:
            yield low(at, phase=Phase.BEGIN, driver="cell")
            at += DAY_S
        if until is not None:
            yield low(end, phase=Phase.END, driver="cell")
    # A cell that is low on cold mornings and well again by noon.
    for day in ("2026-01-06", "2026-01-09", "2026-01-17", "2026-01-19", "2026-01-28"):
        falls = moment_of(f"{day} {WATCH}")
        rises = falls + world.draw("cell", day).whole(18_000, 34_000)
        yield from lasting(
            Kind.DEVICE_BATTERY_LOW, falls, rises, zone="14", cause=Cause.RADIO, driver="cell"
        )
    world.tell(
        Pattern.BATTERY_WEAK,
        "14",
        moment_of(f"2026-01-06 {WATCH}"),
        moment_of("2026-01-28 14:00:00"),
    )


def _silences(world: World) -> Iterator[Push]:
    """Lose devices from supervision: one again and again, one for good."""
    starts = (
        "2026-08-04 21:03:10",
        "2026-08-11 02:18:44",
        "2026-08-13 19:40:02",
        "2026-08-20 23:55:31",
        "2026-08-27 04:11:20",
        "2026-09-02 20:26:13",
        "2026-09-06 01:47:09",
    )
    for start in starts:
        since = moment_of(start)
        until = since + world.draw("silence", start).whole(9_000, 90_000)
        yield from lasting(
            Kind.SUPERVISION_LOSS, since, until, zone="13", cause=Cause.RADIO, driver="place"
        )
    world.tell(Pattern.UNSUPERVISED, "13", moment_of(starts[0]), moment_of("2026-09-07 02:47:09"))
    lost = moment_of("2026-10-19 16:31:52")
    yield condition(
        lost, Kind.SUPERVISION_LOSS, Phase.BEGIN, zone="15", cause=Cause.RADIO, driver="device"
    )
    world.tell(Pattern.UNSUPERVISED, "15", lost)
    # One that blinked once is a record, not a finding.
    blink = moment_of("2026-04-02 10:14:00")
    yield from lasting(
        Kind.SUPERVISION_LOSS, blink, blink + 5_400, zone="11", cause=Cause.RADIO, driver="once"
    )


SWIMMING_HALL = Building(
    site="TV05",
    name="Tarn Valley Swimming Hall",
    trade="swimming hall",
    place=(54.5038, -3.0899),
    hours=((7, 21), (7, 21), (7, 21), (7, 21), (7, 21), (8, 18), (8, 17)),
    points=(
        Point("1", "Main doors", "contact", Use.ENTRY, route=True),
        Point("2", "Foyer", "pir", Use.FOLLOWER, route=True),
        Point("3", "Pool hall", "dual", Use.INTERIOR, facing=180.0),
        Point("4", "Plant room door", "contact", Use.PERIMETER),
        Point("5", "Changing rooms", "pir", Use.INTERIOR),
        Point("6", "Kiosk shutter", "contact", Use.PERIMETER),
        Point("11", "Spectator door", "contact", Use.PERIMETER, link="radio"),
        Point("12", "Office window", "contact", Use.PERIMETER, link="radio"),
        Point("13", "Sauna fire door", "contact", Use.PERIMETER, link="radio"),
        Point("14", "Roof door", "contact", Use.PERIMETER, link="radio"),
        Point("15", "Deep end fire door", "contact", Use.PERIMETER, link="radio"),
        Point("16", "First aid window", "contact", Use.PERIMETER, link="radio"),
        Point("20", "Plant room smoke", "smoke", Use.FIRE),
        Point("21", "Chlorine store door", "contact", Use.PERIMETER),
    ),
    people=(
        Person("1", "Gwen Marr", opens=2, closes=1),
        Person("2", "Tobias Reeth", opens=2, closes=2, walk_s=12),
        Person("3", "Sunniva Holm", opens=1, closes=3, walk_s=16),
        Person("6", "Alec Burn", opens=1, closes=1, walk_s=13),
    ),
    story=_story,
    panel=Panel(report_s=3 * 3600 + 30 * 60, resets=False),
)
