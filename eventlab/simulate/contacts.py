"""Points that trip again and again, that follow another, or that a storm sets off together."""

from collections.abc import Iterator

from eventlab.schema import Cause, Kind, Pattern
from eventlab.simulate.draw import Draw
from eventlab.simulate.happenings import lasting
from eventlab.simulate.model import Building, Point, Push, World
from eventlab.simulate.people import is_open
from eventlab.simulate.trifles import DAY, HOUR, moment, night

PLANTED = "planted"
"""What drives the records of a trouble, in the truth."""

_STRONG = 0.02
"""The share of hours whose gusts are strong for the place."""


def spell(world: World, draw: Draw) -> tuple[int, int]:
    """Draw from when to when a fault holds: repaired halfway, or still there at the end."""
    since = round(draw.between(world.start + 8 * DAY, (world.start + world.end) / 2))
    if draw.chance(0.5):
        return since, world.end
    return since, round(draw.between(since + 25 * DAY, world.end - 40 * DAY))


def nights_of(
    world: World, building: Building, draw: Draw, since: int, until: int, many: int
) -> list[int]:
    """Draw so many moments of nobody in, between two others."""
    times: list[int] = []
    while len(times) < min(many, (until - since) // DAY):
        at = night(world, building, draw)
        if since <= at < until:
            times.append(at)
    return times


def rooms(building: Building) -> list[Point]:
    """Return the detectors inside that stand on nobody's way."""
    return [point for point in building.points if point.name.startswith("Room")]


def metronome(world: World, building: Building) -> Iterator[Push]:
    """Move before a detector that sleeps after each trip for hours on 3 to 12 nights."""
    draw = world.draw("metronome")
    point = rooms(building)[-1]
    since, until = spell(world, draw)
    times = nights_of(world, building, draw, since, until, draw.whole(3, 12))
    for at in times:
        moves, over = at, at + round(draw.between(0.7, 4) * HOUR)
        while moves < over:
            yield Push(moves, "move", zone=point.zone, cause=Cause.ENVIRONMENT, driver=PLANTED)
            moves += draw.whole(4, 25)
    _tell(world, Pattern.CHATTERING, point.zone, times, until)


def swinger(world: World, building: Building) -> Iterator[Push]:
    """Trip a detector 2 to 6 times within minutes of each other on 6 to 30 nights."""
    draw = world.draw("swinger")
    point = draw.pick(rooms(building))
    since, until = spell(world, draw)
    times = nights_of(world, building, draw, since, until, draw.whole(6, 30))
    for at in times:
        trips = at
        for _ in range(draw.whole(2, 6)):
            yield Push(trips, "move", zone=point.zone, cause=Cause.DETECTOR, driver=PLANTED)
            trips += draw.whole(60, 2400)
    _tell(world, Pattern.SWINGER, point.zone, times, until)


def followed(building: Building) -> tuple[str, str]:
    """Say which point leads and which follows where two share a supply."""
    inside = rooms(building)
    return inside[-1].zone, inside[0].zone if len(inside) > 1 else "3"


def follows_point(world: World, building: Building) -> Iterator[Push]:
    """Let a point trip 1 to 6 seconds after another on 6 to 25 nights, and never alone."""
    draw = world.draw("follows point")
    leader, follower = followed(building)
    since, until = spell(world, draw)
    times = nights_of(world, building, draw, since, until, draw.whole(6, 25))
    for at in times:
        later = at + draw.whole(1, 6)
        yield Push(at, "move", zone=leader, cause=Cause.UNEXPLAINED)
        yield Push(later, "move", zone=follower, cause=Cause.POWER, driver=PLANTED)
    _tell(world, Pattern.FOLLOWS_POINT, follower, times, until)


def storm_burst(world: World, building: Building) -> Iterator[Push]:
    """Rattle 3 to 6 points within seconds on 3 to 8 nights of the strongest gusts."""
    draw = world.draw("storm burst")
    weather = world.weather
    bar = sorted(weather.gust)[round(len(weather.gust) * (1 - _STRONG))]
    first, last = weather.hour(world.start + 8 * DAY), weather.hour(world.end - DAY)
    strong = [
        hour
        for hour in range(first, last)
        if weather.gust[hour] >= bar and weather.told[hour] and _shut(building, weather.start, hour)
    ]
    points = [point for point in building.points if not point.route]
    times: dict[int, int] = {}
    for _ in range(draw.whole(3, 8)):
        if not strong:
            break
        at = weather.start + draw.pick(strong) * HOUR + draw.whole(60, 3400)
        times[at // DAY] = at
    for at in times.values():
        several = sorted(points, key=lambda _: draw.share())[: draw.whole(3, 6)]
        for point in several:
            trips = at + draw.whole(0, 5)
            yield Push(trips, "open", zone=point.zone, cause=Cause.ENVIRONMENT, driver=PLANTED)
            yield Push(trips + 2, "shut", zone=point.zone, cause=Cause.ENVIRONMENT, driver=PLANTED)
    if times:
        _tell(world, Pattern.STORM_BURST, world.site, list(times.values()), 0, kind="site")


def _shut(building: Building, start: int, hour: int) -> bool:
    """Say whether nobody is in from an hour before to an hour after."""
    return not any(is_open_at(building, start + (hour + step) * HOUR) for step in (-1, 0, 1, 2))


def is_open_at(building: Building, at: int) -> bool:
    """Say whether people may be in at a moment."""
    from eventlab.simulate.clock import wall

    told = wall(at)
    return is_open(building, told.date(), told.hour * HOUR + told.minute * 60)


def _tell(
    world: World,
    pattern: Pattern,
    subject: str,
    times: list[int],
    until: int,
    *,
    kind: str = "zone",
) -> None:
    """Write down what was done; what comes and goes holds while it was seen lately."""
    stands = until >= world.end
    world.tell(pattern, subject, min(times), None if stands else max(times) + 4 * HOUR, kind=kind)


# -- harmless ------------------------------------------------------------------------------------


def swung_once(world: World, building: Building) -> Iterator[Push]:
    """Trip a detector again and again within an hour, on one or two nights."""
    draw = world.draw("swung once")
    point = draw.pick(rooms(building))
    for _ in range(draw.whole(1, 2)):
        at = night(world, building, draw)
        for _number in range(draw.whole(2, 7)):
            yield Push(at, "move", zone=point.zone, cause=Cause.UNEXPLAINED)
            at += draw.whole(40, 1500)


def supply_dip(world: World, building: Building) -> Iterator[Push]:
    """Lose the mains for a moment, and three to four points trip with it; once or twice."""
    draw = world.draw("supply dip")
    points = [point for point in building.points if not point.route]
    for _ in range(draw.whole(1, 2)):
        at = night(world, building, draw)
        yield from lasting(Kind.MAINS_LOSS, at, at + draw.whole(40, 300), cause=Cause.POWER)
        for point in sorted(points, key=lambda _: draw.share())[: draw.whole(3, 4)]:
            trips = at + draw.whole(0, 4)
            yield Push(trips, "open", zone=point.zone, cause=Cause.POWER, driver="dip")
            yield Push(trips + 2, "shut", zone=point.zone, cause=Cause.POWER, driver="dip")


def pair_twice(world: World, building: Building) -> Iterator[Push]:
    """Trip two points within seconds of each other on one or two nights."""
    draw = world.draw("pair twice")
    first, second = building.points[-1], building.points[2]
    for _ in range(draw.whole(1, 2)):
        at = night(world, building, draw)
        for point, trips in ((first, at), (second, at + draw.whole(1, 9))):
            yield Push(trips, "open", zone=point.zone, cause=Cause.UNEXPLAINED)
            yield Push(trips + 2, "shut", zone=point.zone, cause=Cause.UNEXPLAINED)


def bypassed(world: World, building: Building) -> Iterator[Push]:
    """Leave a window out on one to three evenings, to the next disarm."""
    draw = world.draw("bypassed")
    window = draw.pick([p for p in building.points if p.name.startswith("Window")])
    person = draw.pick(building.people)
    for _ in range(draw.whole(1, 3)):
        yield Push(moment(world, draw), "bypass", zone=window.zone, person=person.number)


HARMLESS = (swung_once, supply_dip, pair_twice, bypassed)
