"""The times in which something was not alive, as every lane tells them."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import polars as pl

from eventlab.analysis.alive.families import FAMILIES
from eventlab.analysis.battery import lows
from eventlab.analysis.carried import runs
from eventlab.analysis.conditions import spells
from eventlab.analysis.found import ends, hours
from eventlab.analysis.mains import outages
from eventlab.analysis.path_down import lost_paths
from eventlab.analysis.reports import silences
from eventlab.analysis.supervision import losses
from eventlab.ground import ClockSign, Ground
from eventlab.schema import KIND, UTC, Kind, Phase, Schema, Witness
from eventlab.settings import Settings

SUBJECT = ("site", "family", "zone", "within", "path", "witness")
"""What a lane is about; columns that do not apply are null."""

SPELL: Schema = {
    **dict.fromkeys(SUBJECT, pl.String()),
    "what": pl.String(),
    "since": UTC,
    "until": UTC,
    "standing": pl.Boolean(),
    "hours": pl.Float64(),
    "ended_by": pl.String(),
    "aside": pl.Boolean(),
}
"""A time in which something was not alive: ``what`` happened, ``hours`` null where no end is told,
``aside`` where it began in time set aside."""

_REST = (
    *(Kind.MASKING, Kind.SENSOR_FAULT, Kind.MODULE_FAULT),
    *(Kind.SIREN_FAULT, Kind.SYSTEM_FAULT, Kind.RADIO_JAM),
)
_LIDS = (Kind.TAMPER, Kind.TAMPER_ALARM)
_OUT = (Kind.BYPASS, Kind.SHUTDOWN)
_BATTERIES = (Kind.SYSTEM_BATTERY_LOW, Kind.DEVICE_BATTERY_LOW)
FAMILY_OF = {
    str(kind): family.key for family in FAMILIES for kind in family.kinds if family.key != "point"
}


def not_alive(ground: Ground, settings: Settings, alarms: pl.DataFrame) -> pl.DataFrame:
    """Gather the times in which something was not alive.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        Those of the analyses that look at each family.
    alarms : polars.DataFrame
        As `carried.eligible` gives them.

    Returns
    -------
    polars.DataFrame
        Columns of ``SPELL``, by site, family and begin. The same times that findings rest on, the
        short ones among them.
    """
    # A site tells of few kinds: what it does not tell of is not looked for.
    here = set(ground.occurrences["kind"].unique())
    work = [Kind.WALK_TEST, Kind.ON_SITE_WORK]
    asked: tuple[tuple[Sequence[Kind], Callable[[], pl.DataFrame]], ...] = (
        ([Kind.ON_TEST], lambda: spells(ground, [Kind.ON_TEST], settings, restart_closes=False)),
        (work, lambda: spells(ground, work, settings)),
        ([Kind.MAINS_LOSS], lambda: outages(ground, settings)),
        (_BATTERIES, lambda: lows(ground, settings)),
        ([Kind.SUPERVISION_LOSS], lambda: losses(ground, settings)),
        ([Kind.COMMS_FAIL], lambda: lost_paths(ground, settings)),
        (_REST, lambda: spells(ground, list(_REST), settings)),
        (_LIDS, lambda: _lids(ground, settings)),
    )
    told = [_of_kinds(tell()) for kinds, tell in asked if here.intersection(kinds)]
    if Kind.TEST_REPORT in here:
        told.append(_silences(ground, settings))
    if here.intersection(_OUT):
        told += [_out_of_service(ground), _life_out(ground, settings)]
    told += [_missed(alarms, ground, settings), _gaps(ground), _clocks(ground)]
    return pl.concat(told).sort(*SUBJECT, "since", nulls_last=True)


def _shaped(frame: pl.DataFrame, **more: pl.Expr) -> pl.DataFrame:
    """Give the columns of a spell; what is not told is null."""
    full = frame.with_columns(**more)
    return full.select(
        (pl.col(name) if name in full.columns else pl.lit(None)).cast(dtype).alias(name)
        for name, dtype in SPELL.items()
    )


def _of_kinds(told: pl.DataFrame) -> pl.DataFrame:
    kind = pl.col("kind").cast(pl.String)
    if "path" not in told.columns:
        told = told.with_columns(path=pl.lit(None, pl.String))
    family = kind.replace_strict(FAMILY_OF, return_dtype=pl.String)
    # What names a path tells nothing of a point.
    own = family.is_in([one.key for one in FAMILIES if one.device])
    return _shaped(
        told,
        family=family,
        what=kind,
        zone=pl.when(own).then("zone"),
        within=pl.when(own).then("within"),
        standing=pl.col("open"),
    )


def _lids(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give the times in which a lid was open, told as an alarm or not: either may tell the end.

    A log that never tells a lid shut may only tell such alarms: nothing stands by them.
    """
    one = pl.when(pl.col("kind") == Kind.TAMPER_ALARM).then(pl.lit(Kind.TAMPER.value))
    same = one.otherwise(pl.col("kind").cast(pl.String)).cast(KIND).alias("kind")
    both = replace(
        ground,
        occurrences=ground.occurrences.with_columns(same),
        events=ground.events.with_columns(same),
    )
    shut = ground.occurrences.filter(
        pl.col("kind").is_in(list(_LIDS)) & (pl.col("phase") == Phase.END)
    )
    told = spells(both, [Kind.TAMPER], settings).join(
        shut.select("site").unique().with_columns(shut=pl.lit(value=True)), on="site", how="left"
    )
    alarms = ground.occurrences.filter(
        (pl.col("kind") == Kind.TAMPER_ALARM) & (pl.col("phase") == Phase.BEGIN)
    ).select("site", "zone", "within", since="placed", alarm=pl.lit(value=True))
    named = told.join(
        alarms.unique(), on=["site", "zone", "within", "since"], how="left", nulls_equal=True,
        maintain_order="left",
    )  # fmt: skip
    mute = pl.col("open") & pl.col("alarm").is_not_null() & pl.col("shut").is_null()
    return named.with_columns(
        open=pl.col("open") & ~mute,
        until=pl.when(mute).then("since").otherwise("until"),
        hours=pl.when(~mute).then("hours"),
        ended_by=pl.when(mute).then(pl.lit("untold")).otherwise("ended_by"),
    )


