"""Break-ins, each of one way that people who attend them tell of."""

from collections.abc import Callable, Iterator, Mapping

from eventlab.schema import Cause, Kind, Use
from eventlab.simulate.clock import DAY_S, public_holiday, utc, wall
from eventlab.simulate.draw import Draw
from eventlab.simulate.happenings import lasting
from eventlab.simulate.model import Building, Push, World
from eventlab.simulate.people import attend, is_open
from eventlab.simulate.trifles import night

CAUSE = Cause.INTRUSION
PROBING = "probing"
"""Driver of the tries on the nights before."""

Way = Callable[[World, Building, Draw, int, str], Iterator[Push]]


def break_in(world: World, building: Building, way: str) -> Iterator[Push]:
    """Break in once, in one of ``WAYS``.

    Parameters
    ----------
    world : World
        Draws, days, weather.
    building : Building
        Where.
    way : str
        How; the driver of all that comes from it.

    Yields
    ------
    Push
        What the panel is told, and the keyholder who comes, or does not, to find it.
    """
    draw = world.draw("break-in", way)
    tried = (night(world, building, draw) for _ in range(40))
    # Storms have their strongest night; nobody breaks in on the first days of a log.
    at = (
        max(tried, key=lambda at: world.weather.gust[world.weather.hour(at)])
        if (way == "in a storm")
        else night(world, building, draw)
    )
    yield from WAYS[way](world, building, draw, at, way)


def window(
    draw: Draw, building: Building, at: int, way: str, *, until: int | None = None
) -> Iterator[Push]:
    """Force a window; it is pulled to again within half a minute where no end is given."""
    zone = _pick(draw, building, Use.PERIMETER)
    shut = at + draw.whole(3, 30) if until is None else until
    yield Push(at, "open", zone=zone, cause=CAUSE, driver=way)
    yield Push(shut, "shut", zone=zone, cause=CAUSE, driver=way)


def rooms(draw: Draw, building: Building, at: int, way: str, many: int) -> Iterator[Push]:
    """Walk through so many rooms."""
    for _ in range(many):
        yield Push(at, "move", zone=_pick(draw, building, Use.INTERIOR), cause=CAUSE, driver=way)
        at += draw.whole(15, 240)


def _pick(draw: Draw, building: Building, use: Use) -> str:
    return draw.pick([point.zone for point in building.points if point.use is use])


def _closed(building: Building, at: int) -> bool:
    told = wall(at)
    return not is_open(building, told.date(), told.hour * 3600 + told.minute * 60)


def _found(world: World, building: Building, draw: Draw, at: int) -> tuple[int, tuple[Push, ...]]:
    """Say when somebody finds it: a keyholder within two hours, or whoever opens next."""
    if draw.chance(0.5):
        comes = at + round(draw.between(300, 6000))
        return comes + 700, tuple(attend(draw, building, comes, stays_s=3000))
    day = wall(at).date()
    for later in world.days[world.days.index(day) :] if day in world.days else ():
        hours = building.hours[later.weekday()]
        if hours is not None and not public_holiday(later) and utc(later, hours[0] * 3600) > at:
            return utc(later, hours[0] * 3600) + 1200, ()
    return at + DAY_S, ()


def _one_point(world: World, building: Building, draw: Draw, at: int, way: str) -> Iterator[Push]:
    """Force a window and go no further; it is found open."""
    until, comes = _found(world, building, draw, at)
    yield from window(draw, building, at, way, until=until)
    yield from comes


def _shut_again(world: World, building: Building, draw: Draw, at: int, way: str) -> Iterator[Push]:
    """Force a window, go no further, pull it to."""
    yield from window(draw, building, at, way)
    yield from _found(world, building, draw, at)[1]


def _cut(kind: Kind) -> Way:
    def cut(world: World, building: Building, draw: Draw, at: int, way: str) -> Iterator[Push]:
        """Cut the line or the supply first, then come in by a window or another way."""
        yield from lasting(kind, at - draw.whole(30, 900), at + 20_000, cause=CAUSE, driver=way)
        if draw.chance(0.5):
            yield from window(draw, building, at, way)
        else:
            yield from rooms(draw, building, at, way, 1)
        yield from _found(world, building, draw, at)[1]

    return cut


