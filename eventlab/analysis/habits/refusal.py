"""Whether the system could not be armed: a point that was open, or a reset that was due."""

import polars as pl

from eventlab.analysis.found import asof, hours
from eventlab.ground import Ground
from eventlab.schema import TRIPS, Kind, Phase
from eventlab.settings import Settings

FAILED, RESET = "failed", "reset"
_REFUSED = {
    "case": pl.UInt32(),
    "refused_zone": pl.String(),
    "tries": pl.Int64(),
    "refusal": pl.String(),
}
_MONTH_H = 31 * 24.0
"""A reset that is due for longer is not what keeps a place from being armed [h]."""


def refused(cases: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Say of unarmed time whether the system refused to arm, and which point caused it.

    It refused where somebody tried and the log tells that arming failed: of a night unarmed at any
    hour of that day or night, since nothing was armed after it; of an evening that grew long just
    before. And where an alarm came before, nobody armed since, and the reset after that alarm is
    still to come: an engineer's reset keeps the system from being armed until it is done.

    Parameters
    ----------
    cases : polars.DataFrame
        ``case`` (number), ``site``, ``area``, ``since`` (the place was opened), ``due`` (from
        when it is usually armed), ``until``, UTC; ``night`` (Boolean: unarmed all night).
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``refused_before_h``, ``refused_night_h`` [h].

    Returns
    -------
    polars.DataFrame
        ``case``, ``refusal`` (``failed``, ``reset``), ``refused_zone``, ``tries``; only of
        refusals.
    """
    failed = _failed(cases, ground, settings)
    due = _reset_due(cases.join(failed, on="case", how="anti"), ground)
    return pl.concat([failed, due.select(failed.columns)]).sort("case")


def _failed(cases: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    tries = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.ARM_FAILED)
        .select("site", "zone", at="placed", said="area")
        .collect()
    )
    if tries.is_empty():
        return pl.DataFrame(schema=_REFUSED)
    night = pl.duration(seconds=int(settings.refused_night_h * 3600))
    evening = pl.duration(seconds=int(settings.refused_before_h * 3600))
    reach = pl.when("night").then(night).otherwise(evening)
    return (
        cases.join(tries, on="site")
        .filter(
            _HERE
            & (pl.col("at") >= pl.max_horizontal("since", pl.col("due") - reach))
            & (pl.col("at") <= pl.min_horizontal("until", pl.col("due") + night))
        )
        .sort("case", "at")
        .group_by("case", maintain_order=True)
        .agg(refused_zone=pl.col("zone").drop_nulls().last(), tries=pl.len().cast(pl.Int64))
        .with_columns(refusal=pl.lit(FAILED))
    )


def _reset_due(cases: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    told = ground.occurrences.lazy()
    kind = pl.col("kind")
    resets = told.filter(kind == Kind.RESET).select("site", was_reset="placed").collect()
    asked = cases.join(resets.select("site").unique(), on="site", how="semi")
    if asked.is_empty():
        return pl.DataFrame(schema=_REFUSED)
    alarms = (
        told.filter(kind.is_in(list(TRIPS)) & (pl.col("phase") == Phase.BEGIN) & ~pl.col("aside"))
        .select("site", alarmed="placed", refused_zone="zone", said="area")
        .join(asked.lazy().select("site"), on="site", how="semi", maintain_order="left")
        .collect()
    )
    near = (
        asked.join(alarms, on="site")
        .filter(
            _HERE
            & (pl.col("alarmed") <= pl.col("due"))
            & (hours(pl.col("until") - pl.col("alarmed")) <= _MONTH_H)
        )
        .sort("case", "alarmed")
        .unique("case", keep="last", maintain_order=True)
        .drop("said")
    )
    # Another area may be armed meanwhile: the reset is of the one that alarmed.
    acts = (
        told.filter(kind == Kind.ARM)
        .select("site", armed="placed", said="area")
        .join(near.lazy().select("site"), on="site", how="semi", maintain_order="left")
        .collect()
    )
    armed = near.join(acts, on="site").filter(
        _HERE & pl.col("armed").is_between("alarmed", "until", closed="left")
    )
    held = asof(
        near.join(armed, on="case", how="anti"), resets, "alarmed", "was_reset", strategy="forward"
    ).filter((pl.col("was_reset") > pl.col("due")) & (pl.col("was_reset") <= pl.col("until")))
    return held.select("case", "refused_zone", tries=pl.lit(0, pl.Int64), refusal=pl.lit(RESET))


_HERE = pl.col("said").is_null() | pl.col("area").is_null() | (pl.col("said") == pl.col("area"))
