"""Past alarms of one point, as they would have been under another rule of its panel."""

import polars as pl


def hold_off(trips: pl.DataFrame, seconds: float) -> pl.DataFrame:
    """Raise an alarm only where the point stays tripped so long.

    Parameters
    ----------
    trips : polars.DataFrame
        ``period``, ``at``, ``until`` (when the point restored or somebody disarmed; null where it
        stayed tripped).
    seconds : float
        How long [s].

    Returns
    -------
    polars.DataFrame
        By period and time, with ``raised_at``: when the alarm would have come, null where none.
    """
    later = pl.col("at") + _span(seconds)
    stays = (pl.col("until") >= later).fill_null(value=True)
    return trips.sort("period", "at", maintain_order=True).with_columns(
        raised_at=pl.when(stays).then(later)
    )


def count_of_two(trips: pl.DataFrame, seconds: float) -> pl.DataFrame:
    """Raise an alarm only with the second trip, where it comes so soon after the first.

    The count begins anew after each alarm, and with each trip that comes too late.

    Parameters
    ----------
    trips : polars.DataFrame
        ``period``, ``at``.
    seconds : float
        The longest time from the first trip to the second [s].

    Returns
    -------
    polars.DataFrame
        As `hold_off`.
    """
    ordered = trips.sort("period", "at", maintain_order=True)
    step = pl.col("at") - pl.col("at").shift(1).over("period")
    run = (~(step <= _span(seconds)).fill_null(value=False)).cum_sum()
    # Within a run of close trips every second one completes the count.
    return (
        ordered.with_columns(_run=run)
        .with_columns(_nth=pl.int_range(1, pl.len() + 1).over("_run"))
        .with_columns(raised_at=pl.when(pl.col("_nth") % 2 == 0).then("at"))
        .drop("_run", "_nth")
    )


def paired(trips: pl.DataFrame, other: pl.DataFrame, seconds: float) -> pl.DataFrame:
    """Raise an alarm only where a second detector trips so near to it.

    Parameters
    ----------
    trips : polars.DataFrame
        ``period``, ``at``.
    other : polars.DataFrame
        ``at``: trips of the second detector.
    seconds : float
        The longest time between the two, either way [s].

    Returns
    -------
    polars.DataFrame
        As `hold_off`; an alarm whose second comes later comes with it.
    """
    marks = other.select(other_at="at").sort("other_at")
    ordered = trips.sort("at", maintain_order=True)
    span = _span(seconds)
    back, ahead = (
        ordered.join_asof(
            marks, left_on="at", right_on="other_at", strategy=way, check_sortedness=False
        )["other_at"]
        for way in ("backward", "forward")
    )
    now = (pl.col("at") - back <= span).fill_null(value=False)
    soon = (ahead - pl.col("at") <= span).fill_null(value=False)
    return ordered.with_columns(raised_at=pl.when(now).then("at").when(soon).then(ahead)).sort(
        "period", "at", maintain_order=True
    )


def firsts(replayed: pl.DataFrame) -> pl.DataFrame:
    """Say of each armed period what became of its first alarm.

    Parameters
    ----------
    replayed : polars.DataFrame
        As the replays of this module give it.

    Returns
    -------
    polars.DataFrame
        ``period``, ``first`` (the first alarm), ``raised_at`` (the first that would have come;
        null where none), ``late_s`` [s].
    """
    return (
        replayed.group_by("period", maintain_order=True)
        .agg(first=pl.col("at").min(), raised_at=pl.col("raised_at").min())
        .with_columns(late_s=(pl.col("raised_at") - pl.col("first")).dt.total_microseconds() / 1e6)
    )


def _span(seconds: float) -> pl.Expr:
    return pl.duration(microseconds=round(seconds * 1e6))
