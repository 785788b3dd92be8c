"""Late and missed closings, odd openings, refusals; and what looks like them and is none."""

from collections.abc import Callable, Iterable, Iterator
from datetime import date, timedelta

import numpy as np

from eventlab.schema import Cause, Kind, Pattern, Phase, Use
from eventlab.simulate.backgrounds import bad_days
from eventlab.simulate.calendars import Hours, Week
from eventlab.simulate.clock import public_holiday, utc
from eventlab.simulate.draw import Draw
from eventlab.simulate.happenings import condition
from eventlab.simulate.model import Building, Push, World
from eventlab.simulate.people import attend, enter, leave

Happening = Callable[[World, Building], Iterator[Push]]

_HOUR = 3600
_DAY = timedelta(days=1)
_BREAK_H = 1.0
"""A shorter break at noon is none [h]."""
_LEAD = 35
"""No trouble in the first weeks: a log must show first what is usual [days]."""


def _open_days(world: World, building: Building, first: int = _LEAD, last: int = 3) -> list[date]:
    """List the days on which people come as in every week, not at either end of the log."""
    calendar = world.calendar
    return [
        day
        for day in world.days[first : len(world.days) - last]
        if calendar.hours(building, day) and not public_holiday(day) and day not in calendar.days
    ]


def _later(hours: tuple[Hours, ...], by: float) -> tuple[Hours, ...]:
    *before, (opens, closes) = hours
    return (*before, (opens, closes + by))


def _spell(draw: Draw, days: list[date], longest: int) -> list[date]:
    """Cut a stretch out of the days."""
    length = min(len(days), longest)
    first = draw.whole(0, len(days) - length)
    return days[first : first + length]


def _some(draw: Draw, days: list[date], many: int, apart: int = 1) -> list[date]:
    """Pick days that are not next to each other."""
    left, picked = list(days), list[date]()
    while left and len(picked) < many:
        one = draw.pick(left)
        picked.append(one)
        left = [day for day in left if abs((day - one).days) > apart]
    return sorted(picked)


def falling(draw: Draw, days: list[date], many: int, background: str) -> list[date]:
    """Pick the days on which what happens now and then falls, as a background has them.

    Parameters
    ----------
    draw : Draw
        Stream of what happens.
    days : list of date
        Days on which it may happen, in order.
    many : int
        How often; some may fall on one day.
    background : str
        One of ``BACKGROUNDS``.

    Returns
    -------
    list of date
        Different days, in order.
    """
    if not days:
        return []
    stream = np.random.default_rng(draw.whole(0, 2**31 - 1))
    numbers = bad_days(stream, len(days), many, background)
    return [days[number] for number in sorted(set(numbers.tolist()))]


# Troubles ---------------------------------------------------------------------------------


def late_closing(world: World, building: Building) -> Iterator[Push]:
    """Close late on 4 to 12 evenings of six weeks, by an hour and a half to four and a half."""
    draw = world.draw("late closing")
    days = _some(draw, _spell(draw, _open_days(world, building), 30), draw.whole(4, 12))
    for day in days:
        hours = world.calendar.hours(building, day)
        world.calendar.days[day] = _later(hours, draw.between(1.5, 4.5))
    _tell(world, building, Pattern.LATE_CLOSING, days)
    yield from ()


def missed_closing(world: World, building: Building) -> Iterator[Push]:
    """Leave without arming on 1 to 5 evenings, before a closed day, or for good."""
    draw = world.draw("missed closing")
    days = [day for day in _open_days(world, building) if day not in world.calendar.tried]
    way = draw.weighted([("nights", 5), ("before a closed day", 3), ("for good", 2)])
    if way == "before a closed day":
        eves = [day for day in days if not world.calendar.hours(building, day + _DAY)]
        days = _some(draw, eves or days, 1)
    elif way == "for good":
        first = draw.pick(days[-25:])
        left = [day for day in world.days if day >= first]
        world.calendar.unclosed.update(left)
        _tell(world, building, Pattern.MISSED_CLOSING, [first], standing=True)
        return
    else:
        days = _some(draw, days, draw.whole(1, 5), apart=4)
    world.calendar.unclosed.update(days)
    _tell(world, building, Pattern.MISSED_CLOSING, days)
    yield from ()


def odd_hours(world: World, building: Building) -> Iterator[Push]:
    """Open at the dead of night 3 to 10 times in ten weeks, for up to an hour and a half."""
    draw = world.draw("odd hours")
    ends = [shift[1] for shifts in _week(world, building) for shift in shifts]
    # A place that is open into the night is dead in the morning.
    low, high = (6.0, 10.0) if max(ends) > 22 else (0.3, 3.8)
    days = _some(draw, _spell(draw, world.days[_LEAD:-6], 70), draw.whole(3, 10), apart=2)
    person = draw.pick(building.people)
    for day in days:
        at = utc(day + _DAY, round(draw.between(low, high) * _HOUR))
        stays = round(draw.between(600, 5400))
        yield from world.calendar.acted(enter(draw, building, at, person))
        yield from world.calendar.acted(leave(draw, building, at + stays, person))
    _tell(world, building, Pattern.ODD_HOURS_OPENING, [day + _DAY for day in days])


