"""What happens at sites with nothing wrong: each close to a trouble, and none."""

from collections.abc import Callable, Iterator

from eventlab.schema import Cause, Kind, Phase
from eventlab.simulate.draw import Draw
from eventlab.simulate.happenings import condition, lasting
from eventlab.simulate.model import Building, Point, Push, World
from eventlab.simulate.people import closed_moment, leave

HOUR = 3600
DAY = 86400

Happening = Callable[[World, Building], Iterator[Push]]


def moment(world: World, draw: Draw, *, before: float = 12 * 24) -> int:
    """Draw a moment of the log, not in its first ten days nor in its last ``before`` [h]."""
    return round(draw.between(world.start + 10 * DAY, world.end - before * HOUR))


def night(world: World, building: Building, draw: Draw) -> int:
    """Draw a moment at which nobody is in."""
    while True:
        day = draw.pick(world.days[6:-6])
        at = closed_moment(draw, building, day, 20.5, 30)
        if at is not None:
            return at


def radio(building: Building, draw: Draw) -> Point | None:
    """Pick a device with a battery of its own; None where there is none."""
    own = [point for point in building.points if point.link == "radio"]
    return draw.pick(own) if own else None


def unheard(
    world: World, zone: str, since: int, until: int | None, driver: str = ""
) -> Iterator[Push]:
    """Lose a device; what it would have told meanwhile is not told. Never found without an end."""
    world.deaf.append((zone, since, world.end if until is None else until))
    yield condition(since, Kind.SUPERVISION_LOSS, Phase.BEGIN, zone=zone, driver=driver)
    if until is not None:
        yield condition(until, Kind.SUPERVISION_LOSS, Phase.END, zone=zone, driver=driver)


def burst(draw: Draw, at: int, zone: str, trips: int, span: float, driver: str) -> Iterator[Push]:
    """Open and shut a contact so many times within a span [s]."""
    step = span / trips
    for number in range(trips):
        opens = at + round(step * number + draw.between(0, 0.4) * step)
        yield Push(opens, "open", zone=zone, cause=Cause.DETECTOR, driver=driver)
        shuts = opens + max(1, round(step / 3))
        yield Push(shuts, "shut", zone=zone, cause=Cause.DETECTOR, driver=driver)


def short_outage(world: World, _building: Building) -> Iterator[Push]:
    """Lose the mains for two minutes to three hours."""
    draw = world.draw("short outage")
    for _number in range(draw.whole(1, 3)):
        since = moment(world, draw)
        length = round(draw.between(120, 3 * HOUR))
        yield from lasting(Kind.MAINS_LOSS, since, since + length, cause=Cause.POWER)


def blink(world: World, building: Building) -> Iterator[Push]:
    """Lose a radio device once for some hours."""
    draw = world.draw("blink")
    point = radio(building, draw)
    if point is not None:
        since = moment(world, draw)
        until = since + round(draw.between(0.3, 20) * HOUR)
        yield from unheard(world, point.zone, since, until)


def receiver_down(world: World, building: Building) -> Iterator[Push]:
    """Lose all radio devices together for some hours, once."""
    draw = world.draw("receiver down")
    since, length = moment(world, draw), round(draw.between(0.5, 6) * HOUR)
    for point in building.points:
        if point.link == "radio":
            late = draw.whole(0, 240)
            yield from unheard(world, point.zone, since + late, since + late + length)


def late_entry(world: World, building: Building) -> Iterator[Push]:
    """Set the alarm off when coming in, once: a keyholder on a closed evening."""
    draw = world.draw("late entry")
    at = night(world, building, draw)
    person = draw.pick(building.people)
    door = building.door().zone
    late = at + building.panel.entry_s + draw.whole(5, 60)
    cause = Cause.PERSON_ENTERING
    yield Push(at, "open", zone=door, cause=cause, driver="once")
    yield Push(at + 5, "shut", zone=door, cause=cause, driver="once")
    yield Push(late, "disarm", person=person.number, cause=cause)
    yield from leave(draw, building, late + draw.whole(400, 1800), person)


def battery_replaced(world: World, building: Building) -> Iterator[Push]:
    """Tell a low device battery, replaced within six days."""
    draw = world.draw("battery replaced")
    point = radio(building, draw)
    if point is not None:
        since = moment(world, draw)
        until = since + round(draw.between(0.2, 6) * DAY)
        yield from lasting(Kind.DEVICE_BATTERY_LOW, since, until, zone=point.zone)


def battery_tested(world: World, _building: Building) -> Iterator[Push]:
    """Test the standby battery until it is low; replace it the next day."""
    draw = world.draw("battery tested")
    since = moment(world, draw)
    yield from lasting(Kind.SYSTEM_BATTERY_LOW, since, since + round(draw.between(2, 30) * HOUR))


def late_end_of_test(world: World, _building: Building) -> Iterator[Push]:
    """End a planned test hours after it was meant to end."""
    draw = world.draw("late end of test")
    yield from on_test(world, moment(world, draw), draw.between(3, 11))


def on_test(world: World, since: int, hours: float | None) -> Iterator[Push]:
    """Put the account on test with the centre; both logs tell it. Never ended without hours."""
    until = None if hours is None else since + round(hours * HOUR)
    world.on_test.append((since, until))
    yield condition(since, Kind.ON_TEST, Phase.BEGIN, cause=Cause.SERVICE)
    if until is not None:
        yield condition(until, Kind.ON_TEST, Phase.END, cause=Cause.SERVICE)


def one_burst(world: World, building: Building) -> Iterator[Push]:
    """Rattle one contact for a minute of one night."""
    draw = world.draw("one burst")
    contact = draw.pick([p for p in building.points if p.name.startswith("Window")])
    yield from burst(draw, night(world, building, draw), contact.zone, draw.whole(2, 6), 50, "once")


def slow_repeats(world: World, building: Building) -> Iterator[Push]:
    """Trip a detector every three minutes on some nights: a draught, no chatter."""
    draw = world.draw("slow repeats")
    point = draw.pick([p for p in building.points if p.name.startswith("Room")])
    for _ in range(draw.whole(1, 4)):
        at = night(world, building, draw)
        for number in range(draw.whole(2, 6)):
            yield Push(at + number * draw.whole(150, 260), "move", zone=point.zone)


def restarted(world: World, _building: Building) -> Iterator[Push]:
    """Start the panel again after an update."""
    draw = world.draw("restarted")
    yield condition(moment(world, draw), Kind.SYSTEM_RESTART, Phase.MOMENT)


def stray_number(world: World, building: Building) -> Iterator[Push]:
    """Tell a tamper once of a number that no list has: a hand that slipped."""
    draw = world.draw("stray number")
    since = moment(world, draw)
    number = str(len(building.points) + draw.whole(20, 60))
    yield from lasting(Kind.TAMPER, since, since + draw.whole(5, 600), zone=number)


TRIFLES: tuple[Happening, ...] = (
    short_outage,
    blink,
    receiver_down,
    late_entry,
    battery_replaced,
    battery_tested,
    late_end_of_test,
    one_burst,
    slow_repeats,
    restarted,
    stray_number,
)
"""Late and missed single test reports come with the reports themselves."""
