"""Troubles that come from how a place is used, and harmless things close to each."""

from collections.abc import Iterator
from datetime import date, timedelta

from eventlab.schema import Cause, Kind, Mode, Pattern, Use
from eventlab.simulate.clock import public_holiday, utc
from eventlab.simulate.contacts import PLANTED
from eventlab.simulate.draw import Draw
from eventlab.simulate.happenings import lasting
from eventlab.simulate.model import Building, Point, Push, World
from eventlab.simulate.people import enter, leave, planned
from eventlab.simulate.trifles import HOUR, Happening

_TIMER = "99"


def _open_days(world: World, building: Building, *, lead: int = 6) -> list[date]:
    """List the days of the log on which the building opens, not its first nor its last ones."""
    return [
        day
        for day in world.days[lead:-lead]
        if building.hours[day.weekday()] is not None and not public_holiday(day)
    ]


def _some(draw: Draw, days: list[date], many: int) -> list[date]:
    """Draw so many different days, in order."""
    return sorted(sorted(days, key=lambda _: draw.share())[:many])


def _closing(world: World, building: Building, day: date) -> int:
    """Say when the routine of a day arms."""
    return planned(Draw(world.seed, world.site, "routine", day.toordinal()), building, day).goes


def _opening(world: World, building: Building, day: date) -> int | None:
    """Say when people next come after the closing of a day; None where the log ends before."""
    while day < world.days[-1]:
        day += timedelta(days=1)
        if building.hours[day.weekday()] is not None and not public_holiday(day):
            stream = Draw(world.seed, world.site, "routine", day.toordinal())
            return planned(stream, building, day).comes
    return None


def _armed_on(
    draw: Draw, building: Building, at: int, driver: str, *, warned: bool = False
) -> Iterator[Push]:
    """Let somebody be in when the timer arms; who is warned disarms before moving on."""
    person = draw.pick(building.people)
    room = draw.pick([p for p in building.points if p.use is Use.INTERIOR])
    yield from enter(draw, building, at - draw.whole(900, 2700), person)
    yield Push(at, "arm", person=_TIMER, mode=Mode.TIMED, cause=Cause.PERSON_ENTERING)
    moves = at + building.panel.exit_s + draw.whole(30, 1500)
    cause = Cause.PERSON_ENTERING
    if not warned:
        yield Push(moves, "move", zone=room.zone, cause=cause, driver=driver)
    off = moves + draw.whole(8, 170)
    yield Push(off, "disarm", person=person.number, cause=cause, driver=driver)
    yield from leave(draw, building, off + draw.whole(600, 3000), person)