def arm_refused(world: World, building: Building) -> Iterator[Push]:
    """Keep the system from arming: a window left open for 1 to 4 nights, or a reset that is due."""
    draw = world.draw("arm refused")
    days = _open_days(world, building, last=12)
    if draw.chance(0.6):
        contact = draw.pick([p for p in building.points if p.use is Use.PERIMETER])
        picked = _some(draw, days, draw.whole(1, 4), apart=4)
        for day in picked:
            closes = world.calendar.hours(building, day)[-1][1]
            yield Push(utc(day, (closes - 0.8) * _HOUR), "open", zone=contact.zone)
            yield Push(_next_opening(world, building, day) + 1800, "shut", zone=contact.zone)
        _tell(world, building, Pattern.ARM_REFUSED, picked, zone=contact.zone)
        return
    nights = draw.whole(1, 4)
    first = draw.pick(days[: -nights - 1])
    window = draw.pick([p for p in building.points if p.use is Use.PERIMETER])
    closes = world.calendar.hours(building, first)[-1][1]
    alarm = utc(first, (closes + draw.between(2, 4)) * _HOUR)
    after = [day for day in days if day > first][:nights]
    yield Push(alarm, "open", zone=window.zone, cause=Cause.UNEXPLAINED)
    yield Push(alarm + 6, "shut", zone=window.zone, cause=Cause.UNEXPLAINED)
    person = draw.pick(building.people)
    yield from world.calendar.acted(
        push for push in enter(draw, building, alarm + draw.whole(900, 2400), person)
    )
    world.calendar.unclosed.update(after)
    # The engineer comes before the next closing, or it could not have been armed then.
    done = _next_opening(world, building, after[-1]) + draw.whole(1, 2) * _HOUR
    yield condition(done, Kind.RESET, Phase.MOMENT, cause=Cause.SERVICE)
    _tell(world, building, Pattern.ARM_REFUSED, [first, *after], zone=window.zone)


def _next_opening(world: World, building: Building, day: date) -> int:
    for step in range(1, 15):
        later = day + step * _DAY
        hours = world.calendar.hours(building, later)
        if hours:
            return utc(later, hours[0][0] * _HOUR)
    return utc(day + _DAY, 9 * _HOUR)


def _tell(
    world: World,
    building: Building,
    pattern: Pattern,
    days: list[date],
    *,
    zone: str | None = None,
    standing: bool = False,
) -> None:
    area = world.calendar.area
    kind = "zone" if zone else "area" if area and len(building.areas) > 1 else "site"
    subject = zone or (area if kind == "area" and area else building.site)
    since, last = utc(days[0], 6 * _HOUR), utc(days[-1] + _DAY, 12 * _HOUR)
    world.tell(pattern, subject, since, None if standing else last, kind=kind)


COMING_GOING: dict[Pattern, Happening] = {
    Pattern.LATE_CLOSING: late_closing,
    Pattern.MISSED_CLOSING: missed_closing,
    Pattern.ODD_HOURS_OPENING: odd_hours,
    Pattern.ARM_REFUSED: arm_refused,
}


# What is none -----------------------------------------------------------------------------


def shut_in_summer(world: World, _building: Building) -> Iterator[Push]:
    """Stay shut for three weeks; now and then somebody looks in for a morning."""
    draw = world.draw("shut in summer")
    start = date(2026, 7, 13) + draw.whole(0, 21) * _DAY
    for step in range(21):
        world.calendar.shut.add(start + step * _DAY)
    if draw.chance(0.4):
        world.calendar.days[start + draw.whole(3, 17) * _DAY] = ((10.0, 11.5),)
    yield from ()


def other_hours(world: World, building: Building) -> Iterator[Push]:
    """Keep other hours from a date on: closing or opening one to three hours earlier or later."""
    draw = world.draw("other hours")
    since = draw.pick(world.days[30:])
    shift = draw.pick((-1, 1)) * draw.between(1, 3)
    opens = draw.chance(0.3)
    week: Week = tuple(
        _apart((a + shift, b) if opens else (a, b + shift) for a, b in hours)
        for hours in _week(world, building)
    )
    world.calendar.weeks.append((since, week))
    yield from ()


def _apart(shifts: Iterable[Hours]) -> tuple[Hours, ...]:
    """Make one of shifts that would meet: nobody closes at noon to open a minute later."""
    told: list[Hours] = []
    for opens, closes in shifts:
        if told and opens - told[-1][1] < _BREAK_H:
            told[-1] = (told[-1][0], closes)
        else:
            told.append((opens, closes))
    return tuple(told)


def one_more_day(world: World, building: Building) -> Iterator[Push]:
    """Open on one more day of the week from a date on."""
    draw = world.draw("one more day")
    week = list(_week(world, building))
    closed = [number for number, hours in enumerate(week) if not hours]
    if closed:
        week[draw.pick(closed)] = ((10.0, 15.0),)
        world.calendar.weeks.append((draw.pick(world.days[30:]), tuple(week)))
    yield from ()


