"""Whether the system could not be armed: a point that was open, or a reset that was due."""

import polars as pl

from eventlab.analysis.found import asof, hours
from eventlab.ground import Ground
from eventlab.schema import TRIPS, Kind, Phase
from eventlab.settings import Settings

FAILED, RESET = "failed", "reset"
_MONTH_H = 31 * 24.0
"""A reset that is due for longer is not what keeps a place from being armed [h]."""


def refused(cases: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Say of unarmed time whether the system refused to arm, and which point caused it.

    It refused where somebody tried and the log tells that arming failed; and where an alarm came
    before, nobody armed since, and the reset after that alarm is still to come: an engineer's
    reset keeps the system from being armed until it is done.

    Parameters
    ----------
    cases : polars.DataFrame
        ``case`` (number), ``site``, ``area``, ``since`` (the place was opened), ``due`` (from
        when it is usually armed), ``until``, UTC.
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``refused_before_h`` [h].

    Returns
    -------
    polars.DataFrame
        ``case``, ``refusal`` (``failed``, ``reset``), ``refused_zone``, ``tries``; only of
        refusals.
    """
    told = ground.occurrences
    kind = pl.col("kind")
    tries = told.filter(kind == Kind.ARM_FAILED).select("site", "zone", at="placed", said="area")
    before = pl.duration(microseconds=int(settings.refused_before_h * 3.6e9))
    here = pl.col("said").is_null() | pl.col("area").is_null() | (pl.col("said") == pl.col("area"))
    failed = (
        cases.join(tries, on="site")
        .filter(
            here
            & (pl.col("at") >= pl.max_horizontal("since", pl.col("due") - before))
            & (pl.col("at") <= pl.col("until"))
        )
        .sort("case", "at")
        .group_by("case", maintain_order=True)
        .agg(refused_zone=pl.col("zone").drop_nulls().last(), tries=pl.len().cast(pl.Int64))
        .with_columns(refusal=pl.lit(FAILED))
    )
    alarms = told.filter(
        kind.is_in(list(TRIPS)) & (pl.col("phase") == Phase.BEGIN) & ~pl.col("aside")
    ).select("site", alarmed="placed", refused_zone="zone")
    acts = told.filter(kind == Kind.ARM).select("site", armed="placed")
    resets = told.filter(kind == Kind.RESET).select("site", was_reset="placed")
    near = asof(cases.join(failed, on="case", how="anti"), alarms, "due", "alarmed")
    near = asof(near.drop_nulls("alarmed"), acts, "alarmed", "armed", strategy="forward")
    near = asof(near, resets, "alarmed", "was_reset", strategy="forward")
    tells = resets.select("site").unique().with_columns(resets=pl.lit(value=True))
    held = near.join(tells, on="site", how="left").filter(
        (hours(pl.col("until") - pl.col("alarmed")) <= _MONTH_H)
        & (pl.col("armed").is_null() | (pl.col("armed") >= pl.col("until")))
        & pl.col("resets")
        & (pl.col("was_reset").is_null() | (pl.col("was_reset") > pl.col("due")))
        & (pl.col("was_reset").is_null() | (pl.col("was_reset") <= pl.col("until")))
    )
    due = held.select("case", "refused_zone", tries=pl.lit(0, pl.Int64), refusal=pl.lit(RESET))
    return pl.concat([failed, due.select(failed.columns)]).sort("case")
