"""What brings alarms of one cause each, in known number."""

from collections.abc import Callable, Iterator, Mapping

import numpy as np

from eventlab.context.sun import position
from eventlab.schema import Cause, Kind, Phase
from eventlab.simulate.clock import utc, wall
from eventlab.simulate.draw import Draw
from eventlab.simulate.happenings import condition, lasting
from eventlab.simulate.model import Building, Push, World
from eventlab.simulate.people import attend, closed_moment, is_open
from eventlab.simulate.trifles import burst, night

PLACE = (54.5, -3.1)
"""Where all of it stands: latitude and longitude [deg]."""


def _closed(world: World, building: Building, draw: Draw) -> int:
    """Draw a moment at which nobody is in, by day or night."""
    while True:
        at = closed_moment(draw, building, draw.pick(world.days[6:-6]), 12, 36)
        if at is not None:
            return at


def _trip(
    draw: Draw, building: Building, at: int, zone: str, cause: Cause, driver: str = ""
) -> Iterator[Push]:
    """Trip a point once: a contact opens and shuts, a detector sees movement."""
    if building.point(zone).detector != "contact":
        yield Push(at, "move", zone=zone, cause=cause, driver=driver)
        return
    yield Push(at, "open", zone=zone, cause=cause, driver=driver)
    yield Push(at + draw.whole(1, 9), "shut", zone=zone, cause=cause, driver=driver)


def _pick(draw: Draw, building: Building, start: str) -> str:
    return draw.pick([point.zone for point in building.points if point.name.startswith(start)])


def _answered(draw: Draw, building: Building, at: int, share: float) -> Iterator[Push]:
    """Let the keyholder come out half an hour to two hours later, sometimes."""
    if draw.chance(share):
        yield from _comes(draw, building, at + round(draw.between(1200, 6000)), 900)


def _comes(draw: Draw, building: Building, at: int, stays_s: int) -> Iterator[Push]:
    """Let the keyholder come, unless the place is opened before the keyholder would go again."""
    goes = wall(at + stays_s)
    second = goes.hour * 3600 + goes.minute * 60
    if not is_open(building, goes.date(), second):
        yield from attend(draw, building, at, stays_s=stays_s)


def _environment(world: World, building: Building, many: int, shifted: bool) -> Iterator[Push]:
    """Let one point follow sun, clock, heat, wind or rain; a few alarms are of other matters."""
    draw = world.draw("surroundings")
    driver = draw.pick(("sun", "clock", "wind", "rain", "heat"))
    zone = _pick(draw, building, "Window" if driver in {"wind", "rain"} else "Room")
    hour = draw.between(19.5, 30)
    facing = draw.between(230, 310)
    apart = 0.4 if shifted else 0.2
    for _ in range(many):
        room = _pick(draw, building, "Room")
        at = _under(world, building, draw, driver, hour, facing, shifted)
        where, what = zone, driver
        if draw.chance(apart) or at is None:
            at, where, what = _closed(world, building, draw), room, "once"
        trips = draw.weighted([(1, 5), (2, 3), (4, 2)]) if not shifted else draw.whole(1, 5)
        for number in range(trips):
            yield from _trip(
                draw, building, at + number * draw.whole(70, 280), where, Cause.ENVIRONMENT, what
            )
        yield from _answered(draw, building, at, 0.4)


def _under(
    world: World, building: Building, draw: Draw, driver: str, hour: float, facing: float,
    shifted: bool,
) -> int | None:  # fmt: skip
    """Draw a moment at which the driver is strong and nobody is in."""
    if driver == "clock":
        wide = 0.8 if shifted else 0.25
        return closed_moment(draw, building, draw.pick(world.days[6:-6]), hour, hour + wide)
    drawn = (
        closed_moment(draw, building, draw.pick(world.days[6:-6]), 12.5, 35.5) for _ in range(60)
    )
    times = [at for at in drawn if at is not None]
    strength = _strength(world, driver, times, facing)
    noise = [draw.between(0, 3 if shifted else 1) for _ in times]
    return times[int(np.argmax(np.add(strength, noise)))] if times else None


