"""Did training help? Late entries and exits before and after a date, for all or by code."""

from datetime import datetime

import numpy as np
import polars as pl

from eventlab.analysis.entries import closings, entries
from eventlab.analysis.who import people
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Schema, Verdict, conform, empty
from eventlab.settings import Settings
from eventlab.stats import rate_ratio, share_interval

TRAINED: Schema = {
    "site": pl.String(),
    "person": pl.String(),
    "before_acts": pl.Int64(),
    "before_late": pl.Int64(),
    "after_acts": pl.Int64(),
    "after_late": pl.Int64(),
    "ratio": pl.Float64(),
    "ratio_low": pl.Float64(),
    "ratio_high": pl.Float64(),
    "p_mid": pl.Float64(),
    "verdict": pl.String(),
    "more_acts": pl.Int64(),
}
"""A row of what training came to: ``person`` null for all; ``acts`` entries and exits, ``late``
those with an alarm; ``more_acts`` without a late one that would settle it, where it is open."""


def trained(
    ground: Ground, context: Context, settings: Settings, site: str, at: datetime
) -> pl.DataFrame:
    """Compare late entries and exits of a site before and after a date.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Entry delays of the sites.
    settings : Settings
        ``proof_level``, and as `entries.entries` and `entries.closings` need them.
    site : str
        Which site.
    at : datetime
        The date (UTC).

    Returns
    -------
    polars.DataFrame
        Columns of ``TRAINED``: all people first, then each code that was ever late. By code only
        where no code is shared. Empty where openings and closings are not told.

    Notes
    -----
    As `advice.proof`: the verdict rests on the exact interval of the ratio of two rates, here
    per act instead of per hour (Clopper and Pearson 1934, given the sum).
    """
    here = ground.only([site])
    if not here.sites["arming_reliable"].fill_null(value=False).any():
        return empty(TRAINED)
    own = [
        entries(here, context, settings).select("site", "person", "at", "late"),
        closings(here, context, settings)
        .filter(~pl.col("timed"))
        .select("site", "person", "at", "late"),
    ]
    acts = pl.concat(own).with_columns(after=pl.col("at") >= at)
    known = people(here, settings).select("site", "person")
    each = acts.join(known, on=["site", "person"], how="semi")
    often = each.filter(pl.col("late").any().over("person"))
    rows = pl.concat([_counted(acts.with_columns(person=pl.lit(None, pl.String))),
                      _counted(often)])  # fmt: skip
    got = rate_ratio(
        rows["after_late"], rows["after_acts"], rows["before_late"], rows["before_acts"],
        level=settings.proof_level,
    )  # fmt: skip
    before, after = rows["before_late"].to_numpy(), rows["after_late"].to_numpy()
    most = share_interval(after, np.maximum(before + after, 1), level=settings.proof_level).high
    with np.errstate(divide="ignore", invalid="ignore"):
        more = np.where(
            (before > 0) & (most < 1),
            rows["before_acts"] * most / (1 - most) - rows["after_acts"],
            np.nan,
        )
    told = rows.with_columns(
        ratio=pl.Series(got.ratio),
        ratio_low=pl.Series(got.low),
        ratio_high=pl.Series(got.high),
        p_mid=pl.Series(got.p_mid),
        more=pl.Series(np.ceil(more)),
    )
    numbers = pl.col("ratio", "ratio_low", "ratio_high", "p_mid", "more")
    told = told.with_columns(pl.when(numbers.is_finite()).then(numbers))
    verdict = (
        pl.when((pl.col("ratio_high") < 1).fill_null(value=False))
        .then(pl.lit(str(Verdict.BETTER)))
        .when((pl.col("ratio_low") > 1).fill_null(value=False))
        .then(pl.lit(str(Verdict.WORSE)))
        .otherwise(pl.lit(str(Verdict.OPEN)))
    )
    open_ = verdict == str(Verdict.OPEN)
    return conform(
        told.with_columns(
            verdict=verdict, more_acts=pl.when(open_ & (pl.col("more") > 0)).then("more")
        ),
        TRAINED,
    )


def _counted(acts: pl.DataFrame) -> pl.DataFrame:
    after = pl.col("after")
    return (
        acts.group_by("site", "person")
        .agg(
            before_acts=(~after).sum().cast(pl.Int64),
            before_late=(~after & pl.col("late")).sum().cast(pl.Int64),
            after_acts=after.sum().cast(pl.Int64),
            after_late=(after & pl.col("late")).sum().cast(pl.Int64),
        )
        .sort("site", "person")
    )
