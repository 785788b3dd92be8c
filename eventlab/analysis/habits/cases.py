"""What was out of the usual, one row each: closings, nights, openings."""

from dataclasses import dataclass

import polars as pl

from eventlab.analysis.found import asof, hours
from eventlab.analysis.habits import who
from eventlab.analysis.habits.refusal import refused
from eventlab.analysis.habits.rhythm import CLOSED_DAY, counted
from eventlab.analysis.habits.spans import PLACE, Spans, centre_alone, spans
from eventlab.analysis.habits.unusual import Usual, around, late, odd, unarmed
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Pattern, Phase, Timing, Witness
from eventlab.settings import Settings
from eventlab.stats import share_interval

_SEEMS = 0.05
"""So many nights may seem unarmed, by closings and openings that both got lost on the way."""
_LOST_MORE = 2
"""So many more lost rows than were seen are reckoned with."""

_QUIET = (
    *(Kind.ACTIVATION, Kind.ARM, Kind.DISARM, Kind.CANCEL, Kind.ACCESS, Kind.TEST_REPORT),
    *(Kind.HANDLING, Kind.LOG_STATE, Kind.CLOCK_SET, Kind.EXIT_ERROR, Kind.UNREAD),
    *(Kind.BYPASS, Kind.RESET, Kind.WRONG_CODE, Kind.MANUAL_TEST, Kind.DEVICE_BATTERY_LOW),
)
"""Kinds that call nobody out."""


@dataclass(frozen=True)
class Habits:
    """What was learned of openings and closings, and what was out of it.

    Parameters
    ----------
    spans : Spans
        The places and their stretches.
    usual : Usual
        Holidays and schedule.
    cases : polars.DataFrame
        ``case``, ``what`` (a pattern, or ``CLOSED_DAY``), ``site``, ``area`` (null where it is the
        whole site), ``since``, ``until`` (UTC: how long it was out of the usual), ``since_w``,
        ``until_w`` (wall), ``date`` (it belongs to), ``hours``, ``person``, ``who``, ``nobody``,
        ``alike``, ``n`` (comparable days that were so too, of all), ``by_schedule``, ``standing``,
        ``refusal``, ``refused_zone``, ``tries``, ``counted`` (whether it speaks for a finding),
        ``why_not`` (in words, where it does not), ``times``, ``of``, ``rate``, ``rate_low``,
        ``rate_high``, ``moves`` (movement told meanwhile).
    """

    spans: Spans
    usual: Usual
    cases: pl.DataFrame


def habits(ground: Ground, context: Context, settings: Settings) -> Habits:
    """Learn when places are opened and closed, and list what was out of the usual.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on; sites whose arming is not all told are left out.
    context : Context
        Site list (region), schedule.
    settings : Settings
        The settings named ``habit_…``, ``late_closing_…``, ``missed_…``, ``odd_opening_…``,
        ``refused_…``, ``schedule_…``.

    Returns
    -------
    Habits
        Everything by place, for findings and for a page.
    """
    laid = spans(ground, settings)
    usual = around(laid, context, settings)
    places = laid.places.select("k", *PLACE, "areas", "end", "lost")
    stretches = laid.open.join(places, on="k").join(
        unarmed(laid, usual, settings), on="open", how="left"
    )
    stretches = stretches.with_columns(
        pl.col("unusual_h", "sure_h").fill_null(0.0),
        length_h=hours(pl.col("until_w") - pl.col("since_w")),
    )
    unusual = odd(laid, usual, settings)
    nights = _nights(stretches, unusual, ground, settings)
    openings = _openings(stretches, unusual, ground, settings)
    closings = _closings(stretches, late(laid, usual, settings), nights, unusual)
    every = pl.concat([nights, closings, openings], how="diagonal").with_row_index("case")
    every = _refused(every, ground, settings)
    every = _named(_as_one(every), laid)
    every = counted(every, laid, usual, ground, settings)
    every = every.filter(pl.col("late").fill_null(value=True)).drop("late")
    return Habits(laid, usual, _rated(every, laid))


