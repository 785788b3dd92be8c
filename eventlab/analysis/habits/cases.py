"""What was out of the usual, one row each: closings, nights, openings."""

from dataclasses import dataclass

import polars as pl

from eventlab.analysis.found import asof, hours
from eventlab.analysis.habits import who
from eventlab.analysis.habits.refusal import refused
from eventlab.analysis.habits.spans import PLACE, Spans, centre_alone, spans
from eventlab.analysis.habits.unusual import Usual, around, late, odd, unarmed
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Pattern, Phase, Timing
from eventlab.settings import Settings
from eventlab.stats import share_interval

CLOSED_DAY = "closed-day-opening"
"""An opening on a weekday, or holiday, on which it is usually closed at that hour: a record."""

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
    places = laid.places.select("k", *PLACE, "areas", "end")
    stretches = laid.open.join(places, on="k").join(
        unarmed(laid, usual, settings), on="open", how="left"
    )
    stretches = stretches.with_columns(
        pl.col("unusual_h", "sure_h").fill_null(0.0),
        length_h=hours(pl.col("until_w") - pl.col("since_w")),
    )
    nights = _nights(stretches, ground, settings)
    openings = _openings(stretches, odd(laid, usual, settings), ground, settings)
    closings = _closings(stretches, late(laid, usual, settings), nights, openings)
    every = pl.concat([nights, closings, openings], how="diagonal").with_row_index("case")
    every = _refused(every, ground, settings)
    every = _named(_as_one(every), laid)
    every = _runs(every, laid)
    return Habits(laid, usual, _rated(every, laid))


def _nights(stretches: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give the stretches that stood unarmed over hours at which the place is always armed."""
    rows = stretches.filter(
        (pl.col("sure_h") >= settings.missed_closing_h) & ~pl.col("aside") & ~pl.col("broken")
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
    moves = ground.occurrences.filter(
        (pl.col("kind") == Kind.ACTIVATION) & (pl.col("phase") == Phase.BEGIN)
    ).select("site", moved="placed")
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
    told = ground.occurrences
    kind = pl.col("kind")
    always = ground.points.filter("all_hours").select("site", "zone", "within").unique()
    alarms = told.filter(
        kind.is_in([Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM])
        & (pl.col("phase") == Phase.BEGIN)
        & ~pl.col("life_safety")
        & ~pl.col("aside")
    ).join(always, on=["site", "zone", "within"], how="anti", nulls_equal=True)
    centre = centre_alone(ground)
    lost = told.filter((kind == Kind.COMMS_FAIL) & (pl.col("phase") == Phase.BEGIN)).join(
        centre, on="site", how="semi"
    )
    dead = told.filter(kind == Kind.SYSTEM_RESTART)
    doubtful = told.filter(
        kind.is_in([Kind.ARM, Kind.DISARM]) & (pl.col("timing") == Timing.DOUBTFUL)
    )
    against = pl.concat(
        frame.select("site", sign="placed", of="area") for frame in (alarms, dead, lost, doubtful)
    )
    meets = (
        rows.select("open", "site", "area", "due", "until")
        .join(against, on="site")
        .filter(
            (pl.col("of").is_null() | pl.col("area").is_null() | (pl.col("of") == pl.col("area")))
            & pl.col("sign").is_between(
                pl.col("due") - pl.duration(hours=1), pl.col("until") + pl.duration(hours=1)
            )
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
    called = ground.occurrences.filter(
        ~pl.col("kind").is_in(list(_QUIET)) & (pl.col("phase") != Phase.END)
    ).select("site", called="placed", called_kind="kind")
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
    stretches: pl.DataFrame, found: pl.DataFrame, nights: pl.DataFrame, openings: pl.DataFrame
) -> pl.DataFrame:
    """Give the closings far later than usual of places that were opened as usual."""
    rows = (
        stretches.drop("by_schedule")
        .join(found, on="open")
        .join(nights, on="open", how="anti")
        .join(openings, on="open", how="anti")
        .filter(
            ~pl.col("aside")
            & ~pl.col("broken")
            & (pl.col("unusual_h") <= pl.col("length_h") - 1 / 4)
        )
    )
    late_by = pl.duration(seconds=(pl.col("late_h") * 3600).round(0).cast(pl.Int64))
    return rows.select(
        *("open", "k", *PLACE, "areas", "until", "until_w", "alike", "n", "by_schedule"),
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
        "case", "site", "area", "due", "until", since="opened_at"
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


def _runs(every: pl.DataFrame, laid: Spans) -> pl.DataFrame:
    """Say which cases speak for a finding.

    Days in a row, on which a place was opened at all, all late or all at an odd hour are other
    hours, not lateness; so are those at the end of the log that no usual one follows yet.
    """
    days = (
        laid.open.filter(pl.col("opened") | pl.col("closed"))
        .select("k", date=pl.col("since_w").dt.date())
        .unique()
    )
    marked = every.filter(pl.col("act").is_not_null()).select("k", "what", "date").unique()
    kinds = marked.select("k", "what").unique()
    line = (
        kinds.join(days, on="k")
        .join(marked.with_columns(out=pl.lit(value=True)), on=["k", "what", "date"], how="left")
        .with_columns(pl.col("out").fill_null(value=False))
        .sort("k", "what", "date")
        .with_columns(
            run=(~pl.col("out")).cum_sum().over("k", "what"),
            newest=pl.col("date").max().over("k", "what"),
        )
        .with_columns(
            length=pl.col("out").sum().over("k", "what", "run"),
            last=pl.col("date").max().over("k", "what", "run") == pl.col("newest"),
        )
        .filter("out")
        .select("k", "what", "date", "length", "last")
    )
    judged = every.join(line, on=["k", "what", "date"], how="left")
    act = pl.col("act").is_not_null()
    called = pl.col("called_out").fill_null(value=False)
    why = (
        pl.when(pl.col("what") == CLOSED_DAY)
        .then(pl.lit("a day on which it is usually closed: a record"))
        .when(called)
        .then(pl.lit("after an alarm or a fault: somebody was called out"))
        .when((pl.col("what") == str(Pattern.ODD_HOURS_OPENING)) & pl.col("nobody"))
        .then(pl.lit("no person opened it"))
        .when((pl.col("what") == str(Pattern.ARM_REFUSED)) & ~pl.col("night"))
        .then(pl.lit("armed later the same evening"))
        .when(act & (pl.col("length") >= _NEW_HOURS_DAYS))
        .then(pl.lit("days in a row: other hours, it seems"))
        .when(act & pl.col("last"))
        .then(pl.lit("no usual one has followed yet: these may be other hours"))
    )
    return judged.with_columns(why_not=why, counted=why.is_null()).drop("length", "last")


_NEW_HOURS_DAYS = 4


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
