"""Lays the ground: from events and context to what every analysis stands on."""

from datetime import datetime

import polars as pl

from eventlab.context import Context
from eventlab.ground import exposure, intervals, paths, places, powers, removals, state
from eventlab.ground.aside import inside, set_aside
from eventlab.ground.clocks import clocked
from eventlab.ground.coverage import bounded, covered, doubtful
from eventlab.ground.episodes import episodes
from eventlab.ground.ground import Ground
from eventlab.ground.late import doubted, late
from eventlab.ground.memory import ALARMS
from eventlab.ground.nights import at_home
from eventlab.ground.occurrences import ACTING, OFTEN, acts_as_one, fold, led, without
from eventlab.ground.order import in_order, numbered, speaking
from eventlab.ground.pace import paced
from eventlab.ground.points import all_hours_seen, labelled, pointed, points
from eventlab.ground.shapes import publish
from eventlab.ground.sites import contradictions, site_values
from eventlab.ground.words import Arming, Power, State, Told
from eventlab.schema import EVENT, TRIPS, Kind, Phase, Timing
from eventlab.settings import Settings

SLIM = (
    *("n", "s", "witness", "placed", "grain", "kind", "phase", "mode", "area", "zone", "person"),
    "point",
)
BRIEF = (
    *("n", "s", "site", "placed", "timing", "grain", "kind", "phase", "area", "zone", "person"),
    *("point", "k", "state", "period", "occurrence", "aside", "life_safety", "trip", "night"),
)
NEEDED = tuple(name for name in EVENT if name not in {"nth", "reading", "raw", "problem"})
"""Event columns that anything is worked out from; the others are shown to people."""

UNTOLD = (*(name for name in EVENT if name not in NEEDED), "label", "wall", "piece")
"""Columns that occurrences do not carry."""

TRIP = (
    pl.col("kind").is_in(list(TRIPS))
    & (pl.col("phase") == Phase.BEGIN)
    & ~pl.col("aside")
    & ~pl.col("life_safety")
    & (pl.col("timing") != Timing.DOUBTFUL)
)

RESTORE = pl.col("kind").is_in([*ALARMS, Kind.ACTIVATION]) & (pl.col("phase") == Phase.END)


