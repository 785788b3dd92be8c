"""Many ordinary buildings: nothing wrong, or one trouble of known strength."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import polars as pl

from eventlab.context import Context
from eventlab.schema import SITE, ZONE, Cause, Kind, Pattern, Phase, Use, conform
from eventlab.simulate import contacts, using, watching
from eventlab.simulate.backgrounds import BACKGROUNDS, bad_days
from eventlab.simulate.clock import DAY_S, ZONE_NAME
from eventlab.simulate.draw import Draw
from eventlab.simulate.living import Lived, live
from eventlab.simulate.model import Building, Panel, Person, Point, Push, Told, World
from eventlab.simulate.people import closed_moment, say
from eventlab.simulate.signalling import ORDINARY, Line
from eventlab.simulate.telling import Telling, as_events, draw_telling
from eventlab.simulate.trifles import DAY, HOUR, TRIFLES
from eventlab.simulate.troubles import TROUBLES, missing
from eventlab.simulate.using import USED
from eventlab.simulate.weather import make_weather, measured

PATTERNS: tuple[Pattern, ...] = (
    Pattern.CHATTERING,
    Pattern.RATE_CHANGE,
    Pattern.SWINGER,
    Pattern.FOLLOWS_POINT,
    Pattern.STORM_BURST,
    Pattern.ENTRY_OVERRUN,
    Pattern.EXIT_OVERRUN,
    Pattern.MAINS_OUT,
    Pattern.BATTERY_WEAK,
    Pattern.UNSUPERVISED,
    Pattern.REPORT_MISSED,
    Pattern.LEFT_ON_TEST,
    Pattern.LIST_MISMATCH,
    Pattern.PATH_DOWN,
    Pattern.CLOCK_FAULT,
    *USED,
    Pattern.SILENT_ZONE,
    Pattern.TAMPER_OPEN,
    Pattern.MASKED,
    Pattern.FAULT_STANDING,
    Pattern.RADIO_INTERFERENCE,
    Pattern.LOG_GAP,
)
"""The troubles that can be planted."""

_HOURS: tuple[tuple[tuple[float, float] | None, ...], ...] = (
    ((9, 17.5),) * 5 + (None, None),
    ((8.5, 18),) * 6 + (None,),
    (None, (13, 18), None, (10, 18), (13, 18), (10, 13), None),
    ((10, 20),) * 7,
)


@dataclass(frozen=True)
class Habits:
    """How all panels, detectors and logs of a run behave, whatever else is drawn for them.

    Parameters
    ----------
    panel : mapping
        Fields of ``Panel``.
    lockout_s : int
        How long the detectors of rooms sleep after a trip [s].
    ring : int
        How many rows a panel keeps; all where 0.
    """

    panel: Mapping[str, Any] = field(default_factory=dict)
    lockout_s: int = 0
    ring: int = 0


AS_DRAWN = Habits()


@dataclass(frozen=True)
class Ordinary:
    """Ordinary sites as events, with what is known and what is true.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT columns, by site and time.
    context : Context
        Site list; a zone schedule for seven sites in ten.
    planted : polars.DataFrame
        A row per trouble, and per gap of a log: ``site, pattern, subject_kind, subject, since``,
        ``until, standing, told`` (rows of it in the log), ``trip_limit``.
    sites : polars.DataFrame
        A row per site: ``site``, ``trouble`` (a pattern, ``nothing``), ``background`` and how the
        log tells: ``panel, centre, grain, arming, ends, gap, trip_limit, restores``.
    """

    events: pl.DataFrame
    context: Context
    planted: pl.DataFrame
    sites: pl.DataFrame


def ordinary(
    seed: int,
    *,
    sites: int,
    troubles: Sequence[Pattern | None] = (*PATTERNS, None, None, None, None),
    backgrounds: Sequence[str] = BACKGROUNDS,
    both: bool = False,
    habits: Habits = AS_DRAWN,
) -> Ordinary:
    """Make many ordinary sites.

    Parameters
    ----------
    seed : int
        The same seed makes the same sites.
    sites : int
        How many.
    troubles : sequence of Pattern or None
        Taken in turn, site after site; None is a site with nothing wrong.
    backgrounds : sequence of str
        Of ``BACKGROUNDS``, taken in turn each time all troubles have had theirs.
    both : bool
        Whether every site has both its panel's log and its centre's history.
    habits : Habits
        What holds at every site alike; nothing else that is drawn changes with it.

    Returns
    -------
    Ordinary
        Events, context, truth.

    Notes
    -----
    Every site has 4 to 25 alarms a year at each point that follow nothing, and each trifle of
    ``trifles.TRIFLES`` with a chance of one in six; of test reports 4 in 1000 are lost and 4 in
    1000 hours late; 2 in 1000 entries and closings of careful people are late.
    """
    weather = make_weather(seed, 366)
    lived, telling, rows = [], {}, []
    for number in range(sites):
        trouble = troubles[number % len(troubles)]
        background = backgrounds[number // len(troubles) % len(backgrounds)]
        building, days = _building(seed, f"P{number:05d}", trouble, background, habits)
        one = live(seed, days, building, weather)
        draw = Draw(seed, building.site, "telling")
        mostly = trouble in {Pattern.PATH_DOWN, Pattern.CLOCK_FAULT}
        how = draw_telling(draw, one.world.start, one.world.end, both=mostly)
        how = replace(how, panel=True, centre=True) if both else how
        how = replace(how, ring=habits.ring)
        if trouble is Pattern.LOG_GAP:
            ways = Draw(seed, building.site, "log gap")
            how = watching.short_of(ways, how, one.world.start, one.world.end)
        lived.append(one)
        telling[building.site] = how
        rows.append(
            (building.site, str(trouble or "nothing"), background, how.panel, how.centre,
             how.grain, how.arming, how.ends, how.gap is not None, building.panel.trip_limit,
             building.panel.restores)
        )  # fmt: skip
    columns = ("site", "trouble", "background", "panel", "centre", "grain", "arming", "ends",
               "gap", "trip_limit", "restores")  # fmt: skip
    return Ordinary(
        as_events(lived, telling),
        replace(_context(lived), weather=measured(weather, weather.start)),
        _planted(lived, telling),
        pl.DataFrame(rows, schema=list(columns), orient="row"),
    )


def _building(
    seed: int, site: str, trouble: Pattern | None, background: str, habits: Habits
) -> tuple[Building, int]:
    draw = Draw(seed, site, "building")
    radio = trouble in _BY_RADIO or draw.chance(0.5)
    points = [
        Point("1", "Front door", "contact", Use.ENTRY, route=True),
        Point("2", "Lobby", "pir", Use.FOLLOWER, route=True),
    ]
    for number in range(3, draw.whole(7, 12)):
        window = number == 3 or draw.chance(0.4)
        points.append(
            Point(
                str(number),
                f"Window {number}" if window else f"Room {number}",
                "contact" if window else "pir",
                Use.PERIMETER if window else Use.INTERIOR,
                link="radio" if radio else "wired",
            )
        )
    # Chatter and slow trips need a window and a room to happen in.
    last = str(len(points) + 1)
    points.append(
        Point(last, f"Room {last}", "pir", Use.INTERIOR, link="radio" if radio else "wired")
    )
    if habits.lockout_s:
        points = [
            replace(p, lockout_s=habits.lockout_s) if p.name.startswith("Room") else p
            for p in points
        ]
    late = draw.whole(1, 4)
    people = tuple(
        Person(
            str(number),
            f"Person {number}",
            walk_s=draw.between(9, 20),
            hurried=_share(draw, trouble is Pattern.ENTRY_OVERRUN and number == late),
            dawdles=_share(draw, trouble is Pattern.EXIT_OVERRUN and number == late),
        )
        for number in range(1, max(late, draw.whole(2, 5)) + 1)
    )
    reports = trouble is Pattern.REPORT_MISSED or draw.chance(0.8)
    panel = Panel(
        entry_s=draw.pick((30, 45)),
        exit_s=draw.pick((45, 60)),
        trip_limit=draw.pick((1, 2, 3)),
        activations=draw.chance(0.06),
        restores=draw.weighted([("live", 3), ("at-disarm", 1)]),
        arm_at=draw.pick(("start", "end")),
        memory=draw.chance(0.2),
        confirms=draw.chance(0.4),
        resets=draw.chance(0.3),
        report_s=round(draw.between(0, 86_400)) if reports else None,
        report_every_s=draw.weighted([(DAY, 7), (DAY // 2, 1), (7 * DAY, 2)]),
    )

    busy = trouble in {Pattern.SILENT_ZONE, Pattern.LOG_GAP}
    panel = replace(panel, activations=panel.activations or busy)
    panel = replace(panel, **habits.panel)

    def story(world: World, building: Building) -> Iterator[Push]:
        # A point that never alarms alone has nothing of its own.
        still = contacts.followed(building)[1] if trouble is Pattern.FOLLOWS_POINT else ""
        yield from _background(world, building, background, still)
        yield from _reports(world, building, missed=trouble is Pattern.REPORT_MISSED)
        for trifle in (*TRIFLES, *contacts.HARMLESS, *using.HARMLESS, *watching.HARMLESS):
            # A trifle of the same kind would be part of the trouble.
            if trouble in USED and trifle in using.HARMLESS:
                continue
            if world.draw("trifle", trifle.__name__).chance(1 / 6):
                yield from trifle(world, building)
        if trouble is Pattern.CHATTERING and habits.lockout_s:
            yield from contacts.metronome(world, building)
        elif trouble in TROUBLES:
            yield from TROUBLES[trouble](world, building)
        for pattern, share in (
            (Pattern.ENTRY_OVERRUN, "hurried"),
            (Pattern.EXIT_OVERRUN, "dawdles"),
        ):
            for person in building.people:
                if trouble is pattern and getattr(person, share) > _CARELESS:
                    world.tell(pattern, person.number, world.start, kind="person")

    building = Building(
        site=site,
        name=site,
        trade="shop",
        place=(54.5, -3.1),
        hours=draw.pick(_HOURS),
        points=tuple(points),
        people=people,
        story=story,
        panel=panel,
        line=_line(Draw(seed, site, "line"), panel),
        part_share=0.0
        if trouble in USED
        else Draw(seed, site, "part").weighted([(0.0, 70), (0.1, 15), (0.5, 15)]),
    )
    return building, draw.whole(120, 300)


def _line(draw: Draw, panel: Panel) -> Line:
    """Draw what a panel sends: each may hold back for an abort, stay local, wait for a second."""
    return Line(
        abort_s=draw.weighted([(0, 30), (30, 40), (120, 30)]),
        part_local=draw.chance(0.6),
        confirmed_only=panel.confirms and draw.chance(0.3),
        late=draw.weighted([(0.0, 50), (0.01, 30), (0.05, 20)]),
        lost=draw.weighted([(0.0, 50), (0.003, 35), (0.02, 15)]),
    )


_CARELESS = 0.002
_BY_RADIO = frozenset({Pattern.UNSUPERVISED, Pattern.RADIO_INTERFERENCE})


def _share(draw: Draw, trouble: bool) -> float:
    """Draw how often a person is late: 2 in 1000, or in 100 from 6 to 60."""
    late = draw.between(0.06, 0.6)
    return late if trouble else _CARELESS


def _background(
    world: World, building: Building, background: str, still: str = ""
) -> Iterator[Push]:
    days = world.days[4:]
    for point in building.points[2:]:
        if point.zone == still:
            continue
        draw = world.draw("background", point.zone)
        # A stream of numpy's own, since what shares out the days draws from one.
        random = np.random.Generator(np.random.PCG64([world.seed, draw.whole(0, 2**31)]))
        many = round(draw.whole(4, 25) * len(days) / 365)
        for day in bad_days(random, len(days), many, background):
            at = closed_moment(draw, building, days[int(day)], 12, 36)
            while at is None:
                at = closed_moment(draw, building, days[int(day)], 12, 36)
            contact = point.detector == "contact"
            yield Push(at, "open" if contact else "move", zone=point.zone, cause=Cause.UNEXPLAINED)
            if contact:
                yield Push(at + draw.whole(2, 9), "shut", zone=point.zone, cause=Cause.UNEXPLAINED)


def _reports(world: World, building: Building, *, missed: bool) -> Iterator[Push]:
    """Send test reports on the panel's own timer; few are lost or late of themselves."""
    clock, every = building.panel.report_s, building.panel.report_every_s
    if clock is None:
        return
    lost = missing(world, building) if missed else None
    for at in range(world.start - DAY_S + clock, world.end, every):
        draw = world.draw("report", at)
        late = round(draw.between(1, 5) * HOUR) if draw.chance(0.004) else draw.whole(0, 9)
        if draw.chance(0.004) or (lost is not None and lost(at)):
            continue
        yield say(at + late, Kind.TEST_REPORT)


