"""What stops being alive, or is not covered; and what comes close to it and is harmless."""

from collections.abc import Iterator
from dataclasses import replace

from eventlab.schema import Kind, Pattern, Phase
from eventlab.simulate.contacts import PLANTED
from eventlab.simulate.draw import Draw
from eventlab.simulate.happenings import condition, lasting
from eventlab.simulate.living import Lived
from eventlab.simulate.model import Building, Push, Told, World
from eventlab.simulate.telling import Telling
from eventlab.simulate.trifles import DAY, HOUR, Happening, moment, unheard

_DEVICES = 3


def silent_zone(world: World, building: Building) -> Iterator[Push]:
    """Let a detector of a room see nothing more, 3 to 20 weeks before the log ends."""
    draw = world.draw("silent zone")
    room = draw.pick([point for point in building.points if point.name.startswith("Room")])
    length = min(21 * 7 ** draw.share(), (world.end - world.start) / DAY - 40)
    since = world.end - round(length * DAY)
    world.deaf.append((room.zone, since, world.end))
    world.tell(Pattern.SILENT_ZONE, room.zone, since)
    yield from ()


def tamper_open(world: World, building: Building) -> Iterator[Push]:
    """Leave a lid open: of a point or of the panel's own box, for good or for 14 hours to weeks."""
    draw = world.draw("tamper open")
    zone = draw.pick(building.points).zone if draw.chance(0.7) else None
    yield from _stands(world, draw, Pattern.TAMPER_OPEN, Kind.TAMPER, zone, 14)


def masked(world: World, building: Building) -> Iterator[Push]:
    """Mask a detector: for good, for 5 hours to weeks, or again and again for an hour or two."""
    draw = world.draw("masked")
    room = draw.pick([point for point in building.points if point.name.startswith("Room")])
    if draw.chance(0.3):
        yield from _again(world, draw, Pattern.MASKED, Kind.MASKING, room.zone, (0.2, 3))
        return
    yield from _stands(world, draw, Pattern.MASKED, Kind.MASKING, room.zone, 5)


def fault_standing(world: World, building: Building) -> Iterator[Push]:
    """Let a siren, a module, the system or a detector be in fault: for good, for days, or often."""
    draw = world.draw("fault")
    kind = draw.pick((Kind.SIREN_FAULT, Kind.MODULE_FAULT, Kind.SYSTEM_FAULT, Kind.SENSOR_FAULT))
    zone = draw.pick(building.points).zone if kind is Kind.SENSOR_FAULT else None
    if draw.chance(0.3):
        yield from _again(world, draw, Pattern.FAULT_STANDING, kind, zone, (0.2, 20))
        return
    yield from _stands(world, draw, Pattern.FAULT_STANDING, kind, zone, 30)


def radio_interference(world: World, building: Building) -> Iterator[Push]:
    """Lose all radio devices at once, for days or several times; or tell jamming several times."""
    draw = world.draw("radio")
    devices = [point.zone for point in building.points if point.link == "radio"]
    way = draw.pick(("days", "waves", "jammed"))
    if way == "jammed":
        yield from _again(
            world, draw, Pattern.RADIO_INTERFERENCE, Kind.RADIO_JAM, None, (0.05, 4)
        )  # fmt: skip
        return
    if way == "days":
        stands = draw.chance(0.5)
        since = moment(world, draw, before=50 if stands else 12 * 24)
        until = None if stands else since + round(draw.between(1.3, 9) * DAY)
        world.tell(Pattern.RADIO_INTERFERENCE, world.site, since, until, kind="site")
        for zone in devices:
            late = draw.whole(0, 240)
            yield from unheard(
                world, zone, since + late, None if until is None else until + late, PLANTED
            )
        return
    times = draw.whole(3, 8)
    stands = draw.chance(0.5)
    since = at = world.end - 28 * DAY if stands else moment(world, draw, before=70 * 24)
    until = at
    for _ in range(times):
        length = round(draw.between(0.5, 15) * HOUR)
        for zone in devices:
            late = draw.whole(0, 240)
            until = at + late + length
            yield from unheard(world, zone, at + late, until, PLANTED)
        at += round(draw.between(0.9, 1.1) * 26 * DAY / times)
    world.tell(Pattern.RADIO_INTERFERENCE, world.site, since, None if stands else until,
               kind="site")  # fmt: skip


LOG_WAYS = ("dead", "gap", "ring")


def log_gap(world: World, _building: Building) -> Iterator[Push]:
    """Let a panel be dead for 5 to 12 days, with no word of its mains, and start again.

    The other ways, exports that do not meet and a memory that is full, are made where a log is
    told (`short_of`).
    """
    draw = world.draw("log gap")
    if draw.pick(LOG_WAYS) != "dead":
        return
    since = moment(world, draw, before=30 * 24)
    until = since + round(draw.between(5, 12) * DAY)
    world.dead.append((since, until))
    world.tell(Pattern.LOG_GAP, world.site, since, until, kind="site")
    yield condition(until, Kind.SYSTEM_RESTART, Phase.MOMENT, driver=PLANTED)


def short_of(draw: Draw, how: Telling, start: int, end: int) -> Telling:
    """Leave a gap between two exports, or keep the last 250 or 500 rows of a busy panel only.

    Parameters
    ----------
    draw : Draw
        The stream of `log_gap`, new.
    how : Telling
        How the log tells otherwise.
    start, end : int
        Of the log, seconds since 1970 UTC.

    Returns
    -------
    Telling
        As it was where the panel is dead instead.
    """
    way = draw.pick(LOG_WAYS)
    if way == "gap":
        length = round(draw.between(8, 40) * DAY)
        since = round(draw.between(start + 20 * DAY, end - length - 20 * DAY))
        return replace(how, gap=(since, since + length))
    if way == "ring":
        return replace(how, panel=True, gap=None, ring=draw.pick((250, 500)))
    return how


