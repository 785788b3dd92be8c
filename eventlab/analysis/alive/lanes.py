"""One lane for each thing that must be alive: how it stands, since when, and why that is said."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

import polars as pl

from eventlab.analysis.alive.beats import beats
from eventlab.analysis.alive.families import FAMILIES
from eventlab.analysis.alive.spells import FAMILY_OF, SUBJECT, not_alive
from eventlab.analysis.alive.subjects import last_told, subjects
from eventlab.analysis.battery_life import remaining
from eventlab.analysis.carried import eligible
from eventlab.analysis.found import days, ends
from eventlab.analysis.reports import periods
from eventlab.analysis.rhythm import rhythms
from eventlab.context import Context
from eventlab.ground import Ground, Power, Told
from eventlab.schema import Health, Pattern, Schema, Subject, empty
from eventlab.settings import Settings

_USUAL = 0.01
"""A silence that chance brings more rarely to a point is not called well, nor yet a fault."""
_NEAR_DAYS = 2
"""A witness whose log ends so long before the site's has ended earlier."""
_ORDER = {family.key: place for place, family in enumerate(FAMILIES)}


@dataclass(frozen=True)
class Lanes:
    """What must be alive at the sites at hand.

    Parameters
    ----------
    lanes : polars.DataFrame
        The columns of ``SUBJECT``, ``name``, ``life_safety``, ``health``, ``why`` (below),
        ``pattern`` (of a finding that still holds), ``what`` (stands, or was last), ``since`` and
        ``stood_h`` (of what stands), ``times``, ``longest_h``, ``restore_h`` (the usual time until
        it was put right: a median) [h], ``last`` (something was told of it), ``period_h``; of
        points ``seen_days`` of ``of_days`` (that count, as `rhythm.rhythms` tells) and
        ``silent_days``; of cells ``age_days``, ``left_days`` (the middle of what is left),
        ``early_days`` (one in ten is low by then), ``life_days``, ``life_low``, ``life_high``,
        ``cells`` and ``failed`` as `battery_life.remaining` gives them; what stands first, a test
        that was left on before all else.
    spells : polars.DataFrame
        Columns of ``SPELL``: the times in which something was not alive.
    beats : polars.DataFrame
        Columns of ``BEAT``: the days on which something was heard of.

    Notes
    -----
    ``why``: ``stands``; ``found`` (a finding still holds, though nothing is open now); ``clear``;
    ``ended``; ``untold`` (its end is told by nobody); ``never`` (this log never told of it);
    ``few`` (reports, too few to know how often they are due); ``quiet`` (a path over which long
    nothing came); ``seen``, ``unseen``, ``no-movement`` (of points); ``life`` (of life-safety
    points only lost protection is told); ``no-log``; ``log-ended``; ``stale`` (no log for long).
    """

    lanes: pl.DataFrame
    spells: pl.DataFrame
    beats: pl.DataFrame