def _nights(
    stretches: pl.DataFrame, unusual: pl.DataFrame, ground: Ground, settings: Settings
) -> pl.DataFrame:
    """Give the stretches that stood unarmed over hours at which the place is always armed."""
    alone = centre_alone(ground).with_columns(alone=pl.lit(value=True))
    # Where rows get lost, now and then a closing is and the opening after it: a night, it seems.
    opened = pl.col("opened").sum().over("k")
    share = (pl.col("lost") + _LOST_MORE) / (2 * opened + _LOST_MORE)
    stretches = stretches.with_columns(seems=opened * share**2)
    # Told by the centre only, an opening may be the late row of an earlier one.
    heard = (
        ground.occurrences.lazy()
        .filter(
            (pl.col("kind") == Kind.DISARM) & ~pl.col("witnesses").list.contains(str(Witness.PANEL))
        )
        .select("site", since="placed", heard=pl.lit(value=True))
        .collect()
    )
    ended = pl.col("closed") | (pl.col("until") < pl.col("end"))
    least = (
        pl.when(pl.col("odd_hour").is_not_null())
        .then(pl.lit(settings.missed_unusual_h))
        .when((pl.col("alone") | pl.col("heard")) & ~ended)
        .then(pl.lit(settings.missed_centre_h))
        .otherwise(pl.lit(0.0))
    )
    rows = (
        stretches.join(unusual.select("open", "odd_hour"), on="open", how="left")
        .join(alone, on="site", how="left")
        .join(heard.unique(), on=["site", "since"], how="left")
        .filter(
            (pl.col("sure_h") >= settings.missed_closing_h)
            & (pl.col("length_h") >= least)
            & ~pl.col("aside")
            & ~pl.col("broken")
            & ((pl.col("seems") <= _SEEMS) | pl.col("alone").is_null())
        )
    )
    # Wall hours and real ones differ where the clock was changed meanwhile.
    due = pl.col("since") + (pl.col("from_w") - pl.col("since_w"))
    changed = hours(pl.col("until") - pl.col("due")) - hours(pl.col("until_w") - pl.col("from_w"))
    # Beyond, what lies before the stretch no longer shows what is usual; all of it is told.
    known = pl.col("length_h") <= 168 * (settings.habit_weeks - settings.habit_days_min)
    rows = rows.with_columns(due=due).with_columns(
        hours=pl.when(known)
        .then(pl.col("unusual_h") + changed)
        .otherwise(hours(pl.col("until") - pl.col("due"))),
        standing=~pl.col("closed") & (pl.col("until") >= pl.col("end")),
    )
    rows = _contradicted(rows, ground)
    moves = (
        ground.occurrences.lazy()
        .filter((pl.col("kind") == Kind.ACTIVATION) & (pl.col("phase") == Phase.BEGIN))
        .select("site", moved="placed")
        .join(rows.lazy().select("site"), on="site", how="semi", maintain_order="left")
        .collect()
    )
    seen = (
        rows.select("open", "site", "due", "until")
        .join(moves, on="site")
        .filter(pl.col("moved").is_between("due", "until"))
        .group_by("open")
        .agg(moves=pl.len().cast(pl.Int64))
    )
    return rows.join(seen, on="open", how="left").select(
        *("open", "k", *PLACE, "areas", "due", "until", "until_w", "hours", "standing", "moves"),
        what=pl.lit(str(Pattern.MISSED_CLOSING)),
        opened_at="since",
        since="due",
        since_w="from_w",
        date=pl.col("from_w").dt.date(),
        by_schedule=pl.col("by_schedule").fill_null(value=False),
    )