SHORT_DAYS = 30
"""A memory that reaches back no further hides what comes once a month."""


def uncovered(one: Lived, how: Telling) -> list[Told]:
    """Write down what the log of a building does not cover, however it was drawn.

    Parameters
    ----------
    one : Lived
        A building.
    how : Telling
        How its log tells.

    Returns
    -------
    list of Told
        A gap between exports; a memory that was full and reaches back a few days only.
    """
    pattern, site, end = str(Pattern.LOG_GAP), one.building.site, one.world.end
    told = [Told(pattern, "site", site, *how.gap)] if how.gap else []
    if how.ring and how.panel:
        kept = how.kept(one.panel)
        full = len(kept) == how.ring and sum(map(how.tells, one.panel)) > how.ring
        if full and kept[-1].at - kept[0].at < SHORT_DAYS * DAY:
            told.append(Told(pattern, "site", site, kept[0].at, end, standing=True))
    return told


def shown(told: Told, how: Telling) -> int:
    """Say of what no row tells by itself whether a log can show it: 1, or 0."""
    unspoken = {Pattern.SILENT_ZONE: how.panel, Pattern.LOG_GAP: bool(how.gap) or told.standing}
    return int(unspoken.get(Pattern(told.pattern), False))


def _stands(
    world: World, draw: Draw, pattern: Pattern, kind: Kind, zone: str | None, least_h: float
) -> Iterator[Push]:
    """Let a condition stand for good, or for so many hours up to three weeks."""
    stands = draw.chance(0.5)
    since = moment(world, draw, before=max(2 * least_h, 48) if stands else 22 * 24)
    length = least_h * (20 * 24 / least_h) ** draw.share()
    until = None if stands else since + round(length * HOUR)
    subject = ("zone", zone) if zone else ("site", world.site)
    world.tell(pattern, subject[1], since, until, kind=subject[0])
    yield condition(since, kind, Phase.BEGIN, zone=zone, driver=PLANTED)
    if until is not None:
        yield condition(until, kind, Phase.END, zone=zone, driver=PLANTED)


def _again(
    world: World,
    draw: Draw,
    pattern: Pattern,
    kind: Kind,
    zone: str | None,
    hours: tuple[float, float],
) -> Iterator[Push]:
    """Let a condition come 3 to 10 times within four weeks, each time for some hours."""
    times = draw.whole(3, 10)
    stands = draw.chance(0.5)
    since = at = world.end - 28 * DAY if stands else moment(world, draw, before=70 * 24)
    until = at
    for _ in range(times):
        until = at + round(draw.between(*hours) * HOUR)
        yield from lasting(kind, at, until, zone=zone, driver=PLANTED)
        at += round(draw.between(0.9, 1.1) * 26 * DAY / times)
    subject = ("zone", zone) if zone else ("site", world.site)
    world.tell(pattern, subject[1], since, None if stands else until, kind=subject[0])


def lid_opened(world: World, building: Building) -> Iterator[Push]:
    """Open a lid for minutes to ten hours, once."""
    draw = world.draw("lid opened")
    since = moment(world, draw)
    zone = draw.pick(building.points).zone
    yield from lasting(Kind.TAMPER, since, since + round(600 * 60 ** draw.share()), zone=zone)


def trolley(world: World, building: Building) -> Iterator[Push]:
    """Put something before a detector for minutes to three hours, once or twice."""
    draw = world.draw("trolley")
    room = draw.pick([point for point in building.points if point.name.startswith("Room")])
    for _ in range(draw.whole(1, 2)):
        since = moment(world, draw)
        until = since + round(draw.between(0.05, 3) * HOUR)
        yield from lasting(Kind.MASKING, since, until, zone=room.zone)


def fault_cleared(world: World, _building: Building) -> Iterator[Push]:
    """Tell a fault of a part that clears itself within 20 hours, once or twice."""
    draw = world.draw("fault cleared")
    kind = draw.pick((Kind.SIREN_FAULT, Kind.MODULE_FAULT, Kind.SYSTEM_FAULT))
    for _ in range(draw.whole(1, 2)):
        since = moment(world, draw)
        yield from lasting(kind, since, since + round(draw.between(0.1, 20) * HOUR))


def passing_jam(world: World, _building: Building) -> Iterator[Push]:
    """Tell jamming for seconds to half an hour, once or twice."""
    draw = world.draw("passing jam")
    for _ in range(draw.whole(1, 2)):
        since = moment(world, draw)
        yield from lasting(Kind.RADIO_JAM, since, since + round(draw.between(5, 1800)))


def two_lost(world: World, building: Building) -> Iterator[Push]:
    """Lose two devices of one wall together for some hours."""
    draw = world.draw("two lost")
    devices = [point.zone for point in building.points if point.link == "radio"]
    if len(devices) <= _DEVICES:
        return
    since, length = moment(world, draw), round(draw.between(0.5, 15) * HOUR)
    for zone in devices[:2]:
        late = draw.whole(0, 240)
        yield from unheard(world, zone, since + late, since + late + length)


TROUBLES: dict[Pattern, Happening] = {
    Pattern.SILENT_ZONE: silent_zone,
    Pattern.TAMPER_OPEN: tamper_open,
    Pattern.MASKED: masked,
    Pattern.FAULT_STANDING: fault_standing,
    Pattern.RADIO_INTERFERENCE: radio_interference,
    Pattern.LOG_GAP: log_gap,
}
"""Gaps of a log and memories that are full are made where a log is told."""

HARMLESS: tuple[Happening, ...] = (lid_opened, trolley, fault_cleared, passing_jam, two_lost)