def lanes(
    ground: Ground,
    context: Context,
    settings: Settings,
    found: pl.DataFrame,
    now: datetime,
    fleet: Callable[[], pl.DataFrame] | None = None,
) -> Lanes:
    """Say of everything that must be alive how it stands.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Zone schedules tell which devices are wireless.
    settings : Settings
        ``unknown_after_days``, ``list_unseen_days``, ``still_days``, and those of the analyses.
    found : polars.DataFrame
        FOUND or FINDING columns: what stands by them is not well here either.
    now : datetime
        The time as of which is told, UTC.
    fleet : callable, optional
        Gives what is known of cells in service, as `battery_life.remaining` takes it; asked only
        where a device has a lane of its own.

    Returns
    -------
    Lanes
        A lane that nothing is known of says so; none is left out because its log is silent.
    """
    alarms = eligible(ground, settings)
    spells = not_alive(ground, settings, alarms)
    counted = pl.col("standing") | ~pl.col("aside").fill_null(value=False)
    over = ~pl.col("standing") & pl.col("hours").is_not_null()
    of_spells = (
        spells.filter(counted)
        .group_by(SUBJECT, maintain_order=True)
        .agg(
            stands=pl.col("standing").any(),
            since=pl.col("since").filter("standing").first(),
            stood_h=pl.col("hours").filter("standing").first(),
            what=pl.coalesce(pl.col("what").filter("standing").first(), pl.col("what").last()),
            times=pl.len().cast(pl.Int64),
            longest_h=pl.col("hours").max(),
            restore_h=pl.col("hours").filter(over).median(),
            untold=(pl.col("ended_by") == "untold").last().fill_null(value=False),
        )
    )
    full = subjects(ground, context)
    for frame in (
        of_spells,
        last_told(ground),
        _found(found),
        _periods(ground, settings),
        _rhythm(ground, settings),
        _cells(ground, context, settings, fleet, full),
    ):
        on = [name for name in SUBJECT if name in frame.columns]
        full = full.join(frame, on=on, how="left", nulls_equal=True, maintain_order="left")
    told = full.join(_told_kinds(ground), on=["site", "family"], how="left").join(
        _sites(ground, settings, now), on="site", how="left"
    )
    told = _named(told, ground).with_columns(
        pl.col("stands", "untold", "found", "told", "fresh").fill_null(value=False),
        pl.col("times").fill_null(0),
    )
    # What a finding says of one kind of fault says nothing of the others.
    about = (pl.col("times") > 0) | pl.col("pattern").is_in([Pattern.SILENT_ZONE, Pattern.LOG_GAP])
    told = told.with_columns(found=pl.col("found") & about.fill_null(value=False))
    judged = told.with_columns(why=_why(settings)).with_columns(
        health=pl.col("why").replace_strict(_HEALTH, return_dtype=pl.String),
        place=pl.col("family").replace_strict(_ORDER, return_dtype=pl.Int64),
    )
    number = pl.col("zone").cast(pl.Int64, strict=False)
    ordered = judged.sort(
        "site", pl.col("health") != Health.NOT_WELL, "place", number, *SUBJECT[2:],
        nulls_last=True, maintain_order=True,
    )  # fmt: skip
    return Lanes(ordered.select(*SUBJECT, *_TOLD), spells, beats(ground, alarms))


_MOVES = (pl.col("power") == Power.ACTIVATIONS) & (pl.col("value") == Told.YES)
_CELL = ("age_days", "left_days", "early_days", "life_days", "life_low", "life_high")
_FLEET = ("cells", "failed")
_TOLD = (
    *("name", "life_safety", "health", "why", "pattern", "what", "since", "stood_h"),
    *("times", "longest_h", "restore_h", "last", "period_h"),
    *("seen_days", "of_days", "silent_days", *_CELL, *_FLEET),
)
_HEALTH = {
    "stands": Health.NOT_WELL,
    "found": Health.NOT_WELL,
    "clear": Health.WELL,
    "ended": Health.WELL,
    "seen": Health.WELL,
    "untold": Health.NOT_RECORDED,
    "never": Health.NOT_RECORDED,
    "few": Health.NOT_RECORDED,
    "quiet": Health.NOT_RECORDED,
    "unseen": Health.NOT_RECORDED,
    "no-movement": Health.NOT_RECORDED,
    "life": Health.NOT_RECORDED,
    "no-log": Health.NOT_COVERED,
    "log-ended": Health.NOT_COVERED,
    "stale": Health.NOT_COVERED,
}


def _why(settings: Settings) -> pl.Expr:
    family = pl.col("family")
    ended = pl.when(pl.col("times") > 0).then(pl.lit("ended")).otherwise(pl.lit("clear"))
    recent = pl.col("end") - pl.col("last") <= days(settings.list_unseen_days)
    of_point = (
        pl.when("untold")
        .then(pl.lit("untold"))
        .when("life_safety")
        .then(pl.lit("life"))
        .when(~pl.col("moves").fill_null(value=False))
        .then(pl.lit("no-movement"))
        .when(recent & (pl.col("chance").fill_null(1) >= _USUAL))
        .then(pl.lit("seen"))
        .otherwise(pl.lit("unseen"))
    )
    of_witness = (
        pl.when(pl.col("last").is_null())
        .then(pl.lit("no-log"))
        .when(pl.col("end") - pl.col("last") > days(_NEAR_DAYS))
        .then(pl.lit("log-ended"))
        .otherwise(pl.lit("clear"))
    )
    of_path = (
        pl.when(recent.fill_null(value=False))
        .then(ended)
        .when(pl.col("last").is_not_null())
        .then(pl.lit("quiet"))
        .when(pl.col("told") & (pl.col("times") > 0))
        .then(pl.lit("ended"))
        .otherwise(pl.lit("never"))
    )
    of_reports = (
        pl.when(pl.col("last").is_null())
        .then(pl.lit("never"))
        .when(pl.col("period_h").is_null())
        .then(pl.lit("few"))
        .otherwise(ended)
    )
    # What compares two logs, or a clock with another, says nothing before there is anything.
    of_pairs = pl.when(pl.col("last").is_null()).then(pl.lit("never")).otherwise(ended)
    return (
        pl.when("stands")
        .then(pl.lit("stands"))
        .when("found")
        .then(pl.lit("found"))
        .when(~pl.col("fresh"))
        .then(pl.lit("stale"))
        .when(family == "point")
        .then(of_point)
        .when(family.is_in(["panel", "centre"]))
        .then(of_witness)
        .when(family == "log")
        .then(ended)
        .when("untold")
        .then(pl.lit("untold"))
        .when(family == "path")
        .then(of_path)
        .when(family == "reports")
        .then(of_reports)
        .when(family.is_in(["arrival", "clock"]))
        .then(of_pairs)
        .when("told")
        .then(ended)
        .otherwise(pl.lit("never"))
    )


