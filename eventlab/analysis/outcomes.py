"""Recorded outcomes beside the alarms that they are about."""

import polars as pl

from eventlab.analysis.found import asof, seconds
from eventlab.context import PERSON, outcome_cause
from eventlab.schema import Cause, Schema
from eventlab.settings import Settings

LEARNED = "learned from"
NOT_KNOWN = "words name no one cause"
NO_ALARM = "no alarm near that time"
REPEATS = "only repeats what was suggested"
SAME_NIGHT = "another outcome of that night is nearer"
NOT_TOLD = "no outcome told"
LIFE = "a life-safety alarm"
ASIDE = "on test or in service at that time"

USE: Schema = {
    "site": pl.String(),
    "at": pl.Datetime("us", "UTC"),
    "outcome": pl.String(),
    "cause": pl.String(),
    "episode": pl.Int64(),
    "use": pl.String(),
}


def matched(episodes: pl.DataFrame, outcomes: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Say of each recorded outcome which episode it is about, and whether it can teach anything.

    Parameters
    ----------
    episodes : polars.DataFrame
        The columns of ``Ground.episodes``.
    outcomes : polars.DataFrame
        OUTCOME columns.
    settings : Settings
        ``exit_unsettled_s``, ``entry_overrun_s`` [s]; ``confirmation_window_s``: an outcome is
        about the episode that began nearest to its time, or during which it lies, within this [s].

    Returns
    -------
    polars.DataFrame
        One row per outcome with a time: ``site, at, outcome, cause, episode, use``. One outcome
        of each night of a site is learned from: the nearest; what is denied, unknown, of life
        safety or of time set aside teaches nothing, and an outcome that is the tool's own
        suggestion only does where somebody attended or tells what was found.
    """
    rows = outcomes.drop_nulls("at").with_row_index("row")
    starts = episodes.select(
        *("site", "episode", "since", "last", "night", "life_safety", "aside"),
        going=_going(settings),
    )
    near = [
        asof(rows, starts, "at", "since", strategy="nearest"),
        asof(rows, starts, "at", "since", strategy="backward"),
    ]
    away = (
        pl.when(pl.col("at").is_between("since", "last"))
        .then(0.0)
        .otherwise(seconds(pl.col("at") - pl.col("since")).abs())
    )
    best = (
        pl.concat(near)
        .with_columns(away=away)
        .with_columns(
            pl.when(pl.col("away") <= settings.confirmation_window_s).then(pl.col(name)).alias(name)
            for name in ("episode", "away", "night", "life_safety", "aside", "going")
        )
        .sort("row", "away", nulls_last=True)
        .unique("row", keep="first", maintain_order=True)
        .with_columns(
            cause=_cause("outcome"),
            guess=_cause("suggested"),
        )
    )
    looked = pl.col("attended").fill_null(value=False) | pl.col("found").is_not_null()
    use = (
        pl.when(pl.col("outcome").is_null())
        .then(pl.lit(NOT_TOLD))
        .when(pl.col("cause").is_null())
        .then(pl.lit(NOT_KNOWN))
        .when(pl.col("episode").is_null())
        .then(pl.lit(NO_ALARM))
        .when("life_safety")
        .then(pl.lit(LIFE))
        .when("aside")
        .then(pl.lit(ASIDE))
        .when((pl.col("guess") == pl.col("cause")).fill_null(value=False) & ~looked)
        .then(pl.lit(REPEATS))
        .otherwise(pl.lit(LEARNED))
    )
    told = best.with_columns(use=use)
    nearest = (
        told.filter(pl.col("use") == LEARNED)
        .sort("site", "night", "away", "row")
        .unique(["site", "night"], keep="first", maintain_order=True)["row"]
    )
    again = (pl.col("use") == LEARNED) & ~pl.col("row").is_in(nearest.implode())
    return (
        told.with_columns(use=pl.when(again).then(pl.lit(SAME_NIGHT)).otherwise(pl.col("use")))
        .sort("row")
        .select(pl.col(name).cast(dtype) for name, dtype in USE.items())
    )


def _cause(column: str) -> pl.Expr:
    """Read a cause; of a person the alarm's own time tells whether coming or going."""
    told = outcome_cause(pl.col(column))
    return pl.when(told == PERSON).then("going").otherwise(told)


def _going(settings: Settings) -> pl.Expr:
    armed = seconds(pl.col("since") - pl.col("armed_at"))
    return (
        pl.when(armed <= settings.exit_unsettled_s)
        .then(pl.lit(str(Cause.PERSON_LEAVING)))
        .when(pl.col("disarm_after_s") <= settings.entry_overrun_s)
        .then(pl.lit(str(Cause.PERSON_ENTERING)))
    )
