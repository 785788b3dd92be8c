"""How people come, move about and leave: what that does to a panel."""

from collections.abc import Iterator
from datetime import date
from typing import NamedTuple

from eventlab.schema import Cause, Kind, Mode, Phase, Use
from eventlab.simulate.clock import DAY_S, public_holiday, utc
from eventlab.simulate.draw import Draw
from eventlab.simulate.model import Building, Person, Push, World

ENTERS = Cause.PERSON_ENTERING
LEAVES = Cause.PERSON_LEAVING


def routine(world: World, building: Building) -> Iterator[Push]:
    """Open and close a building on every day of its hours.

    Parameters
    ----------
    world : World
        Days and draws.
    building : Building
        Its people, hours and points.

    Yields
    ------
    Push
        Doors, movement, codes.
    """
    calendar = world.calendar
    for day in world.days:
        for number, hours in enumerate(calendar.hours(building, day)):
            more = (number,) if number else ()
            draw = world.draw("routine", day.toordinal(), *more)
            comes, goes, opener, closer = planned(draw, building, day, hours)
            yield from calendar.acted(enter(draw, building, comes, opener))
            if building.panel.activations:
                yield from _about(draw, building, comes + 300, goes - 60)
            if day in calendar.unclosed:
                continue
            part = world.draw("part", day.toordinal(), *more).chance(building.part_share)
            leaves = leave(draw, building, goes, closer, mode=Mode.PART if part else None)
            yield from calendar.acted(leaves)


class Day(NamedTuple):
    """When people come and go on a day, and who."""

    comes: int
    goes: int
    opener: Person
    closer: Person


def planned(
    draw: Draw, building: Building, day: date, hours: tuple[float, float] | None = None
) -> Day:
    """Draw when a building opens and closes on one of its days, and who opens and closes it.

    Parameters
    ----------
    draw : Draw
        Stream of the routine of that day.
    building : Building
        Its people and hours.
    day : datetime.date
        A day on which it opens.
    hours : tuple of float, optional
        Its hours on that day; those of its weekday where left out.

    Returns
    -------
    Day
        When the door opens and when the code is keyed, seconds since 1970 UTC.
    """
    opens, closes = hours or building.hours[day.weekday()] or (9.0, 17.0)
    opener = draw.weighted([(p, p.opens) for p in building.people])
    closer = draw.weighted([(p, p.closes) for p in building.people])
    comes = utc(day, opens * 3600 - draw.bell(24, 7, 8, 50) * 60)
    goes = utc(day, closes * 3600 + draw.bell(13, 5, 3, 32) * 60)
    lingers = draw.chance(closer.lingers)
    if lingers or day.isoformat() in building.late:
        goes += round(draw.between(3600, 10800) if lingers else 7200)
    return Day(comes, goes, opener, closer)


def enter(draw: Draw, building: Building, at: int, person: Person) -> Iterator[Push]:
    """Come in by the door and walk to the keypad.

    Parameters
    ----------
    draw : Draw
        Stream of the day.
    building : Building
        Where.
    at : int
        When the door opens.
    person : Person
        Who; a hurried person takes longer than the entry time.

    Yields
    ------
    Push
        Door, movement on the way, sometimes a wrong code, the disarm.
    """
    late = draw.chance(person.hurried)
    walk = round(draw.bell(person.walk_s, 3.5, 6, building.panel.entry_s - 3))
    if late:
        walk = building.panel.entry_s + draw.whole(6, 95)
    driver = "hurried" if late else ""
    yield from _through(building, at, ENTERS, driver, draw.whole(3, 6))
    steps = [point for point in building.points if point.route and point.use is not Use.ENTRY]
    for number, point in enumerate(steps):
        moment = at + round(walk * (number + 1) / (len(steps) + 1))
        yield Push(moment, "move", zone=point.zone, cause=ENTERS, driver=driver)
    if draw.chance(0.03):
        yield Push(at + walk - 5, "wrong", kind=Kind.WRONG_CODE, area=building.areas[0])
    yield Push(at + walk, "disarm", person=person.number, cause=ENTERS)