def _context(lived: Sequence[Lived]) -> Context:
    sites, zones = [], []
    for one in lived:
        b = one.building
        delays = {"entry_delay_s": b.panel.entry_s, "exit_delay_s": b.panel.exit_s}
        sites.append({"site": b.site, "name": b.name, "time_zone": ZONE_NAME, **delays})
        amiss = one.world.amiss
        # Who follows whom is told only of points whose place is known.
        places = any(told.pattern == Pattern.FOLLOWS_POINT for told in one.world.told)
        if one.world.draw("schedule").chance(0.7) or amiss or places:
            zones += [
                {"site": b.site, "zone": p.zone, "name": p.name, "detector": p.detector,
                 "use": str(p.use), "area": [p.area], "link": p.link, "entry_route": p.route}
                for p in (amiss.listed(b.points) if amiss else b.points)
            ]  # fmt: skip
    nothing = Context.empty()
    return replace(
        nothing,
        sites=conform(pl.DataFrame(sites), SITE),
        zones=conform(pl.DataFrame(zones), ZONE) if zones else nothing.zones,
    )


def _seen_by_both(one: Lived, told: Told, how: Telling) -> int:
    """Count what shows a trouble only to who has both logs, or the rows of the centre's own."""
    records = one.panel if told.pattern == Pattern.CLOCK_FAULT else one.centre
    if told.pattern == Pattern.PATH_DOWN:
        noticed = sum(r.driver == "planted" and how.tells(r) for r in records)
        lost = [
            r
            for r in one.panel
            if r.kind in ORDINARY and r.phase is Phase.BEGIN and told.since <= r.at < told.until
        ]
        unnoticed = how.panel and how.centre and not any(r.driver == "planted" for r in records)
        return noticed + (len(lost) if unnoticed else 0)
    if told.pattern == Pattern.CLOCK_FAULT and how.panel:
        anew = any(wrong.anew for wrong in one.world.clock)
        return len(records) if how.centre or anew else 0
    return 0


