"""One trouble with a building, of drawn strength, written down as truth."""

from collections.abc import Callable, Iterator
from dataclasses import replace

from eventlab.schema import Cause, Kind, Pattern, Phase
from eventlab.simulate import clock, contacts, watching
from eventlab.simulate.changing import rate_change
from eventlab.simulate.contacts import PLANTED
from eventlab.simulate.draw import Draw
from eventlab.simulate.happenings import condition, lasting
from eventlab.simulate.lists import list_mismatch
from eventlab.simulate.model import Building, Push, World
from eventlab.simulate.signalling import Cut, Wrong
from eventlab.simulate.trifles import (
    DAY,
    HOUR,
    Happening,
    burst,
    moment,
    night,
    on_test,
    radio,
    unheard,
)
from eventlab.simulate.using import USED


def chattering(world: World, building: Building) -> Iterator[Push]:
    """Let a loose contact trip 3 to 20 times in a minute on 3 to 30 nights."""
    draw = world.draw("chattering")
    contact = draw.pick([p for p in building.points if p.name.startswith("Window")])
    quickest = draw.whole(3, 20)
    since, until = contacts.spell(world, draw)
    times: list[int] = []
    nights = min(draw.whole(3, 30), (until - since) // DAY)
    while len(times) < nights:
        at = night(world, building, draw)
        if since <= at < until:
            times.append(at)
    for at in times:
        trips = draw.whole(3, quickest)
        yield from burst(draw, at, contact.zone, trips, draw.between(8, 55), PLANTED)
    standing = until >= world.end
    world.tell(Pattern.CHATTERING, contact.zone, min(times), None if standing else max(times) + 60)


def mains_out(world: World, _building: Building) -> Iterator[Push]:
    """Lose the mains for 5 hours to 5 days; where that is too long, the panel dies with it."""
    draw = world.draw("mains out")
    hours = 5 * 24 ** draw.share()
    lasts = draw.between(12, 40)
    stands = draw.chance(0.3)
    since = world.end - round(hours * HOUR) if stands else moment(world, draw, before=140)
    until = since + round(hours * HOUR)
    world.tell(Pattern.MAINS_OUT, world.site, since, None if stands else until, kind="site")
    yield _mains(since, Phase.BEGIN)
    dies = since + round(lasts * HOUR)
    if dies < until:
        yield condition(dies - 1800, Kind.SYSTEM_BATTERY_LOW, Phase.BEGIN)
        world.dead.append((dies, until))
        if not stands:
            yield condition(until, Kind.SYSTEM_RESTART, Phase.MOMENT)
            yield condition(until + 7 * HOUR, Kind.SYSTEM_BATTERY_LOW, Phase.END)
    if not stands and (dies >= until or draw.chance(0.5)):
        yield _mains(until + 5, Phase.END)


def _mains(at: int, phase: Phase) -> Push:
    return condition(at, Kind.MAINS_LOSS, phase, cause=Cause.POWER, driver=PLANTED)


def _silenced(world: World, building: Building, since: int, until: int | None) -> None:
    """Write down that no reports come from a dead panel or over a lost path, where three miss."""
    clock, period = building.panel.report_s, building.panel.report_every_s
    end = world.end if until is None else until
    if clock is None:
        return
    due = range(world.start - DAY + clock, world.end, period)
    if sum(since <= at < end for at in due) >= 3:
        world.tell(Pattern.REPORT_MISSED, world.site, since, until, kind="site")


def battery_weak(world: World, building: Building) -> Iterator[Push]:
    """Let a battery stand low, come and go, or give out soon after the mains is lost."""
    draw = world.draw("battery weak")
    point = radio(building, draw)
    own = point is not None and draw.chance(0.6)
    zone = point.zone if own and point is not None else None
    kind = Kind.DEVICE_BATTERY_LOW if own else Kind.SYSTEM_BATTERY_LOW
    ways = ["left", "late", "comes and goes"] + ([] if own else ["soon after the mains"])
    way = draw.pick(ways)
    if way == "left":
        since = moment(world, draw, before=9 * 24)
        _weak(world, zone, since)
        daily = draw.chance(0.4)
        for at in range(since, world.end, DAY if daily else 1000 * DAY):
            yield condition(at, kind, Phase.BEGIN, zone=zone, driver=PLANTED)
    elif way == "late":
        since = moment(world, draw, before=61 * 24)
        until = since + round(draw.between(9, 60) * DAY)
        _weak(world, zone, since, until)
        yield from lasting(kind, since, until, zone=zone, driver=PLANTED)
    elif way == "comes and goes":
        yield from _comes_and_goes(world, draw, kind, zone)
    else:
        yield from _soon_low(world, draw)


def _weak(world: World, zone: str | None, since: int, until: int | None = None) -> None:
    kind = "zone" if zone else "site"
    world.tell(Pattern.BATTERY_WEAK, zone or world.site, since, until, kind=kind)


def _comes_and_goes(world: World, draw: Draw, kind: Kind, zone: str | None) -> Iterator[Push]:
    """Tell it low 3 to 12 times over 3 to 8 weeks, each for some hours; then it is replaced."""
    times = draw.whole(3, 12)
    length = round(draw.between(21, 56) * DAY)
    stands = draw.chance(0.5)
    since = round(draw.between(world.start + 8 * DAY, world.end - length - 40 * DAY))
    if stands:
        since = world.end - length
    at = until = since
    for _ in range(times):
        until = at + round(draw.between(2, 14) * HOUR)
        yield from lasting(kind, at, until, zone=zone, driver=PLANTED)
        at += round(length / times)
    _weak(world, zone, since, None if stands else until)


def _soon_low(world: World, draw: Draw) -> Iterator[Push]:
    """Lose the mains for one to three hours and be low before it is back."""
    since = moment(world, draw)
    until = since + round(draw.between(1, 3.5) * HOUR)
    low = round(draw.between(since + 900, until - 300))
    yield from lasting(Kind.MAINS_LOSS, since, until, cause=Cause.POWER)
    low_until = until + round(draw.between(1, 9) * HOUR)
    yield from lasting(Kind.SYSTEM_BATTERY_LOW, low, low_until, driver=PLANTED)
    _weak(world, None, low)


def unsupervised(world: World, building: Building) -> Iterator[Push]:
    """Lose a device for good, for days, or again and again."""
    draw = world.draw("unsupervised")
    point = radio(building, draw)
    if point is None:
        return
    zone = point.zone
    way = draw.pick(("left", "days", "again and again"))
    if way == "left":
        since = moment(world, draw, before=30)
        world.tell(Pattern.UNSUPERVISED, zone, since)
        yield from unheard(world, zone, since, None, PLANTED)
    elif way == "days":
        since = moment(world, draw, before=21 * 24)
        until = since + round(draw.between(1.2, 20) * DAY)
        world.tell(Pattern.UNSUPERVISED, zone, since, until)
        yield from unheard(world, zone, since, until, PLANTED)
    else:
        times = draw.whole(3, 10)
        stands = draw.chance(0.5)
        since = at = world.end - 29 * DAY if stands else moment(world, draw, before=75 * 24)
        until = at
        for _ in range(times):
            until = at + round(draw.between(0.3, 20) * HOUR)
            yield from unheard(world, zone, at, until, PLANTED)
            at += round(draw.between(0.9, 1.1) * 26 * DAY / times)
        world.tell(Pattern.UNSUPERVISED, zone, since, None if stands else until)


def left_on_test(world: World, _building: Building) -> Iterator[Push]:
    """Leave the account on test: for good, or for 14 hours to 10 days."""
    draw = world.draw("left on test")
    stands = draw.chance(0.5)
    since = moment(world, draw, before=15 if stands else 300)
    hours = None if stands else 14 * 17 ** draw.share()
    until = None if hours is None else since + round(hours * HOUR)
    # Whoever ends a later test takes the account off test altogether.
    ended = [end for _, end in world.on_test if end is not None and end > since]
    until = min([*ended, *([] if until is None else [until])], default=None)
    world.tell(Pattern.LEFT_ON_TEST, world.site, since, until, kind="site")
    for push in on_test(world, since, hours):
        yield replace(push, driver=PLANTED)


def path_down(world: World, building: Building) -> Iterator[Push]:
    """Let a path stay lost, or be lost for days; or let alarms get lost and nobody notice."""
    draw = world.draw("path down")
    way = draw.pick(("left", "days", "unnoticed"))
    if way == "left":
        since = moment(world, draw, before=40)
        cut = Cut(since, None, path="IP", driver=PLANTED)
    elif way == "days":
        since = moment(world, draw, before=22 * 24)
        length = round(1.3 * DAY * 14 ** draw.share())
        cut = Cut(since, since + length, path="IP", keeps=draw.chance(0.5), driver=PLANTED)
    else:
        since = round(draw.between(world.start + 40 * DAY, world.end - 40 * DAY))
        length = round(draw.between(35, 120) * DAY)
        until = since + length
        cut = Cut(since, None if until > world.end else until, driver=PLANTED)
    world.cuts.append(cut)
    world.tell(Pattern.PATH_DOWN, world.site, since, cut.until, kind="site")
    # Reports go over the network only; where alarms alone are lost they get through.
    if cut.path is not None:
        _silenced(world, building, since, cut.until)
    yield from ()


def clock_fault(world: World, building: Building) -> Iterator[Push]:
    """Let a clock run away, stand an hour or less off, keep winter time, or lose the time."""
    draw = world.draw("clock fault")
    # Whatever else was done to the clock, this is what is wrong with it.
    world.clock.clear()
    way = draw.pick(("runs away", "set wrong", "standard time", "loses the time"))
    start = world.start - 4 * DAY
    since = world.start
    if way == "runs away":
        world.clock.append(Wrong(start, 0.0, draw.pick((-1, 1)) * 6 * 5 ** draw.share()))
    elif way == "set wrong":
        since = round(draw.between(world.start + 20 * DAY, world.end - 40 * DAY))
        size = draw.pick((-1, 1)) * 420 * 20 ** draw.share()
        world.clock.append(Wrong(since, size))
        yield condition(since, Kind.CLOCK_SET, Phase.MOMENT)
    elif way == "standard time":
        summer = clock.at("2026-03-29 02:00:00"), clock.at("2026-10-25 01:00:00", fold=1)
        world.clock += [Wrong(start)] * (start < summer[0])
        world.clock += [Wrong(max(start, summer[0]), -3600.0), Wrong(summer[1])]
    else:
        yield from _loses_the_time(world, draw)
        return
    world.tell(Pattern.CLOCK_FAULT, building.site, since, kind="site")


def _loses_the_time(world: World, draw: Draw) -> Iterator[Push]:
    """Start a clock anew after two to five power cuts, and set it some hours or days later."""
    times = sorted(moment(world, draw) for _ in range(draw.whole(2, 5)))
    begun = [at for at, before in zip(times, [0, *times], strict=False) if at - before > 10 * DAY]
    for at in begun:
        dead = at - round(draw.between(1, 8) * HOUR)
        world.dead.append((dead, at))
        world.clock.append(Wrong(at, anew=True))
        yield condition(at, Kind.SYSTEM_RESTART, Phase.MOMENT)
        known = at + round(draw.between(0.2, 60) * HOUR)
        world.clock.append(Wrong(known))
        yield condition(known, Kind.CLOCK_SET, Phase.MOMENT)
    if len(begun) > 1:
        world.tell(Pattern.CLOCK_FAULT, world.site, begun[0], kind="site")


def missing(world: World, building: Building) -> Callable[[int], bool]:
    """Say which test reports do not come: all from a day on, a run of them, or now and then.

    Parameters
    ----------
    world : World
        Takes the truth.
    building : Building
        Its panel has the period.

    Returns
    -------
    callable
        From the moment of a report to whether it is lost.
    """
    draw = world.draw("report missed")
    period = building.panel.report_every_s
    way = draw.pick(("stopped", "silent for a while", "now and then"))
    until = None
    since = moment(world, draw, before=max(3 * period, 4 * DAY) / HOUR)
    if way == "silent for a while":
        length = round((draw.whole(3, 12) + 0.5) * period)
        since = round(draw.between(world.start + 10 * DAY, world.end - length - 2 * period))
        until = since + length
    elif way == "now and then":
        since = world.start
    world.tell(Pattern.REPORT_MISSED, world.site, since, until, kind="site")
    share = draw.between(0.15, 0.4) if way == "now and then" else 1.0
    end = world.end if until is None else until
    return lambda at: since < at < end and world.draw("lost report", at).chance(share)


TROUBLES: dict[Pattern, Happening] = {
    Pattern.CHATTERING: chattering,
    Pattern.RATE_CHANGE: rate_change,
    Pattern.SWINGER: contacts.swinger,
    Pattern.FOLLOWS_POINT: contacts.follows_point,
    Pattern.STORM_BURST: contacts.storm_burst,
    Pattern.MAINS_OUT: mains_out,
    Pattern.BATTERY_WEAK: battery_weak,
    Pattern.UNSUPERVISED: unsupervised,
    Pattern.LEFT_ON_TEST: left_on_test,
    Pattern.LIST_MISMATCH: list_mismatch,
    Pattern.PATH_DOWN: path_down,
    Pattern.CLOCK_FAULT: clock_fault,
    **USED,
    **watching.TROUBLES,
}
"""Late people and missed reports are made where people and reports are."""