def leave(
    draw: Draw, building: Building, at: int, person: Person, *, mode: Mode | None = None
) -> Iterator[Push]:
    """Arm and go; somebody who dawdles still holds the door when the exit time ends.

    Parameters
    ----------
    draw : Draw
        Stream of the day.
    building : Building
        Where.
    at : int
        When the code is keyed.
    person : Person
        Who.
    mode : Mode, optional
        How it is armed; all of it where left out.

    Yields
    ------
    Push
        The arm, movement on the way, the door; after an exit error the way back.
    """
    exit_s = building.panel.exit_s
    dawdles = draw.chance(person.dawdles)
    yield Push(at, "arm", person=person.number, mode=mode or Mode.FULL, cause=LEAVES)
    for point in building.points:
        if point.route and point.use is not Use.ENTRY:
            yield Push(at + draw.whole(2, 10), "move", zone=point.zone, cause=LEAVES)
    if not dawdles:
        opens = at + round(draw.bell(18, 5, 8, exit_s - 12))
        yield from _through(building, opens, LEAVES, "", draw.whole(3, 6))
        return
    yield from _through(building, at + exit_s - 7, LEAVES, "dawdling", draw.whole(14, 30))
    back = at + exit_s + draw.whole(12, 75)
    yield Push(back, "disarm", person=person.number, cause=LEAVES, driver="dawdling")
    again = back + draw.whole(25, 80)
    yield Push(again, "arm", person=person.number, mode=Mode.FULL, cause=LEAVES)
    yield from _through(building, again + draw.whole(9, 18), LEAVES, "", 4)


def attend(draw: Draw, building: Building, at: int, *, stays_s: int = 900) -> Iterator[Push]:
    """Let the keyholder come out, look round, and go again.

    Parameters
    ----------
    draw : Draw
        Stream of the happening.
    building : Building
        Where.
    at : int
        When the keyholder opens the door.
    stays_s : int
        How long it takes to look round [s].

    Yields
    ------
    Push
        Entry and exit.
    """
    keyholder = building.person(building.keyholder)
    calm = Person(keyholder.number, keyholder.name, keyholder.walk_s)
    yield from enter(draw, building, at, calm)
    if building.panel.activations:
        for point in building.points:
            if point.use is Use.INTERIOR:
                yield Push(at + 40 + draw.whole(0, stays_s - 60), "move", zone=point.zone)
    yield from leave(draw, building, at + stays_s + draw.whole(0, 240), calm)


def _through(building: Building, at: int, cause: Cause, driver: str, open_s: int) -> Iterator[Push]:
    zone = building.door().zone
    yield Push(at, "open", zone=zone, cause=cause, driver=driver)
    yield Push(at + open_s, "shut", zone=zone, cause=cause, driver=driver)


def _about(draw: Draw, building: Building, since: int, until: int) -> Iterator[Push]:
    """Move about by day, on panels that log it: a detector tells once, then rests."""
    for point in building.points:
        if point.use not in {Use.ENTRY, Use.FOLLOWER, Use.INTERIOR, Use.PERIMETER}:
            continue
        mean = {Use.ENTRY: 5400.0, Use.PERIMETER: 30000.0}.get(point.use, 8000.0)
        at = since + draw.wait(mean)
        while at < until:
            if point.detector == "contact":
                stays = draw.whole(4, 25)
                yield Push(round(at), "open", zone=point.zone)
                yield Push(round(at) + stays, "shut", zone=point.zone)
            else:
                yield Push(round(at), "move", zone=point.zone)
            at += 180 + draw.wait(mean)


def is_open(building: Building, day: date, seconds: int) -> bool:
    """Tell whether people may be in a building at a wall time, with an hour to either side."""
    if public_holiday(day):
        return False
    hours = building.hours[day.weekday()]
    return hours is not None and (hours[0] - 1) * 3600 <= seconds <= (hours[1] + 1) * 3600


def closed_moment(draw: Draw, building: Building, day: date, low: float, high: float) -> int | None:
    """Return a moment between two hours of a day at which nobody is in; None where none is."""
    seconds = round(draw.between(low, high) * 3600)
    if is_open(building, day, seconds % DAY_S):
        return None
    return utc(day, seconds)


def say(at: int, kind: Kind, phase: Phase = Phase.MOMENT, **more: str | None) -> Push:
    """Let a panel tell something as it is."""
    return Push(at, "say", kind=kind, phase=phase, **more)  # type: ignore[arg-type]  # fields by name