_BESIDE = frozenset({Kind.SHUTDOWN, Kind.CONFIRMED_ALARM})
_DRIVERS = {Pattern.ENTRY_OVERRUN: "hurried", Pattern.EXIT_OVERRUN: "dawdling"}


def _planted(lived: Sequence[Lived], telling: dict[str, Telling]) -> pl.DataFrame:
    rows = []
    for one in lived:
        how = telling[one.building.site]
        for told in (*one.world.told, *watching.uncovered(one, how)):
            driver = _DRIVERS.get(Pattern(told.pattern), "planted")
            amiss = one.world.amiss if told.pattern == Pattern.LIST_MISMATCH else None
            seen = sum(
                (amiss.shows(r) if amiss else r.driver == driver)
                and r.kind not in _BESIDE
                and r.phase != Phase.END
                and not r.note
                for r in how.kept(one.panel if how.panel else one.centre)
            )
            seen += _seen_by_both(one, told, how) + watching.shown(told, how)
            rows.append(
                (one.building.site, told.pattern, told.subject_kind, told.subject, told.since,
                 told.until, told.standing, seen, one.building.panel.trip_limit)
            )  # fmt: skip
    columns = ("site", "pattern", "subject_kind", "subject", "since", "until", "standing", "told",
               "trip_limit")  # fmt: skip
    frame = pl.DataFrame(rows, schema=list(columns), orient="row")
    moments = pl.from_epoch(pl.col("since", "until"), time_unit="s").cast(pl.Datetime("us"))
    return frame.with_columns(moments.dt.replace_time_zone("UTC"))