def _strength(world: World, driver: str, times: list[int], facing: float) -> list[float]:
    weather = world.weather
    hours = [weather.hour(at) for at in times]
    if driver == "sun":
        moments = (np.array(times) * 1_000_000).astype("datetime64[us]")
        azimuth, height = position(moments, *PLACE)
        struck = (np.abs(azimuth - facing) <= 25) & (height > 2) & (height < 28)
        clouds = [weather.cloud[hour] for hour in hours]
        return list(10.0 * struck - 3 * np.array(clouds))
    told = {"wind": weather.gust, "rain": weather.rain, "heat": weather.temperature}[driver]
    scale = {"wind": 3.0, "rain": 0.4, "heat": 4.0}[driver]
    return [told[hour] / scale for hour in hours]


def _detector(world: World, building: Building, many: int, shifted: bool) -> Iterator[Push]:
    """Let one bad point chatter, or trip once, on bad days."""
    draw = world.draw("bad point")
    zone = _pick(draw, building, draw.pick(("Window", "Room")))
    for _ in range(many):
        at = _closed(world, building, draw)
        if building.point(zone).detector == "contact" and draw.chance(0.3 if shifted else 0.6):
            yield from burst(draw, at, zone, draw.whole(2, 9), draw.between(8, 70), "loose")
        else:
            for number in range(draw.whole(1, 3)):
                moment_ = at + number * draw.whole(40, 500)
                yield from _trip(draw, building, moment_, zone, Cause.DETECTOR, "failing")
        yield from _answered(draw, building, at, 0.4)


def _power(world: World, building: Building, many: int, shifted: bool) -> Iterator[Push]:
    """Lose the mains; some detectors trip at the dip, or as it comes back."""
    draw = world.draw("dips")
    for _ in range(many):
        at = _closed(world, building, draw)
        if draw.chance(0.7):
            yield from lasting(Kind.MAINS_LOSS, at, at + draw.whole(40, 5000), cause=Cause.POWER)
        else:
            yield condition(at, Kind.SYSTEM_RESTART, Phase.MOMENT)
            at += 330 if shifted else 310
        for _zone in range(draw.whole(1, 2)):
            zone = _pick(draw, building, draw.pick(("Room", "Window")))
            trip = at + draw.whole(1, 200)
            yield from _trip(draw, building, trip, zone, Cause.POWER, "dip")


def _radio(world: World, building: Building, many: int, _shifted: bool) -> Iterator[Push]:
    """Jam the band or lose a device, which the panel may take for an alarm."""
    draw = world.draw("radio")
    for _ in range(many):
        at = _closed(world, building, draw)
        zone = _pick(draw, building, draw.pick(("Room", "Window")))
        if draw.chance(0.6):
            yield from lasting(Kind.RADIO_JAM, at, at + draw.whole(40, 900), cause=Cause.RADIO)
            at += draw.whole(1, 300)
        else:
            end = at + draw.whole(600, 30_000)
            yield from lasting(Kind.SUPERVISION_LOSS, at, end, zone=zone, cause=Cause.RADIO)
            at += draw.whole(1, 9000)
        yield from _trip(draw, building, at, zone, Cause.RADIO, "radio")


def _path(world: World, building: Building, many: int, _shifted: bool) -> Iterator[Push]:
    """Lose the line; the panel raises an alarm of its own on a point, as some are set to."""
    draw = world.draw("line")
    for _ in range(many):
        at = _closed(world, building, draw)
        yield from lasting(Kind.COMMS_FAIL, at, at + draw.whole(200, 20_000), cause=Cause.PATH)
        zone = _pick(draw, building, draw.pick(("Room", "Window")))
        yield from _trip(draw, building, at + draw.whole(1, 240), zone, Cause.PATH, "line")


