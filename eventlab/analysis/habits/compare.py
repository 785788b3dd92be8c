"""How long a place is usually armed over a window of time: the same window on comparable days."""

import polars as pl

from eventlab.analysis.found import hours
from eventlab.settings import Settings

WEEK_DAYS = 7
NEAR_DAYS = 6
_UNSURE_H = 0.1
"""A comparable window of which more is not known tells nothing [h]."""
_NEAREST = 2
"""So many weeks to either side are looked at first."""


def armed_over(
    windows: pl.DataFrame,
    state: pl.DataFrame,
    holidays: pl.DataFrame,
    settings: Settings,
    *,
    days: bool = False,
    open_first: bool = False,
) -> pl.DataFrame:
    """Say over how much of each window the place was armed on comparable days.

    Comparable are the same wall times of the same weekday in the weeks before and after, nearest
    first, and of a public holiday the other public holidays; with ``days``, the six days before
    and after. Holidays are not compared with other days. A window that meets the stretch it is
    about compares it with itself and is left out.

    Parameters
    ----------
    windows : polars.DataFrame
        ``window`` (number), ``k``, ``start``, ``stop`` (wall), ``own_since``, ``own_until``
        (wall: the stretch that it is about), ``least_h`` (on at least one of the nearest days it
        must be armed so long to be of interest).
    state : polars.DataFrame
        As ``Spans`` has it.
    holidays : polars.DataFrame
        ``k``, ``date``.
    settings : Settings
        ``habit_weeks``, ``habit_days_min``.
    days : bool
        Compare with the days around instead, whatever weekday or holiday the window lies on.
    open_first : bool
        Only days count on which the place is unarmed where the window starts.

    Returns
    -------
    polars.DataFrame
        ``window``, ``n`` (comparable days), ``low``, ``middle``, ``high`` (quartiles of the armed
        hours [h]), ``alike`` (days on which it was armed for less than ``least_h``).
        Windows with fewer than ``habit_days_min`` comparable days, or of no interest, are left out.
    """
    if windows.is_empty() or state.is_empty():
        return _quartiles(_empty(), settings)
    dated = windows.with_columns(date=pl.col("start").dt.date()).join(
        holidays.select("k", "date", holiday=pl.lit(value=True)), on=["k", "date"], how="left"
    )
    line = _line(state)

    def measured(moved: pl.DataFrame) -> pl.DataFrame:
        return _measured(moved, line, open_first=open_first)

    if days:
        steps = [step for n in range(1, NEAR_DAYS + 1) for step in (-n, n)]
        return _quartiles(measured(_shifted(dated, steps, holidays)), settings)
    plain = dated.filter(pl.col("holiday").is_null())
    weeks = range(1, round(settings.habit_weeks) + 1)
    near = [step * WEEK_DAYS for n in weeks[:_NEAREST] for step in (-n, n)]
    far = [step * WEEK_DAYS for n in weeks[_NEAREST:] for step in (-n, n)]
    first = measured(_shifted(plain, near, holidays))
    dull = first.group_by("window").agg(
        dull=(pl.col("armed_h") < pl.col("least_h")).all()
    ).filter("dull")  # fmt: skip
    rest = plain.join(dull, on="window", how="anti")
    more = measured(_shifted(rest, far, holidays))
    kept = pl.concat([first.join(dull, on="window", how="anti"), more])
    special = dated.filter("holiday").drop("holiday")
    other = measured(_of_holidays(special, holidays))
    enough = other.filter(pl.len().over("window") >= settings.habit_days_min)
    few = special.join(enough, on="window", how="anti")
    steps = [*near, *far]
    kept = pl.concat([kept, enough, measured(_shifted(few, steps, holidays))])
    return _quartiles(kept, settings)


def _shifted(windows: pl.DataFrame, steps: list[int], holidays: pl.DataFrame) -> pl.DataFrame:
    moved = windows.join(pl.DataFrame({"step": steps}), how="cross")
    return _moved(moved).join(holidays, on=["k", "date"], how="anti")


