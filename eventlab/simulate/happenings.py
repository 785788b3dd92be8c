"""Small things that happen at any building, and the visits of a service technician."""

from collections.abc import Iterator

from eventlab.schema import Cause, Kind, Phase, Use
from eventlab.simulate.clock import DAY_S, at, utc, wall
from eventlab.simulate.model import Building, Push, Visit, World
from eventlab.simulate.people import say


def condition(
    at: int,
    kind: Kind,
    phase: Phase,
    *,
    zone: str | None = None,
    cause: Cause | None = None,
    driver: str = "",
) -> Push:
    """Let a panel tell one end of a condition; parameters as ``Push`` has them."""
    return Push(at, "say", zone=zone, kind=kind, phase=phase, cause=cause, driver=driver)


def lasting(
    kind: Kind,
    since: int,
    until: int,
    *,
    zone: str | None = None,
    cause: Cause | None = None,
    driver: str = "",
) -> Iterator[Push]:
    """Let a condition begin and end.

    Parameters
    ----------
    kind : Kind
        The condition.
    since, until : int
        Seconds since 1970 UTC.
    zone, cause, driver
        As ``Push`` has them.

    Yields
    ------
    Push
        Two.
    """
    for moment, phase in ((since, Phase.BEGIN), (until, Phase.END)):
        yield condition(moment, kind, phase, zone=zone, cause=cause, driver=driver)


def mains_blip(world: World, when: str, minutes: float) -> Iterator[Push]:
    """Lose the mains for some minutes, told as it happens and restored."""
    since = at(when)
    until = since + round(minutes * 60) + world.draw("blip", when).whole(0, 40)
    yield from lasting(Kind.MAINS_LOSS, since, until, cause=Cause.POWER, driver="blip")


def stray(world: World, building: Building, zone: str, when: str) -> Iterator[Push]:
    """Raise one alarm that follows nothing."""
    moment = at(when)
    contact = building.point(zone).detector == "contact"
    push = Push(moment, "open" if contact else "move", zone=zone, cause=Cause.UNEXPLAINED)
    yield push
    if contact:
        stays = world.draw("stray", when).whole(2, 9)
        yield Push(moment + stays, "shut", zone=zone, cause=Cause.UNEXPLAINED)


def reports(world: World, building: Building, *, until: int | None = None) -> Iterator[Push]:
    """Send the test report of every day, at the same wall time but for some seconds."""
    clock = building.panel.report_s
    if clock is None:
        return
    for day in world.days:
        jitter = world.draw("report", day.toordinal()).whole(0, 7)
        moment = utc(day, clock + jitter)
        if until is None or moment < until:
            yield say(moment, Kind.TEST_REPORT)


def clock_changes(world: World, person: str | None = None) -> Iterator[Push]:
    """Tell that the clock was put forward or back, where a panel logs it."""
    for day in world.days:
        before, after = wall(utc(day, 0)), wall(utc(day, DAY_S - 1))
        if before.utcoffset() != after.utcoffset():
            yield Push(
                utc(day, 3 * 3600 + 5), "say", kind=Kind.CLOCK_SET, phase=Phase.MOMENT,
                person=person,
            )  # fmt: skip


def service_visit(
    world: World,
    building: Building,
    when: str,
    work: str,
    *,
    zones: tuple[str, ...] = (),
    test_rows: bool = True,
    lids: tuple[str, ...] = (),
    left: bool = False,
) -> Iterator[Push]:
    """Bring the technician: on test, lids, every point walked, off test.

    Parameters
    ----------
    world : World
        Takes the visit into its list.
    building : Building
        Where.
    when : str
        Wall time of arrival, in opening hours.
    work : str
        What the visits file says was done.
    zones : tuple of str
        Points worked on.
    test_rows : bool
        Whether the panel's own log tells the test with the centre.
    lids : tuple of str
        Points that are opened.
    left : bool
        Whether the account is left on test with the centre.

    Yields
    ------
    Push
        What the panel is told.
    """
    start = at(when)
    draw = world.draw("visit", when)
    world.visits.append(Visit(start, zones, work, "M. Oake"))
    cause = Cause.SERVICE
    if test_rows:
        yield Push(start, "say", kind=Kind.ON_TEST, phase=Phase.BEGIN, cause=cause)
    yield Push(start + 240, "say", kind=Kind.ON_SITE_WORK, phase=Phase.BEGIN, cause=cause)
    moment = start + 420
    for zone in lids:
        yield Push(moment, "lid", zone=zone, cause=cause)
        yield Push(moment + draw.whole(200, 500), "lid-shut", zone=zone, cause=cause)
        moment += draw.whole(520, 900)
    moment += 300
    yield Push(moment, "say", kind=Kind.WALK_TEST, phase=Phase.BEGIN, cause=cause)
    for point in building.points:
        if point.use in {Use.FIRE, Use.HOLD_UP, Use.MEDICAL}:
            continue
        moment += draw.whole(18, 70)
        yield Push(
            moment, "say", kind=Kind.WALK_TEST, phase=Phase.MOMENT, zone=point.zone,
            area=point.area, cause=cause,
        )  # fmt: skip
    moment += draw.whole(60, 200)
    yield Push(moment, "say", kind=Kind.WALK_TEST, phase=Phase.END, cause=cause)
    yield Push(moment + 180, "say", kind=Kind.ON_SITE_WORK, phase=Phase.END, cause=cause)
    world.on_test.append((start, None if left else moment + 420))
    if test_rows and not left:
        yield Push(moment + 420, "say", kind=Kind.ON_TEST, phase=Phase.END, cause=cause)
