"""Points that should have been seen by now, and were not."""

import polars as pl

from eventlab.analysis.conditions import spells
from eventlab.analysis.core import POINT
from eventlab.analysis.found import count, evidence, figures, found, line, number, wall
from eventlab.analysis.rhythm import rhythms
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Pattern, Subject
from eventlab.settings import Settings

_SAYS_WHY = (Kind.SUPERVISION_LOSS, Kind.MASKING, Kind.SENSOR_FAULT)


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find points whose own rhythm says that they should have been seen, and were not.

    Only what still is silent where the log ends: a silence that ended was no dead detector. Of a
    point that is bypassed, lost, masked or in fault as far as the log tells, that is told instead.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on. Needs movement told while unarmed.
    context : Context
        Not needed.
    settings : Settings
        ``silent_days``, ``silent_gaps``, ``silent_chance``, ``silent_spell``; as for
        `rhythm.rhythms`.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per point; never of a life-safety point.
    """
    del context
    told = rhythms(ground, settings)
    q = (pl.col("chance") * pl.col("looks")).clip(0, 1)
    silent = (
        told.with_columns(q_value=q)
        .filter(
            (pl.col("q_value") <= settings.silent_chance)
            & (pl.col("spell") <= settings.silent_spell)
            & (pl.col("silent_days") >= settings.silent_days)
            & (pl.col("silent_days") >= settings.silent_gaps * pl.col("longest_gap"))
        )
        .join(_explained(ground, told, settings), on=list(POINT), how="anti", nulls_equal=True)
    )
    if silent.is_empty():
        return found(silent, Pattern.SILENT_ZONE)
    ends = ground.coverage.group_by("site").agg(until=pl.col("until").max())
    rare = pl.max_horizontal("q_value", "spell").clip(1e-6)
    silent = silent.with_columns(one_in=(1 / rare).floor())
    return found(
        silent.join(ends, on="site", how="left", maintain_order="left").with_columns(
            evidence(
                line(
                    "last seen",
                    wall(pl.col("last_local")),
                    "movement, an alarm or a walk test",
                ),
                line(
                    "seen before on",
                    number(pl.col("seen_days"))
                    + " of "
                    + count(pl.col("days") - pl.col("silent_days"), "day"),
                    "days on which enough other points were seen, holidays and closings left out",
                ),
                line(
                    "not seen since on",
                    count(pl.col("silent_days"), "such day")
                    + ", its longest silence before was "
                    + number(pl.col("longest_gap")),
                    "what silences the whole building counts for no point",
                ),
                line(
                    "chance that this silence is chance",
                    pl.lit("at most 1 in ") + number(pl.col("one_in")),
                    "the larger of two: days alike, exact by weekday; or one more spell without "
                    "use, as this point and the others have them",
                ),
            ),
            figures(
                {
                    "days": pl.col("silent_days"),
                    "seen_days": pl.col("seen_days"),
                    "of_days": pl.col("days") - pl.col("silent_days"),
                    "expected": pl.col("expected").round(1),
                    "longest": pl.col("longest_gap"),
                    "one_in": pl.col("one_in"),
                }
            ),
            p_value="chance",
            events="silent_days",
            since="last_seen",
            standing=pl.lit(value=True),
            subject_kind=pl.lit(str(Subject.ZONE)),
            subject="zone",
        ),
        Pattern.SILENT_ZONE,
    )


def _explained(ground: Ground, told: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return the points of whose silence the log itself tells the reason."""
    stands = spells(ground, _SAYS_WHY, settings).filter("open").select(POINT)
    ends = ground.coverage.group_by("site").agg(end=pl.col("until").max())
    out = (
        told.select(*POINT, "last_seen")
        .join(ground.removed, on=list(POINT), nulls_equal=True)
        .join(ends, on="site")
        .filter((pl.col("until") >= pl.col("end")) & (pl.col("since") <= pl.col("last_seen")))
        .select(POINT)
    )
    return pl.concat([stands, out]).unique()
