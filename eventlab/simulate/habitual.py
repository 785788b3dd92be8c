"""Many buildings with habits of opening and closing over a year: nothing wrong, or one trouble."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import polars as pl

from eventlab.context import Context
from eventlab.schema import SITE, Cause, Mode, Pattern, Use, conform
from eventlab.simulate.calendars import Week
from eventlab.simulate.clock import ZONE_NAME, utc
from eventlab.simulate.coming_going import COMING_GOING, HARMLESS, falling
from eventlab.simulate.draw import Draw
from eventlab.simulate.happenings import reports
from eventlab.simulate.living import live
from eventlab.simulate.model import Building, Panel, Person, Point, Push, World
from eventlab.simulate.ordinary import Ordinary
from eventlab.simulate.people import closed_moment
from eventlab.simulate.signalling import Line
from eventlab.simulate.telling import Telling, as_events, draw_telling
from eventlab.simulate.weather import make_weather

_OFFICE: Week = (((9.0, 17.5),),) * 5 + ((), ())
_SHOP: Week = (((8.5, 18.0),),) * 5 + (((8.5, 13.0),), ())
_TWICE: Week = (((9.0, 12.0), (14.0, 18.0)),) * 5 + (((9.0, 12.0),), ())
_MUSEUM: Week = ((), ((13.0, 18.0),), (), ((10.0, 18.0),), ((13.0, 18.0),), ((10.0, 13.0),), ())
_DAILY: Week = (((10.0, 20.0),),) * 7
_EVENING: Week = (((17.0, 23.6),),) * 4 + (((17.0, 25.0),),) * 2 + ((),)
_WEEKS = ((_OFFICE, 5), (_SHOP, 4), (_TWICE, 3), (_MUSEUM, 2), (_DAILY, 3), (_EVENING, 2))
_HARMLESS_CHANCE = 0.25


def habitual(
    seed: int,
    *,
    sites: int,
    troubles: Sequence[Pattern | None] = (*COMING_GOING, None),
    days: int = 365,
    background: str = "poisson",
) -> Ordinary:
    """Make many sites whose days are the matter: holidays, clock changes, other hours, shut weeks.

    Parameters
    ----------
    seed : int
        The same seed makes the same sites.
    sites, days : int
        How many.
    troubles : sequence of Pattern or None
        Of ``COMING_GOING``, taken in turn; None is a site with nothing wrong.
    background : str
        One of ``BACKGROUNDS``: on which days alarms and late evenings fall.

    Returns
    -------
    Ordinary
        Events, context (a region of public holidays for seven in ten), truth.

    Notes
    -----
    Each harmless thing of ``HARMLESS`` happens at one site in four. One site in five has a store
    of its own hours as a second area; at one in five somebody stays over many nights and it is
    armed in part. Logs differ in what they tell as in `ordinary`, but all tell arming.
    """
    weather = make_weather(seed, days + 1)
    lived, telling, rows, listed = [], {}, [], []
    for number in range(sites):
        trouble = troubles[number % len(troubles)]
        building = _building(seed, f"H{number:05d}", trouble, background)
        one = live(seed, days, building, weather)
        draw = Draw(seed, building.site, "telling")
        how = replace(draw_telling(draw, one.world.start, one.world.end), arming=True)
        lived.append(one)
        telling[building.site] = how
        rows.append((building.site, str(trouble or "nothing"), how.panel, how.centre, how.grain))
        region = "GB-ENG" if draw.chance(0.7) else None
        listed.append({"site": building.site, "time_zone": ZONE_NAME, "region": region})
    columns = ("site", "trouble", "panel", "centre", "grain")
    return Ordinary(
        as_events(lived, telling),
        replace(Context.empty(), sites=conform(pl.DataFrame(listed), SITE)),
        _planted([(one.building.site, one.world) for one in lived], telling),
        pl.DataFrame(rows, schema=list(columns), orient="row"),
    )


def _planted(worlds: Sequence[tuple[str, World]], telling: dict[str, Telling]) -> pl.DataFrame:
    rows = [
        (site, told.pattern, told.subject_kind, told.subject, told.since, told.until,
         told.standing, _gapped(telling[site], told.since, told.until))
        for site, world in worlds
        for told in world.told
    ]  # fmt: skip
    columns = ("site", "pattern", "subject_kind", "subject", "since", "until", "standing", "gapped")
    frame = pl.DataFrame(rows, schema=list(columns), orient="row")
    moments = pl.from_epoch(pl.col("since", "until"), time_unit="s").cast(pl.Datetime("us"))
    return frame.with_columns(moments.dt.replace_time_zone("UTC"))


def _gapped(how: Telling, since: int, until: int) -> bool:
    """Tell whether a part of a trouble lies where no export was kept."""
    return how.gap is not None and how.gap[0] < until and how.gap[1] > since


def _building(seed: int, site: str, trouble: Pattern | None, background: str) -> Building:
    draw = Draw(seed, site, "building")
    week = draw.weighted(list(_WEEKS))
    points = [
        Point("1", "Front door", "contact", Use.ENTRY, route=True),
        Point("2", "Lobby", "pir", Use.FOLLOWER, route=True),
        Point("3", "Window 3", "contact", Use.PERIMETER, part=True),
        Point("4", "Room 4", "pir", Use.INTERIOR),
        Point("5", "Window 5", "contact", Use.PERIMETER, part=True),
    ]
    apart = draw.chance(0.2)
    if apart:
        points.append(Point("6", "Store 6", "pir", Use.INTERIOR, area="2"))
    people = tuple(
        Person(str(n), f"Person {n}", walk_s=draw.between(9, 20))
        for n in range(1, draw.whole(3, 6))
    )
    panel = Panel(
        entry_s=draw.pick((30, 45)),
        exit_s=draw.pick((45, 60)),
        activations=draw.chance(0.06),
        restores=draw.weighted([("live", 3), ("at-disarm", 1)]),
        arm_at=draw.pick(("start", "end")),
        resets=trouble is not Pattern.ARM_REFUSED and draw.chance(0.3),
        report_s=round(draw.between(0, 86_400)) if draw.chance(0.8) else None,
    )

    def story(world: World, building: Building) -> Iterator[Push]:
        world.calendar.weeks.append((world.days[0], week))
        world.calendar.background = background
        if apart:
            world.calendar.area = "1"
            yield from _store(world, building)
        for happening in HARMLESS:
            if world.draw("harmless", happening.__name__).chance(_HARMLESS_CHANCE):
                yield from happening(world, building)
        yield from _alarms(world, building)
        yield from reports(world, building)
        if trouble is not None:
            yield from COMING_GOING[trouble](world, building)

    return Building(
        site=site,
        name=site,
        trade="shop",
        place=(54.5, -3.1),
        hours=tuple(shifts[0] if shifts else None for shifts in week),
        points=tuple(points),
        people=people,
        story=story,
        panel=panel,
        line=Line(
            late=draw.weighted([(0.0, 5), (0.01, 3), (0.05, 2)]),
            lost=draw.weighted([(0.0, 5), (0.003, 3), (0.02, 2)]),
        ),
        part_share=draw.weighted([(0.0, 6), (0.3, 1), (1.0, 1)]),
    )


def _store(world: World, building: Building) -> Iterator[Push]:
    """Open and close a second area at hours of its own, some days not at all."""
    draw = world.draw("store")
    often = draw.pick((1.0, 0.9, 0.4))
    opens, closes = draw.between(9, 11), draw.between(14, 17)
    yield Push(utc(world.days[0], 3600), "arm", person="9", mode=Mode.FULL, area="2")
    for day in world.days:
        if not world.calendar.hours(building, day) or not draw.chance(often):
            continue
        comes = utc(day, opens * 3600 + draw.whole(-1500, 1500))
        goes = utc(day, closes * 3600 + draw.whole(-1500, 1500))
        yield Push(comes, "disarm", person="9", area="2", cause=Cause.PERSON_ENTERING)
        yield Push(goes, "arm", person="9", mode=Mode.FULL, area="2", cause=Cause.PERSON_LEAVING)


def _alarms(world: World, building: Building) -> Iterator[Push]:
    """Raise a few alarms that follow nothing."""
    draw = world.draw("alarms")
    many = draw.whole(2, 15)
    for day in falling(draw, world.days[5:-2], many, world.calendar.background):
        at = closed_moment(draw, building, day, 20.5, 30)
        if at is not None:
            yield Push(at, "move", zone="4", cause=Cause.UNEXPLAINED)