def _of_holidays(windows: pl.DataFrame, holidays: pl.DataFrame) -> pl.DataFrame:
    others = holidays.select("k", other="date")
    pairs = windows.join(others, on="k").filter(pl.col("other") != pl.col("date"))
    return _moved(pairs.with_columns(step=(pl.col("other") - pl.col("date")).dt.total_days()))


def _moved(windows: pl.DataFrame) -> pl.DataFrame:
    """Move each window by its step [days]; leave out what meets its own stretch."""
    by = pl.duration(days=pl.col("step"))
    return (
        windows.select(
            "window",
            "k",
            "least_h",
            "own_since",
            "own_until",
            date=(pl.col("date") + by).cast(pl.Date),
            start=pl.col("start") + by,
            stop=pl.col("stop") + by,
        )
        .filter((pl.col("stop") <= pl.col("own_since")) | (pl.col("start") >= pl.col("own_until")))
        .drop("own_since", "own_until")
    )


def _line(state: pl.DataFrame) -> pl.DataFrame:
    """Add up armed and known time along each place."""
    length = hours(pl.col("until_w") - pl.col("since_w")).clip(0)
    armed = pl.when("armed").then("length").otherwise(0.0)
    return (
        state.sort("k", "since_w")
        .with_columns(length=length)
        .with_columns(armed_length=armed)
        .with_columns(
            known_before=pl.col("length").cum_sum().over("k") - pl.col("length"),
            armed_before=pl.col("armed_length").cum_sum().over("k") - pl.col("armed_length"),
        )
        .select("k", "since_w", "armed", "length", "known_before", "armed_before")
        .sort("since_w")
    )


def _measured(windows: pl.DataFrame, line: pl.DataFrame, *, open_first: bool) -> pl.DataFrame:
    """Measure armed hours of windows that are wholly known."""
    told = windows
    for end in ("start", "stop"):
        told = (
            told.sort(end)
            .join_asof(line, left_on=end, right_on="since_w", by="k", check_sortedness=False)
            .with_columns(into=pl.min_horizontal(hours(pl.col(end) - pl.col("since_w")), "length"))
            .with_columns(
                (pl.col("known_before") + pl.col("into")).fill_null(0.0).alias(f"known_{end}"),
                (pl.col("armed_before") + pl.when("armed").then("into").otherwise(0.0))
                .fill_null(0.0)
                .alias(f"armed_{end}"),
                (pl.col("armed") & (pl.col("into") < pl.col("length"))).alias(f"on_{end}"),
            )
            .drop("since_w", "armed", "length", "known_before", "armed_before", "into")
        )
    return told.with_columns(
        length=hours(pl.col("stop") - pl.col("start")),
        armed_h=(pl.col("armed_stop") - pl.col("armed_start")).round(4),
        known_h=pl.col("known_stop") - pl.col("known_start"),
    ).filter(
            (pl.col("known_h") >= pl.col("length") - _UNSURE_H)
            & ~(pl.col("on_start").fill_null(value=False) & pl.lit(open_first))
        ).select(
        "window", "least_h", "length", pl.min_horizontal("armed_h", "length").alias("armed_h")
    )  # fmt: skip


def _empty() -> pl.DataFrame:
    return pl.DataFrame(
        schema={
            "window": pl.UInt32,
            "least_h": pl.Float64,
            "length": pl.Float64,
            "armed_h": pl.Float64,
        }
    )


def _quartiles(measured: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    armed = pl.col("armed_h")
    return (
        measured.group_by("window")
        .agg(
            n=pl.len().cast(pl.Int64),
            low=armed.quantile(0.25, interpolation="lower"),
            middle=armed.median(),
            high=armed.quantile(0.75, interpolation="higher"),
            alike=(armed < pl.col("least_h")).sum().cast(pl.Int64),
        )
        .filter(pl.col("n") >= settings.habit_days_min)
        .sort("window")
    )