def armed_on_people(world: World, building: Building) -> Iterator[Push]:
    """Arm by a timer while somebody works late, on 4 to 25 evenings of at most 170 days."""
    draw = world.draw("armed on people")
    seconds = draw.whole(86, 92) * 900
    days = _open_days(world, building)[-160:]
    chosen = _some(draw, days, min(draw.whole(4, 25), len(days) // 3))
    for day in chosen:
        yield from _armed_on(draw, building, utc(day, seconds), PLANTED)
    world.tell(Pattern.ARMED_ON_PEOPLE, world.site, utc(chosen[0], seconds), kind="site")


def unlatched(world: World, building: Building) -> Iterator[Push]:
    """Let the final door open by itself after closing, on 4 to 30 nights of at most 120 days."""
    draw = world.draw("unlatched")
    days = _open_days(world, building)[-85:]
    chosen = _some(draw, days, min(draw.whole(4, 30), len(days) // 2))
    for day in chosen:
        yield from _blown(world, building, day, draw.whole(420, 4800), PLANTED)
    since = _closing(world, building, chosen[0])
    world.tell(Pattern.LAST_DOOR_UNLATCHED, building.door().zone, since)


def _blown(
    world: World, building: Building, day: date, after: int, driver: str, open_s: int | None = None
) -> Iterator[Push]:
    """Open the door some time after a closing; whoever comes next shuts it."""
    at = _closing(world, building, day) + building.panel.exit_s + after
    zone = building.door().zone
    yield Push(at, "open", zone=zone, cause=Cause.DETECTOR, driver=driver)
    if open_s is not None:
        yield Push(at + open_s, "shut", zone=zone, cause=Cause.DETECTOR, driver=driver)


def off_when_closed(world: World, building: Building) -> Iterator[Push]:
    """Switch the mains, or the router, off at closing and on at opening, for 20 to 90 days."""
    draw = world.draw("off when closed")
    kind = Kind.MAINS_LOSS if draw.chance(0.7) else Kind.COMMS_FAIL
    delay = draw.pick((0, 0, 60, 900, 1800)) if kind is Kind.MAINS_LOSS else 120
    days = _open_days(world, building)
    stands = draw.chance(0.5)
    used = [day for day in _stretch(draw, days, draw.whole(20, 90), stands) if draw.chance(0.9)]
    ends = []
    for day in used:
        begins = _closing(world, building, day) + draw.whole(-90, 120) + delay
        back = _opening(world, building, day)
        if back is None:
            continue
        ends.append(back + draw.whole(20, 240) + min(delay, 300))
        yield from lasting(kind, begins, ends[-1], cause=Cause.POWER, driver=PLANTED)
    since = _closing(world, building, used[0])
    until = None if stands else ends[-1]
    world.tell(Pattern.OFF_WHEN_CLOSED, world.site, since, until, kind="site")


def _stretch(draw: Draw, days: list[date], many: int, stands: bool) -> list[date]:
    """Take so many days on end: the last ones, or some that ended two months before."""
    if stands:
        return days[-many:]
    early = days[:-45] or days[: len(days) // 3]
    many = min(many, len(early))
    start = draw.whole(0, len(early) - many)
    return early[start : start + many]


def _windows(building: Building) -> list[Point]:
    return [point for point in building.points if point.name.startswith("Window")]


def _forced(world: World, building: Building, draw: Draw, day: date, driver: str) -> Iterator[Push]:
    """Arm by force because a window stands open; it is shut the next day."""
    at = _closing(world, building, day) - 4
    window = draw.pick(_windows(building))
    person = draw.pick(building.people)
    yield Push(at - draw.whole(600, 5000), "open", zone=window.zone)
    yield Push(
        at, "arm", person=person.number, mode=Mode.FORCED, cause=Cause.PERSON_LEAVING,
        driver=driver,
    )  # fmt: skip
    back = _opening(world, building, day)
    if back is not None:
        yield Push(back + draw.whole(600, 3000), "shut", zone=window.zone)


def forced_arming(world: World, building: Building) -> Iterator[Push]:
    """Arm by force on 4 to 20 evenings of 30 days."""
    draw = world.draw("forced arming")
    days = _open_days(world, building)
    stands = draw.chance(0.5)
    days = _stretch(draw, days, 20, stands)
    days = [day for day in days if (days[-1] - day).days < 29]
    chosen = _some(draw, days, min(draw.whole(4, 20), len(days)))
    for day in chosen:
        yield from _forced(world, building, draw, day, PLANTED)
    since, until = (_closing(world, building, day) for day in (chosen[0], chosen[-1]))
    end = None if stands else until + HOUR
    world.tell(Pattern.FORCED_ARMING, world.site, since, end, kind="site")


def lasting_bypass(world: World, building: Building) -> Iterator[Push]:
    """Leave a window or a room out for 4 to 80 nights; in every second building for good."""
    draw = world.draw("lasting bypass")
    # What lifts at the next disarm shows that this log tells ends of bypasses.
    for day in _some(draw, _open_days(world, building), 2):
        other = draw.pick(_windows(building))
        yield Push(
            _closing(world, building, day) - 60, "bypass", zone=other.zone,
            person=building.people[0].number,
        )  # fmt: skip
    point = draw.pick([p for p in building.points if not p.route])
    days = _open_days(world, building)
    stands = draw.chance(0.5)
    many = min(draw.whole(4 if stands else 8, 80), len(days) - 4)
    first = len(days) - many if stands else draw.whole(0, len(days) - many - 1)
    since = _closing(world, building, days[first]) - 900
    yield Push(since, "isolate", zone=point.zone, person=building.people[0].number, driver=PLANTED)
    until = None
    if not stands:
        until = _closing(world, building, days[first + many]) - 1200
        yield Push(until, "isolate-end", zone=point.zone, driver=PLANTED)
    world.tell(Pattern.LASTING_BYPASS, point.zone, since, until)


# ---- harmless, close to each bar -----------------------------------------------------------


def timer_found_someone(world: World, building: Building) -> Iterator[Push]:
    """Arm by a timer on somebody once or twice; others hear the warning and disarm in time."""
    draw = world.draw("timer found someone")
    days = _open_days(world, building)
    seconds = draw.whole(86, 92) * 900
    for number, day in enumerate(_some(draw, days, draw.whole(2, 8))):
        yield from _armed_on(draw, building, utc(day, seconds), "once", warned=number >= 2)


def door_blown(world: World, building: Building) -> Iterator[Push]:
    """Let the final door open by itself twice at most; and in wind, to fall shut again."""
    draw = world.draw("door blown")
    for number, day in enumerate(_some(draw, _open_days(world, building), draw.whole(2, 5))):
        falls = None if number < 2 else draw.whole(3, 40)
        yield from _blown(world, building, day, draw.whole(600, 30_000), "once", falls)


def off_at_times(world: World, building: Building) -> Iterator[Push]:
    """Lose the mains from a closing to the next opening on one to three nights."""
    draw = world.draw("off at times")
    for day in _some(draw, _open_days(world, building), draw.whole(1, 3)):
        back = _opening(world, building, day)
        if back is not None:
            begins = _closing(world, building, day) + draw.whole(0, 300)
            # Shorter than what would be told as an outage by itself.
            yield from lasting(Kind.MAINS_LOSS, begins, begins + draw.whole(600, 3 * HOUR))


def generator_test(world: World, building: Building) -> Iterator[Push]:
    """Test a generator for some minutes at one hour of every first weekday of a month."""
    draw = world.draw("generator test")
    seconds = draw.whole(26, 40) * 1800
    for day in world.days[6:-6]:
        if day.day <= 7 and day.weekday() == 0:
            at = utc(day, seconds)
            yield from lasting(Kind.MAINS_LOSS, at, at + draw.whole(120, 900))
    del building


def forced_at_times(world: World, building: Building) -> Iterator[Push]:
    """Arm by force on one or two evenings."""
    draw = world.draw("forced at times")
    for day in _some(draw, _open_days(world, building), draw.whole(1, 2)):
        yield from _forced(world, building, draw, day, "once")


def out_for_days(world: World, building: Building) -> Iterator[Push]:
    """Leave a point out for one to five nights while it is mended, and put it back."""
    draw = world.draw("out for days")
    point = draw.pick([p for p in building.points if not p.route])
    days = _open_days(world, building)
    many = draw.whole(1, 5)
    first = draw.whole(0, len(days) - many - 1)
    since = _closing(world, building, days[first]) - 900
    yield Push(since, "isolate", zone=point.zone, person=building.people[0].number)
    until = _closing(world, building, days[first + many]) - 1200
    yield Push(until, "isolate-end", zone=point.zone)


def heater(world: World, building: Building) -> Iterator[Push]:
    """Trip a room soon after closing now and then: nobody is there to disarm."""
    draw = world.draw("heater soon after")
    room = draw.pick([p for p in building.points if p.use is Use.INTERIOR])
    for day in _some(draw, _open_days(world, building), draw.whole(2, 5)):
        at = _closing(world, building, day) + building.panel.exit_s + draw.whole(300, 1700)
        yield Push(at, "move", zone=room.zone, cause=Cause.ENVIRONMENT, driver="heater")


USED: dict[Pattern, Happening] = {
    Pattern.ARMED_ON_PEOPLE: armed_on_people,
    Pattern.LAST_DOOR_UNLATCHED: unlatched,
    Pattern.OFF_WHEN_CLOSED: off_when_closed,
    Pattern.FORCED_ARMING: forced_arming,
    Pattern.LASTING_BYPASS: lasting_bypass,
}
"""Troubles of how a place is used."""

HARMLESS = (
    timer_found_someone,
    door_blown,
    off_at_times,
    generator_test,
    forced_at_times,
    out_for_days,
    heater,
)