def _week(world: World, building: Building) -> Week:
    if world.calendar.weeks:
        return world.calendar.weeks[-1][1]
    return tuple(() if hours is None else (hours,) for hours in building.hours)


def late_evenings(world: World, building: Building) -> Iterator[Push]:
    """Stay late on one to three evenings of the year, by one hour and a half to five."""
    draw = world.draw("late evenings")
    days = _open_days(world, building, 5)
    for day in falling(draw, days, draw.whole(1, 3), world.calendar.background):
        hours = world.calendar.hours(building, day)
        world.calendar.days[day] = _later(hours, draw.between(1.5, 5))
    yield from ()


def long_season(world: World, building: Building) -> Iterator[Push]:
    """Stay open two hours longer on each of 5 to 14 days in a row: a season."""
    draw = world.draw("long season")
    for day in _spell(draw, _open_days(world, building, 10), draw.whole(5, 14)):
        world.calendar.days[day] = _later(world.calendar.hours(building, day), 2)
    yield from ()


def monthly_evening(world: World, building: Building) -> Iterator[Push]:
    """Stay open three hours longer on one evening of each month."""
    draw = world.draw("monthly evening")
    weekday = draw.pick([n for n, hours in enumerate(building.hours) if hours] or [0])
    for day in _open_days(world, building, 1):
        if day.weekday() == weekday and day.day <= 7:
            world.calendar.days[day] = _later(world.calendar.hours(building, day), 3)
    yield from ()


def stocktaking(world: World, building: Building) -> Iterator[Push]:
    """Work on one or two days on which it is usually closed."""
    draw = world.draw("stocktaking")
    closed = [day for day in world.days[8:-3] if not world.calendar.hours(building, day)]
    for day in _some(draw, closed, draw.whole(1, 2)) if closed else []:
        world.calendar.days[day] = ((9.0, draw.between(13, 18)),)
    yield from ()


def errands(world: World, building: Building) -> Iterator[Push]:
    """Come back for some minutes on up to three evenings of the year, and once at night."""
    draw = world.draw("errands")
    for day in _some(draw, _open_days(world, building, 5), draw.whole(1, 3), apart=30):
        closes = world.calendar.hours(building, day)[-1][1]
        at = utc(day, (closes + draw.between(0.7, 2.5)) * _HOUR)
        yield from _come_in(world, building, draw, at)
    if draw.chance(0.5):
        at = utc(draw.pick(world.days[8:-4]), draw.between(24.3, 28) * _HOUR)
        yield from _come_in(world, building, draw, at)


def _come_in(world: World, building: Building, draw: Draw, at: int) -> Iterator[Push]:
    person = draw.pick(building.people)
    stays = draw.whole(240, 1500)
    yield from world.calendar.acted(enter(draw, building, at, person))
    yield from world.calendar.acted(leave(draw, building, at + stays, person))


def called_out(world: World, building: Building) -> Iterator[Push]:
    """Call the keyholder out at night after an alarm, one to five times."""
    draw = world.draw("called out")
    windows = [p for p in building.points if p.use is Use.PERIMETER]
    for day in _some(draw, world.days[6:-4], draw.whole(1, 5), apart=3):
        at = utc(day, draw.between(25.5, 28) * _HOUR)
        zone = draw.pick(windows).zone
        yield Push(at, "open", zone=zone, cause=Cause.UNEXPLAINED)
        yield Push(at + 5, "shut", zone=zone, cause=Cause.UNEXPLAINED)
        came = attend(draw, building, at + draw.whole(900, 3600))
        yield from world.calendar.acted(came)


def not_ready(world: World, building: Building) -> Iterator[Push]:
    """Fail to arm now and then: a window is open, and shut some minutes later."""
    draw = world.draw("not ready")
    contact = draw.pick([p for p in building.points if p.use is Use.PERIMETER])
    person = draw.pick(building.people)
    for day in _some(draw, _open_days(world, building, 5), draw.whole(1, 8)):
        closes = world.calendar.hours(building, day)[-1][1]
        at = utc(day, closes * _HOUR)
        world.calendar.tried.add(day)
        yield Push(at - 600, "open", zone=contact.zone)
        tries = at + 40
        yield Push(tries, "arm", person=person.number, area=world.calendar.area)
        yield Push(tries + draw.whole(60, 110), "shut", zone=contact.zone)


def holidays_kept_open(world: World, building: Building) -> Iterator[Push]:
    """Open on public holidays as on every day, on all of them or on one."""
    draw = world.draw("holidays kept open")
    if draw.chance(0.5):
        world.calendar.holidays = True
    else:
        some = [day for day in world.days if public_holiday(day)]
        for day in some[:1]:
            world.calendar.days[day] = _week(world, building)[day.weekday()] or ((10.0, 16.0),)
    yield from ()


HARMLESS: tuple[Happening, ...] = (
    holidays_kept_open,
    one_more_day,
    other_hours,
    shut_in_summer,
    monthly_evening,
    long_season,
    late_evenings,
    stocktaking,
    errands,
    called_out,
    not_ready,
)
"""In the order in which they are made: hours first, then the days that differ from them."""
