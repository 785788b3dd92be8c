"""Signs of life: the days on which something was heard of."""

import polars as pl

from eventlab.analysis.alive.spells import SUBJECT
from eventlab.ground import Ground
from eventlab.schema import TRIPS, Kind, Phase, Schema, Witness

BEAT: Schema = {
    **dict.fromkeys(SUBJECT, pl.String()),
    "day": pl.Date(),
    "what": pl.String(),
    "many": pl.Int64(),
}
"""How often something was heard of on a day of the site's own clock: by ``what``."""

DETECTS = (*TRIPS, Kind.ACTIVATION, Kind.WALK_TEST)
"""What shows that a point detects."""


def beats(ground: Ground, alarms: pl.DataFrame) -> pl.DataFrame:
    """Count the signs of life of each lane by day.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    alarms : polars.DataFrame
        As `carried.eligible` gives them.

    Returns
    -------
    polars.DataFrame
        Columns of ``BEAT``. Calls of life-safety points are no sign of life that anybody may
        count on: they have none here.
    """
    told = ground.occurrences.filter(pl.col("local").is_not_null())
    points = told.filter(
        pl.col("kind").is_in(list(DETECTS))
        & (pl.col("kind") != Kind.TAMPER_ALARM)
        & (pl.col("phase") != Phase.END)
        & pl.col("zone").is_not_null()
        & ~pl.col("life_safety").fill_null(value=False)
    )
    kind = pl.col("kind").cast(pl.String)
    movement = pl.when(pl.col("kind").is_in(list(TRIPS))).then(pl.lit("alarm")).otherwise(kind)
    reports = told.filter(pl.col("kind").is_in([Kind.TEST_REPORT, Kind.MANUAL_TEST])).explode(
        "witnesses"
    )
    by_path = told.filter(pl.col("path").is_not_null() & (pl.col("kind") != Kind.COMMS_FAIL))
    reached = alarms.filter(pl.col("counts") & pl.col("carried"))
    return pl.concat(
        [
            _daily(points, family="point", what=movement),
            _daily(reports, family="reports", what=kind, witness=pl.col("witnesses")),
            _daily(by_path, family="path", what=pl.lit("carried")),
            _daily(reached, family="arrival", what=pl.lit("carried")),
        ]
    )


def _daily(rows: pl.DataFrame, *, family: str, **more: pl.Expr) -> pl.DataFrame:
    own = {"point": ("zone", "within"), "path": ("path",), "reports": ("witness",)}.get(family, ())
    full = rows.with_columns(**more, family=pl.lit(family), day=pl.col("local").dt.date())
    subject = [
        (pl.col(name) if name in ("site", "family", *own) else pl.lit(None))
        .cast(pl.String)
        .alias(name)
        for name in SUBJECT
    ]
    return (
        full.group_by(*subject, "day", pl.col("what").cast(pl.String), maintain_order=True)
        .agg(many=pl.len().cast(pl.Int64))
        .select(list(BEAT))
    )


def last_by_path(ground: Ground) -> pl.DataFrame:
    """Say when something last came over each path: ``site``, ``path``, ``last``."""
    return (
        ground.events.filter(
            pl.col("path").is_not_null()
            & (pl.col("kind") != Kind.COMMS_FAIL)
            & (pl.col("witness") == Witness.RECEIVER)
        )
        .group_by("site", "path")
        .agg(last=pl.col("placed").max())
    )