def _silences(ground: Ground, settings: Settings) -> pl.DataFrame:
    return _shaped(
        silences(ground, settings),
        family=pl.lit("reports"),
        what=pl.lit("report-missed"),
        standing=pl.col("open"),
        hours=pl.col("gap_h"),
        ended_by=pl.when(~pl.col("open")).then(pl.lit("end")),
    )


def _missed(alarms: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give the run of alarms of each site that did not reach its monitoring centre."""
    if alarms.is_empty():
        return pl.DataFrame(schema=SPELL)
    told = runs(alarms.filter("counts"), settings).filter("in_run")
    run = told.group_by("site", maintain_order=True).agg(
        since=pl.col("placed").first(),
        last=pl.col("placed").last(),
        standing=pl.col("last_run").first(),
        next=pl.col("heard_next").first(),
    )
    run = run.join(ends(ground), on="site", how="left", maintain_order="left")
    until = pl.when("standing").then("end").otherwise(pl.coalesce("next", "last"))
    return _shaped(
        run.with_columns(until=until),
        family=pl.lit("arrival"),
        what=pl.lit("not-arrived"),
        hours=hours(pl.col("until") - pl.col("since")),
        ended_by=pl.when(~pl.col("standing")).then(pl.lit("heard")),
    )


def _gaps(ground: Ground) -> pl.DataFrame:
    """Give what lies between the stretches that the logs of a site cover."""
    after = pl.col("since").shift(-1).over("site")
    between = (
        ground.coverage.sort("site", "since")
        .select("site", since="until", until=after)
        .filter(pl.col("until") > pl.col("since"))
    )
    return _shaped(
        between,
        family=pl.lit("log"),
        what=pl.lit("log-gap"),
        standing=pl.lit(value=False),
        hours=hours(pl.col("until") - pl.col("since")),
        ended_by=pl.lit("end"),
    )


def _clocks(ground: Ground) -> pl.DataFrame:
    wrong = ground.clocks.filter(pl.col("sign") != ClockSign.AGREES).join(
        ends(ground), on="site", how="left", maintain_order="left"
    )
    return _shaped(
        wrong.filter(pl.col("since").is_not_null()).with_columns(pl.coalesce("until", "since")),
        family=pl.lit("clock"),
        what=pl.concat_str(pl.lit("clock-"), pl.col("sign").cast(pl.String)),
        witness=pl.col("witness").cast(pl.String),
        standing=(pl.col("until") >= pl.col("end"))
        & ~pl.col("sign").cast(pl.String).is_in([ClockSign.SET, ClockSign.RULE]),
        hours=hours(pl.col("until") - pl.col("since")),
        ended_by=pl.lit("end"),
    )


def _out_of_service(ground: Ground) -> pl.DataFrame:
    """Give the times in which a point was bypassed or shut out."""
    life = ground.points.filter("life_safety").select("site", "zone", "within")
    out = (
        ground.removed.filter(pl.col("reason").cast(pl.String).is_in([str(one) for one in _OUT]))
        .join(life, on=["site", "zone", "within"], how="anti", nulls_equal=True)
        .join(ends(ground), on="site", how="left", maintain_order="left")
    )
    stands = pl.col("until") >= pl.col("end")
    return _shaped(
        out,
        family=pl.lit("point"),
        what=pl.col("reason").cast(pl.String),
        standing=stands,
        hours=hours(pl.col("until") - pl.col("since")),
        ended_by=pl.when(~stands).then(pl.lit("end")),
    )


def _life_out(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give the times in which a life-safety point was out: to the end that is told, no other.

    Of an ordinary point a bypass is taken to be lifted by the next disarm where a log never tells
    of one lifted; of these it may still be out.
    """
    told = spells(ground, _OUT, settings, restart_closes=False).filter("life_safety")
    return _shaped(
        told,
        family=pl.lit("point"),
        what=pl.col("kind").cast(pl.String),
        standing=pl.col("open"),
    )


def spoke(ground: Ground) -> pl.DataFrame:
    """Say of each site whose log is here and from when to when.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.

    Returns
    -------
    polars.DataFrame
        ``site``, ``witness``, ``first``, ``last``.
    """
    return (
        ground.events.group_by("site", pl.col("witness").cast(pl.String))
        .agg(first=pl.col("placed").min(), last=pl.col("placed").max())
        .with_columns(
            family=pl.when(pl.col("witness") == Witness.PANEL)
            .then(pl.lit("panel"))
            .otherwise(pl.lit("centre"))
        )
    )
