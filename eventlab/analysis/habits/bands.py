"""The usual hours of a place by weekday, as a page shows them."""

import polars as pl

from eventlab.analysis.found import hours
from eventlab.analysis.habits.cases import Habits
from eventlab.analysis.habits.rhythm import CLOSED_DAY
from eventlab.schema import Pattern
from eventlab.settings import Settings

_NEAR_H = 0.75
_SHIFT_H = 1.5
"""Openings further apart than this belong to two shifts [h]."""
_SHARE = 0.25
"""What is done on fewer of the days is no habit of that weekday."""
_DAY_H = 24
_LOW, _HIGH = 0.05, 0.95

_KEY = ["k", "weekday", "what"]


def bands(learned: Habits, settings: Settings) -> pl.DataFrame:
    """Give the usual openings and closings of each place, weekday by weekday.

    Of the last ``habit_weeks`` weeks of the log. What stands alone is left out; the rest falls
    into shifts where nothing happens between for an hour and a half. What the schedule tells of a
    weekday stands for what was learned.

    Parameters
    ----------
    learned : Habits
        As `cases.habits` gives it.
    settings : Settings
        ``habit_weeks``, ``schedule_slack_min``.

    Returns
    -------
    polars.DataFrame
        ``site``, ``area``, ``weekday`` (1 Monday to 7), ``what`` (``opening``, ``closing``),
        ``shift``, ``low_h``, ``middle_h``, ``high_h`` (hours after midnight of the day on which
        the place was opened; 9 in 10 lie between), ``days`` ``of``, ``basis``.
    """
    laid = learned.spans
    out = learned.cases.filter(
        pl.col("what").is_in([str(Pattern.ODD_HOURS_OPENING), CLOSED_DAY]) | pl.col("act").is_null()
    )
    opens = pl.col("since_w").dt.truncate("1d")
    rows = laid.open.filter(~pl.col("aside")).join(out, on="open", how="anti")
    last = laid.open.group_by("k").agg(last=pl.col("until_w").max().dt.date())
    rows = rows.join(last, on="k").filter(
        pl.col("since_w").dt.date()
        > pl.col("last") - pl.duration(days=round(settings.habit_weeks) * 7)
    )
    stayed = hours(pl.col("until_w") - pl.col("since_w")) <= _DAY_H
    acts = pl.concat(
        [
            rows.filter("opened").select(
                "k", date=opens, hour=hours(pl.col("since_w") - opens), what=pl.lit("opening")
            ),
            rows.filter(pl.col("closed") & stayed).select(
                "k", date=opens, hour=hours(pl.col("until_w") - opens), what=pl.lit("closing")
            ),
        ]
    ).with_columns(weekday=pl.col("date").dt.weekday(), date=pl.col("date").dt.date())
    acts = acts.join(learned.usual.holidays, on=["k", "date"], how="anti").with_row_index("act")
    looked = _looked(learned, last, settings)
    learned_bands = _shifts(acts, looked)
    said = _scheduled(learned, last, looked, settings)
    kept = learned_bands.join(said, on=["k", "weekday"], how="anti")
    return (
        pl.concat([kept, said.select(kept.columns)])
        .join(laid.places.select("k", "site", "area"), on="k")
        .filter(pl.col("low_h").is_not_null())
        .select(
            *("site", "area", pl.col("weekday").cast(pl.Int8), "what", "shift"),
            *("low_h", "middle_h", "high_h", "days", "of", "basis"),
        )
        .sort("site", "area", "weekday", "what", "shift", descending=[False] * 3 + [True, False])
    )


def _looked(learned: Habits, last: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Count the days of each weekday that were looked at."""
    first = learned.spans.state.group_by("k").agg(first=pl.col("since_w").min().dt.date())
    back = pl.duration(days=round(settings.habit_weeks) * 7 - 1)
    return (
        last.join(first, on="k")
        .with_columns(first=pl.max_horizontal("first", (pl.col("last") - back).cast(pl.Date)))
        .with_columns(date=pl.date_ranges("first", "last"))
        .explode("date")
        .join(learned.usual.holidays, on=["k", "date"], how="anti")
        .group_by("k", weekday=pl.col("date").dt.weekday())
        .agg(of=pl.len().cast(pl.Int64))
    )


def _shifts(acts: pl.DataFrame, looked: pl.DataFrame) -> pl.DataFrame:
    """Drop what stands alone and cut the rest where nothing happens between."""
    near = (
        acts.join(acts.select(*_KEY, other="hour", day="date"), on=_KEY)
        .filter((pl.col("hour") - pl.col("other")).abs() <= _NEAR_H)
        .group_by("act")
        .agg(near=pl.col("day").n_unique())
    )
    least = pl.max_horizontal(pl.lit(2.0), _SHARE * pl.col("of"))
    dense = (
        acts.join(near, on="act")
        .join(looked, on=["k", "weekday"])
        .filter(pl.col("near") >= least)
        .sort(*_KEY, "hour")
        .with_columns(gap=(pl.col("hour") - pl.col("hour").shift(1).over(_KEY)).fill_null(0.0))
        .with_columns(shift=(pl.col("gap") > _SHIFT_H).cum_sum().over(_KEY).cast(pl.Int64) + 1)
    )
    return dense.group_by(*_KEY, "shift").agg(
        low_h=pl.col("hour").quantile(_LOW, interpolation="linear").round(4),
        middle_h=pl.col("hour").median().round(4),
        high_h=pl.col("hour").quantile(_HIGH, interpolation="linear").round(4),
        days=pl.col("date").n_unique().cast(pl.Int64),
        of=pl.col("of").first(),
        basis=pl.lit("learned"),
    )


def _scheduled(
    learned: Habits, last: pl.DataFrame, looked: pl.DataFrame, settings: Settings
) -> pl.DataFrame:
    """Give the hours that the schedule tells of the newest date of each weekday."""
    usual = learned.usual
    newest = (
        usual.told.join(usual.holidays, on=["k", "date"], how="anti")
        .join(last, on="k")
        .filter(pl.col("date") <= pl.col("last"))
        .group_by("k", weekday=pl.col("date").dt.weekday())
        .agg(pl.col("date").max())
    )
    slack = settings.schedule_slack_min / 60
    midnight = pl.col("date").cast(pl.Datetime("us"))
    begun = usual.hours.with_columns(date=(
        pl.col("since_w") + pl.duration(minutes=settings.schedule_slack_min)
    ).dt.date())  # fmt: skip
    both = newest.join(begun, on=["k", "date"], how="left").with_columns(
        opening=(hours(pl.col("since_w") - midnight) + slack).round(4),
        closing=(hours(pl.col("until_w") - midnight) - slack).round(4),
        shift=pl.col("since_w").rank("ordinal").over("k", "weekday").cast(pl.Int64),
    )
    return (
        both.unpivot(
            ["opening", "closing"], index=["k", "weekday", "shift"], variable_name="what",
            value_name="middle_h",
        )
        .join(looked, on=["k", "weekday"], how="left")
        .select(
            *_KEY,
            "shift",
            low_h="middle_h",
            middle_h="middle_h",
            high_h="middle_h",
            days="of",
            of="of",
            basis=pl.lit("schedule"),
        )
    )  # fmt: skip