def _service(world: World, building: Building, many: int, _shifted: bool) -> Iterator[Push]:
    """Work on points on a closed evening or morning, not on test."""
    draw = world.draw("work")
    for _ in range(many):
        at = night(world, building, draw)
        yield condition(at - draw.whole(600, 30_000), Kind.ON_SITE_WORK, Phase.BEGIN)
        yield condition(at - draw.whole(60, 500), Kind.ON_SITE_WORK, Phase.END)
        zone = _pick(draw, building, draw.pick(("Room", "Window")))
        for number in range(draw.whole(1, 3)):
            yield from _trip(draw, building, at + 90 * number, zone, Cause.SERVICE, "work")


def _intrusion(world: World, building: Building, many: int, shifted: bool) -> Iterator[Push]:
    """Break in by a window: through rooms, no further, or after the line was cut.

    Who forces a window leaves it open; one in ten that went no further was shut again, which no
    log can tell from a rattle.
    """
    draw = world.draw("break-in")
    cause = Cause.INTRUSION
    for _ in range(many):
        at = night(world, building, draw)
        one = 3.6 if shifted else 2.7
        way = draw.weighted(
            [("rooms", 4), ("one point", one), ("line cut", 2), ("shut again", 0.3)]
        )
        if way == "line cut":
            yield from lasting(Kind.COMMS_FAIL, at - draw.whole(30, 500), at + 20_000, cause=cause)
        window = _pick(draw, building, "Window")
        yield Push(at, "open", zone=window, cause=cause, driver=way)
        shuts = way == "shut again" or (way != "one point" and draw.chance(0.5))
        if shuts:
            yield Push(at + draw.whole(3, 30), "shut", zone=window, cause=cause, driver=way)
        step = at
        for _room in range(draw.whole(1, 4) if way in {"rooms", "line cut"} else 0):
            step += draw.whole(15, 240)
            room = _pick(draw, building, "Room")
            yield Push(step, "move", zone=room, cause=cause, driver=way)
        comes = step + round(draw.between(1200, 6000))
        yield from _comes(draw, building, comes, 3000)
        if not shuts:
            yield Push(comes + 700, "shut", zone=window, cause=cause, driver=way)


def _stray(world: World, building: Building, many: int, _shifted: bool) -> Iterator[Push]:
    draw = world.draw("stray")
    for _ in range(many):
        at = _closed(world, building, draw)
        zone = _pick(draw, building, draw.pick(("Room", "Window")))
        yield from _trip(draw, building, at, zone, Cause.UNEXPLAINED)
        yield from _answered(draw, building, at, 0.4)


def harmless(world: World) -> Iterator[Push]:
    """Lose mains or paths and have work done, without an alarm: what chance brings near."""
    draw = world.draw("harmless")
    year = len(world.days) / 365
    rates = {
        Kind.MAINS_LOSS: draw.pick((1, 4, 12)),
        Kind.COMMS_FAIL: draw.pick((2, 12, 50)),
        Kind.ON_SITE_WORK: draw.pick((1, 2, 4)),
    }
    for kind, rate in rates.items():
        for _ in range(round(rate * year)):
            works = kind is Kind.ON_SITE_WORK
            second = draw.whole(36_000, 57_000) if works else draw.whole(0, 86_399)
            at = utc(draw.pick(world.days[6:-6]), second)
            yield from lasting(kind, at, at + draw.whole(60, 2400) * (3 if works else 1))


HAPPENINGS: Mapping[Cause, Callable[[World, Building, int, bool], Iterator[Push]]] = {
    Cause.ENVIRONMENT: _environment,
    Cause.DETECTOR: _detector,
    Cause.POWER: _power,
    Cause.RADIO: _radio,
    Cause.PATH: _path,
    Cause.SERVICE: _service,
    Cause.INTRUSION: _intrusion,
    Cause.UNEXPLAINED: _stray,
}
"""What brings alarms of each cause; people at the door come with the people themselves."""