def _periods(ground: Ground, settings: Settings) -> pl.DataFrame:
    return periods(ground, settings).select(
        "site", pl.col("witness"), "period_h", family=pl.lit("reports")
    )


def _rhythm(ground: Ground, settings: Settings) -> pl.DataFrame:
    if ground.powers.filter(_MOVES).is_empty():
        key = dict.fromkeys(("site", "zone", "within", "family"), pl.String)
        days_ = dict.fromkeys(("seen_days", "of_days", "silent_days"), pl.Int64)
        return pl.DataFrame(schema=key | days_ | {"chance": pl.Float64})
    return rhythms(ground, settings).select(
        "site", "zone", "within", "seen_days", "silent_days", "chance",
        family=pl.lit("point"), of_days="days",
    )  # fmt: skip


def _cells(
    ground: Ground,
    context: Context,
    settings: Settings,
    fleet: Callable[[], pl.DataFrame] | None,
    lanes: pl.DataFrame,
) -> pl.DataFrame:
    if lanes.filter(pl.col("family") == "battery", pl.col("zone").is_not_null()).is_empty():
        shape: Schema = dict.fromkeys(("site", "zone", "within", "family"), pl.String())
        shape |= dict.fromkeys(_CELL, pl.Float64())
        return empty(shape | dict.fromkeys(_FLEET, pl.Int64()))
    told = remaining(ground, context, settings, fleet() if fleet else None)
    return told.select("site", "zone", "within", *_CELL, *_FLEET, family=pl.lit("battery"))


def _found(found: pl.DataFrame) -> pl.DataFrame:
    """Say which lanes a finding that still holds is about."""
    stands = found.filter(pl.col("standing").fill_null(value=False))
    zone = pl.when(pl.col("subject_kind") == Subject.ZONE).then("subject")
    parts = []
    for family in FAMILIES:
        # Tests, the mains and paths stand by their own rows; a low battery names its device.
        if family.key in ("on-test", "work", "path", "arrival", "mains"):
            continue
        some = stands.filter(pl.col("pattern").is_in([str(one) for one in family.patterns]))
        some = some.with_columns(zone=zone)
        if Pattern.BATTERY_WEAK in family.patterns:
            device = pl.col("zone").is_not_null()
            some = some.filter(device if family.key == "battery" else ~device)
        parts.append(some.select("site", "zone", "pattern", family=pl.lit(family.key)))
    first = pl.concat(parts).unique(["site", "zone", "family"], keep="first", maintain_order=True)
    return first.with_columns(found=pl.lit(value=True))


def _told_kinds(ground: Ground) -> pl.DataFrame:
    """Say which families the rows of each site tell of at all."""
    return (
        ground.occurrences.select(
            "site", family=pl.col("kind").cast(pl.String).replace_strict(FAMILY_OF, default=None)
        )
        .drop_nulls()
        .unique()
        .with_columns(told=pl.lit(value=True))
    )


def _sites(ground: Ground, settings: Settings, now: datetime) -> pl.DataFrame:
    moves = (
        ground.powers.filter(_MOVES).select("site").unique().with_columns(moves=pl.lit(value=True))
    )
    fresh = pl.lit(now) - pl.col("heard") <= days(settings.unknown_after_days)
    return (
        ground.sites.select("site", heard="last")
        .join(ends(ground), on="site", how="left")
        .join(moves, on="site", how="left")
        .with_columns(fresh=fresh)
        .drop("heard")
    )


def _named(told: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    points = ground.points.filter(pl.col("zone").is_not_null()).select(
        "site", "zone", "within", "name", "life_safety"
    )
    return told.join(
        points, on=["site", "zone", "within"], how="left", nulls_equal=True, maintain_order="left"
    ).with_columns(pl.col("life_safety").fill_null(value=False))