def lay(
    events: pl.DataFrame,
    context: Context,
    settings: Settings,
    *,
    now: datetime | None = None,
    spans: pl.DataFrame | None = None,
) -> Ground:
    """Lay out occurrences, powers, coverage, arming, exposure and episodes of all sites at once.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT columns, ``NEEDED`` at least; the store's order (site, placed) costs least.
    context : Context
        What is known of the sites from outside.
    settings : Settings
        The numbers in force.
    now : datetime, optional
        When the newest logs were exported (UTC); the last row where left out.
    spans : polars.DataFrame, optional
        What each export covered: ``site``, ``source``, ``since``, ``until``.

    Returns
    -------
    Ground
        All frames; empty ones where there are no events.
    """
    often = pl.col("kind").is_in(list(OFTEN))
    clocks = clocked(events, context, settings)
    ordered = in_order(paced(labelled(clocks.events)), ways=events)
    rows = paths.named(numbered(ordered))
    known = places.places(rows)
    listed = points(rows, context.zones)
    rows = pointed(rows, listed)
    spoken = covered(rows, settings, now=now, spans=spans)
    cover = intervals.unite(spoken, ["s"])
    voices = speaking(rows)

    slim = rows.select(SLIM)
    arming = powers.arming(slim, voices, settings)
    full = arming.filter(pl.col("value") == Arming.ALL).select("s", "witness")
    dated, undated = late(rows, settings)
    rows = doubted(rows, undated)
    folding = fold(rows, voices, known, settings, dated=dated)
    at = powers.arm_at(slim, voices, listed, settings)
    values = site_values(rows, context, settings, at, cover, now)
    recorded = intervals.unite(spoken.join(full, on=["s", "witness"], how="semi"), ["s"])
    acts = without(slim.filter(pl.col("kind").is_in(list(ACTING))), folding.twins)
    line = state.timeline(acts, bounded(recorded, slim, values), known, values, settings)
    found = state.found_in(slim, line, listed, known)
    slim = slim.with_columns(found["state"])
    fresh = without(slim, folding.memory)
    listed = all_hours_seen(listed, fresh, settings)
    power = pl.concat(
        [arming, at, powers.others(fresh, settings), powers.clock(voices, values, clocks.rules)]
    )
    brief = without(slim.filter(~often), folding.twins)
    aside = set_aside(brief, cover, settings, untold=powers.never(power, Power.ENDS))

    off = [_whole(aside), doubtful(rows, spoken)]

    told = led(pl.concat([rows.drop(UNTOLD, strict=False), found], how="horizontal"), folding)
    del rows, slim, fresh, found  # the widest frames; what follows stands on told
    told = told.with_columns(
        occurrence=pl.int_range(1, pl.len() + 1, dtype=pl.Int64).over("s"),
        life_safety=listed["life_safety"].gather(told["point"]).fill_null(value=False),
        area=pl.coalesce("area", listed["area"].gather(told["point"])),
    )
    told = told.with_columns(aside=inside(told, aside)).with_columns(trip=TRIP)
    told = at_home(told, values["time_zone"])
    brief = told.select(BRIEF).filter(~often | (pl.col("state") == State.ARMED))
    values = contradictions(values, brief, listed, full, settings)
    watched = intervals.subtract(cover, intervals.unite(pl.concat(off), ["s"]), ["s"])
    here = places.spread(aside.filter(pl.col("area").is_not_null()), known)
    owned, spans_at_risk = exposure.bases(
        listed, line, watched, intervals.unite(here, ["k"]), values["arming_reliable"], known
    )
    limit = removals.limits(brief, listed, settings)
    listed = listed.join(limit, on="point", how="left", maintain_order="left")
    lifts = power.filter((pl.col("power") == Power.BYPASS_ENDS) & (pl.col("value") == Told.YES))
    tells = values["s"].is_in(lifts["s"].to_list())
    removed = removals.removals(brief, line, limit, tells, values["now"], known)
    apart = intervals.unite(removed, ["point"])
    hours = exposure.measured(listed, owned, spans_at_risk, apart)
    risk = removals.at_risk(brief.filter("trip"), owned, spans_at_risk, watched, apart)
    told = told.with_columns(
        act=acts_as_one(told, settings), at_risk=pl.col("n").is_in(risk["n"].implode())
    )
    power = pl.concat([power, powers.both(told, voices)])
    runs = state.armed(line)
    restores = _value(power, Power.RESTORES, values)
    ends = told.select("n", "s", "placed", "kind", "phase", "point").filter(RESTORE)
    gathered = episodes(brief, ends, runs, restores, values["now"], known, settings)
    return publish(
        events=ordered.drop("label"),
        told=told,
        power=power,
        spoken=spoken,
        watched=watched,
        recorded=recorded,
        runs=runs,
        aside=aside,
        points=listed,
        hours=hours,
        spans=spans_at_risk,
        removed=removed,
        episodes=gathered,
        values=values,
        clocks=clocks.stretches,
    )


def _value(power: pl.DataFrame, name: Power, values: pl.DataFrame) -> pl.Series:
    """Give a power by site: the panel's where it has it, else the receiver's."""
    own = (
        power.filter(pl.col("power") == name)
        .sort("s", pl.col("value") == Told.NONE, "witness")
        .unique("s", keep="first", maintain_order=True)
    )
    return values.select("s").join(own, on="s", how="left", maintain_order="left")["value"]


def _whole(aside: pl.DataFrame) -> pl.DataFrame:
    """Take what is set aside for a whole site."""
    return aside.filter(pl.col("area").is_null()).select("s", "since", "until")