def _two_areas(world: World, building: Building, draw: Draw, at: int, way: str) -> Iterator[Push]:
    """Be in one area, and some twelve minutes later in another."""
    here, there = (
        draw.pick([p.zone for p in building.points if p.area == area and p.use is Use.INTERIOR])
        for area in building.areas[:2]
    )
    yield Push(at, "move", zone=here, cause=CAUSE, driver=way)
    later = at + draw.whole(700, 800)
    yield Push(later, "move", zone=there, cause=CAUSE, driver=way)
    yield from _found(world, building, draw, later)[1]


def _shut_out(world: World, building: Building, draw: Draw, at: int, way: str) -> Iterator[Push]:
    """Rattle a window until it is shut out, wait, come in and cross one room."""
    zone = _pick(draw, building, Use.PERIMETER)
    wait = round(draw.between(1.2, 3) * 3600)
    while not _closed(building, at - wait - 3600):
        at = night(world, building, draw)
    before = at - wait
    for _ in range(building.panel.trip_limit + 1):
        yield Push(before, "open", zone=zone, cause=CAUSE, driver=PROBING)
        yield Push(before + 4, "shut", zone=zone, cause=CAUSE, driver=PROBING)
        before += draw.whole(40, 300)
    yield from rooms(draw, building, at, way, 1)
    yield from _found(world, building, draw, at)[1]


def _probed(world: World, building: Building, draw: Draw, at: int, way: str) -> Iterator[Push]:
    """Try a window on three nights of the week before, then come in another way."""
    zone = _pick(draw, building, Use.PERIMETER)
    nights = (1, 3, 5)
    early = world.start + (nights[-1] + 1) * DAY_S
    while at < early or not all(_closed(building, at - days * DAY_S) for days in nights):
        at = night(world, building, draw)
    for days in nights:
        tried = at - days * DAY_S + draw.whole(-900, 900)
        yield Push(tried, "open", zone=zone, cause=CAUSE, driver=PROBING)
        yield Push(tried + 5, "shut", zone=zone, cause=CAUSE, driver=PROBING)
    yield from rooms(draw, building, at, way, 1)
    yield from _found(world, building, draw, at)[1]


def _keyholder(_world: World, building: Building, draw: Draw, at: int, way: str) -> Iterator[Push]:
    """Come in by a window, walk through rooms; a keyholder disarms five minutes to two hours on."""
    yield from window(draw, building, at, way)
    last = at + 30
    for push in rooms(draw, building, last, way, draw.whole(1, 4)):
        last = push.at
        yield push
    yield from attend(draw, building, last + round(draw.between(300, 7000)), stays_s=3000)


def _in_a_storm(world: World, building: Building, draw: Draw, at: int, way: str) -> Iterator[Push]:
    """Come in while wind shakes the windows and the mains dips."""
    yield from lasting(Kind.MAINS_LOSS, at - 20, at + draw.whole(5, 60), cause=Cause.POWER)
    for point in building.points:
        if point.use is Use.PERIMETER and draw.chance(0.7):
            rattles = at - draw.whole(8, 19)
            yield Push(rattles, "open", zone=point.zone, cause=Cause.ENVIRONMENT)
            yield Push(rattles + 2, "shut", zone=point.zone, cause=Cause.ENVIRONMENT)
    if draw.chance(0.5):
        until, comes = _found(world, building, draw, at)
        yield from window(draw, building, at, way, until=until)
    else:
        yield from rooms(draw, building, at + draw.whole(1, 900), way, draw.whole(1, 3))
        _, comes = _found(world, building, draw, at + 1800)
    yield from comes


WAYS: Mapping[str, Way] = {
    "one point": _one_point,
    "shut again": _shut_again,
    "line cut first": _cut(Kind.COMMS_FAIL),
    "supply cut first": _cut(Kind.MAINS_LOSS),
    "twelve minutes between areas": _two_areas,
    "after a point was shut out": _shut_out,
    "after probing nights": _probed,
    "disarmed by a keyholder": _keyholder,
    "in a storm": _in_a_storm,
}
"""All are common practice; BS 8243 gives the time in which a second area is looked at."""