def _contradicted(rows: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Leave out what the log itself speaks against.

    An ordinary alarm was raised, so the place was armed; the panel was dead or started anew; or
    closings are told by the centre alone and its path was lost.
    """
    told = ground.occurrences.lazy().join(rows.lazy().select("site"), on="site", how="semi")
    kind = pl.col("kind")
    always = ground.points.filter("all_hours").select("site", "zone", "within").unique()
    alarms = told.filter(
        kind.is_in([Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM])
        & (pl.col("phase") == Phase.BEGIN)
        & ~pl.col("life_safety")
        & ~pl.col("aside")
    ).join(always.lazy(), on=["site", "zone", "within"], how="anti", nulls_equal=True)
    lost = told.filter((kind == Kind.COMMS_FAIL) & (pl.col("phase") == Phase.BEGIN)).join(
        centre_alone(ground).lazy(), on="site", how="semi"
    )
    dead = told.filter(kind == Kind.SYSTEM_RESTART)
    doubtful = told.filter(
        kind.is_in([Kind.ARM, Kind.DISARM]) & (pl.col("timing") == Timing.DOUBTFUL)
    )
    hour = pl.duration(hours=1)
    nothing = pl.duration(hours=0)
    against = pl.concat(
        frame.select("site", sign="placed", of="area", margin=margin)
        for frame, margin in ((alarms, nothing), (dead, hour), (lost, hour), (doubtful, hour))
    )
    meets = (
        rows.select("open", "site", "area", "due", "until")
        .join(against.collect(), on="site")
        .filter(
            (pl.col("of").is_null() | pl.col("area").is_null() | (pl.col("of") == pl.col("area")))
            & (pl.col("sign") >= pl.col("due") - pl.col("margin"))
            & (pl.col("sign") < pl.col("until") + pl.col("margin"))
        )
    )
    return rows.join(meets, on="open", how="anti")


def _openings(
    stretches: pl.DataFrame,
    found: pl.DataFrame,
    ground: Ground,
    settings: Settings,
) -> pl.DataFrame:
    """Give the openings at hours at which the place is usually armed."""
    rows = stretches.drop("by_schedule").join(found, on="open").filter(~pl.col("aside"))
    called = (
        ground.occurrences.lazy()
        .filter(~pl.col("kind").is_in(list(_QUIET)) & (pl.col("phase") != Phase.END))
        .select("site", called="placed", called_kind="kind")
        .join(rows.lazy().select("site"), on="site", how="semi", maintain_order="left")
        .collect()
    )
    entry = pl.duration(seconds=int(settings.entry_overrun_s))
    # An alarm within the entry time may come of the entry itself.
    rows = asof(rows.with_columns(came=pl.col("since") - entry), called, "came", "called")
    out = hours(pl.col("came") - pl.col("called")) <= settings.odd_opening_called_h
    return rows.select(
        *("open", "k", *PLACE, "areas", "since", "until", "since_w", "until_w", "alike", "n"),
        what=pl.when("odd_hour")
        .then(pl.lit(str(Pattern.ODD_HOURS_OPENING)))
        .otherwise(pl.lit(CLOSED_DAY)),
        due="since",
        opened_at="since",
        date=pl.col("since_w").dt.date(),
        hours=hours(pl.col("until") - pl.col("since")),
        person="opener",
        mode="open_mode",
        act="open_act",
        called_out=out.fill_null(value=False),
        standing=pl.lit(value=False),
    )


def _closings(
    stretches: pl.DataFrame, found: pl.DataFrame, nights: pl.DataFrame, unusual: pl.DataFrame
) -> pl.DataFrame:
    """Give the closings far later than usual of places that were opened as usual."""
    rows = (
        stretches.drop("by_schedule")
        .join(found, on="open")
        .join(nights, on="open", how="anti")
        .join(unusual, on="open", how="anti")
        .filter(
            ~pl.col("aside")
            & ~pl.col("broken")
            & (pl.col("unusual_h") <= pl.col("length_h") - 1 / 4)
        )
    )
    late_by = pl.duration(seconds=(pl.col("late_h") * 3600).round(0).cast(pl.Int64))
    return rows.select(
        *("open", "k", *PLACE, "areas", "until", "until_w", "alike", "n", "by_schedule", "late"),
        what=pl.lit(str(Pattern.LATE_CLOSING)),
        since=pl.col("until") - late_by,
        due=pl.col("until") - late_by,
        since_w=pl.col("until_w") - late_by,
        opened_at="since",
        date=pl.col("since_w").dt.date(),
        hours="late_h",
        person="closer",
        mode="close_mode",
        act="close_act",
        standing=pl.lit(value=False),
    )


def _refused(every: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Let the system's refusal be no closing that somebody missed."""
    unarmed_now = [str(Pattern.MISSED_CLOSING), str(Pattern.LATE_CLOSING)]
    asked = every.filter(pl.col("what").is_in(unarmed_now)).select(
        *("case", "site", "area", "due", "until"),
        since="opened_at",
        night=pl.col("what") == str(Pattern.MISSED_CLOSING),
    )
    told = refused(asked, ground, settings)
    return every.join(told, on="case", how="left").with_columns(
        what=pl.when(pl.col("refusal").is_not_null())
        .then(pl.lit(str(Pattern.ARM_REFUSED)))
        .otherwise("what"),
        night=pl.col("what") == str(Pattern.MISSED_CLOSING),
    )


def _as_one(every: pl.DataFrame) -> pl.DataFrame:
    """Let what concerns several areas by one act be one, and a night of all areas the site's."""
    key = ["site", "what", "act", "night_of"]
    act = pl.col("act").is_not_null()
    group = every.with_columns(night_of=pl.when(~act).then(pl.col("date"))).sort(
        "site", "what", "since", "area", nulls_last=True
    )
    whole = pl.len().over(key) == pl.col("areas")
    place = (
        pl.when(whole)
        .then(None)
        .when(act)
        .then(pl.col("area").drop_nulls().first().over(key))
        .otherwise("area")
    )
    return (
        group.with_columns(place=place)
        .group_by(*key, "place", maintain_order=True)
        .agg(
            pl.exclude("area", "hours", "standing", "n", "alike", "tries", "place").first(),
            pl.col("hours", "n", "alike", "tries").max(),
            pl.col("standing").any(),
            also=pl.col("area").drop_nulls(),
        )
        .rename({"place": "area"})
    )


def _named(every: pl.DataFrame, laid: Spans) -> pl.DataFrame:
    """Say who acted."""
    acts = pl.concat(
        laid.open.filter(done)
        .join(laid.places.select("k", "site"), on="k")
        .select("site", pl.lit(what).alias("what"), person=by, wall=wall)
        for done, what, by, wall in (
            ("opened", "opening", "opener", "since_w"),
            ("closed", "closing", "closer", "until_w"),
        )
    )
    # Only who did one of these is asked for.
    acts = acts.join(every.select("site", "person"), on=["site", "person"], how="semi")
    machines = who.clockwork(acts).with_columns(by_clock=pl.lit(value=True))
    closing = pl.col("what").is_in([str(Pattern.LATE_CLOSING), str(Pattern.ARM_REFUSED)])
    act = pl.when(closing).then(pl.lit("closing")).otherwise(pl.lit("opening"))
    named = (
        every.with_columns(done=act)
        .join(machines.rename({"what": "done"}), on=["site", "person", "done"], how="left")
        .with_columns(pl.col("by_clock").fill_null(value=False))
    )
    acted = pl.col("act").is_not_null()
    columns = (pl.col("person"), pl.col("mode"), pl.col("by_clock"))
    return named.with_columns(
        who=pl.when(acted).then(who.told(*columns)),
        nobody=acted & who.nobody(*columns),
    ).drop("done", "by_clock")


def _rated(every: pl.DataFrame, laid: Spans) -> pl.DataFrame:
    """Say how often such a thing was of all closings, or openings, exactly."""
    sited = laid.open.join(laid.places.select("k", *PLACE), on="k")
    opening = pl.col("what").is_in([str(Pattern.ODD_HOURS_OPENING), CLOSED_DAY])
    every = every.with_columns(opening=opening)
    counts = []
    for done, act, opens in (("opened", "open_act", True), ("closed", "close_act", False)):
        rows = sited.filter(done)
        whole = (
            rows.group_by("site")
            .agg(of=pl.col(act).n_unique())
            .with_columns(area=pl.lit(None, pl.String))
        )
        parts = rows.drop_nulls("area").group_by("site", "area").agg(of=pl.col(act).n_unique())
        counts.append(
            pl.concat([whole, parts.select(whole.columns)]).with_columns(opening=pl.lit(opens))
        )
    of = pl.concat(counts).cast({"of": pl.Int64})
    key = ["site", "area", "opening"]
    rated = every.join(of, on=key, how="left", nulls_equal=True).with_columns(
        times=pl.len().over("site", "area", "what").cast(pl.Int64),
        missed=pl.col("act").is_null().sum().over(key),
    )
    rated = rated.with_columns(of=pl.col("of").fill_null(0) + pl.col("missed")).drop("missed")
    share = share_interval(rated["times"].to_numpy(), rated["of"].to_numpy())
    return rated.with_columns(
        rate=pl.Series(share.estimate), rate_low=pl.Series(share.low),
        rate_high=pl.Series(share.high),
    ).drop("opening").sort("site", "since", "what")  # fmt: skip
