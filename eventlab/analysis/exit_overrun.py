"""People who arm and do not get out in time."""

import polars as pl

from eventlab.analysis.found import asof, seconds
from eventlab.analysis.kept import kept
from eventlab.analysis.overruns import acts, tell
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import TRIPS, Kind, Mode, Pattern, Phase
from eventlab.settings import Settings


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find places and people with repeated alarms or errors at exit.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``exit_unsettled_s``, ``exit_again_s`` [s], ``exit_overrun_min`` within ``overrun_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns: per site (or area, where there are several) and per person. ``rate`` is the
        share of closings, where the log tells all of them.
    """
    del context
    return tell(
        overruns(ground, settings).filter(~pl.col("aside")),
        acts(ground, Kind.ARM),
        ground,
        settings,
        pattern=Pattern.EXIT_OVERRUN,
        least=settings.exit_overrun_min,
        noun="exits",
    )


@kept
def overruns(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the exits that went wrong, one row each.

    An exit error tells itself. An alarm of an ordinary point within ``exit_unsettled_s`` of
    arming is one where a disarm, or the same area's arming, follows within ``exit_again_s``. The
    error and the alarm of one exit are one. Whoever is in when a timer arms is not leaving.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``exit_unsettled_s``, ``exit_again_s`` [s].

    Returns
    -------
    polars.DataFrame
        ``site``, ``area``, ``person`` (who armed), ``at``, ``local``, ``over_s``, ``off_route``
        (false), ``aside``.
    """
    told = ground.occurrences.lazy()
    arms = (
        told.filter(pl.col("kind") == Kind.ARM)
        .select(
            *("site", "person", "mode"),
            armed="placed",
            place=pl.col("area").fill_null(""),
        )
        .collect()
    )
    errors = told.filter(pl.col("kind") == Kind.EXIT_ERROR).select(
        "site", "area", "person", "aside", "local", at="placed", over_s=pl.lit(None, pl.Float64)
    )
    alarms = told.filter(
        pl.col("kind").is_in(list(TRIPS))
        & (pl.col("phase") == Phase.BEGIN)
        & ~pl.col("life_safety")
    ).select("site", "area", "aside", "local", at="placed")
    opened = told.filter(pl.col("kind") == Kind.DISARM).select("site", disarmed="placed")
    near = asof(alarms.collect(), arms.drop("place"), "at", "armed")
    near = near.with_columns(place=pl.col("area").fill_null(""))
    again = arms.select("site", "place", again="armed")
    near = asof(near, opened.collect(), "at", "disarmed", strategy="forward")
    near = asof(near, again, "at", "again", by=["site", "place"], strategy="forward", strict=True)
    soon = seconds(pl.min_horizontal("disarmed", "again") - pl.col("at"))
    leaving = near.filter(
        (pl.col("mode") != Mode.TIMED).fill_null(value=True),
        (seconds(pl.col("at") - pl.col("armed")) <= settings.exit_unsettled_s)
        & (soon <= settings.exit_again_s),
    ).select(
        "site",
        "area",
        "person",
        "aside",
        "local",
        "at",
        over_s=seconds(pl.col("disarmed") - pl.col("at")),
    )
    both = pl.concat([errors.collect(), leaving]).sort("site", "at")
    gap = seconds(pl.col("at") - pl.col("at").shift(1).over("site"))
    return (
        both.with_columns(case=(gap.fill_null(0) > settings.exit_again_s).cum_sum().over("site"))
        .group_by("site", "case", maintain_order=True)
        .agg(
            pl.col("area", "person").drop_nulls().first(),
            pl.col("at", "local", "aside").first(),
            pl.col("over_s").drop_nulls().first(),
            off_route=pl.lit(value=False),
        )
        .drop("case")
    )
