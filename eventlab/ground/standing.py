"""Rows that tell again what already stands: repeats of a condition, status rows."""

from datetime import timedelta

import polars as pl

from eventlab.schema import SELF_REPORTED, Kind, Phase
from eventlab.settings import Settings

CONDITIONS = (
    Kind.MAINS_LOSS,
    Kind.SYSTEM_BATTERY_LOW,
    Kind.SYSTEM_FAULT,
    Kind.SIREN_FAULT,
    Kind.MODULE_FAULT,
    Kind.RADIO_JAM,
    Kind.COMMS_FAIL,
    Kind.SENSOR_FAULT,
    Kind.MASKING,
    Kind.SUPERVISION_LOSS,
    Kind.DEVICE_BATTERY_LOW,
    Kind.TAMPER,
)
"""Kinds that a system tells again while they stand."""

STATUS_CODE = r"^6\d{3}(?:\D|$)"
"""DC-05 qualifier 6: the condition is still present (ANSI/SIA DC-05)."""


def repeats(rows: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Fold repeats of a standing condition into the row that began it.

    A condition stands from its begin to its end, or to a restart after which it is not told again
    within ``restart_closes_s``. Where a site never tells the end of a kind, repeats within a day
    are one, and those that a system reports on its own schedule (batteries, supervision) always.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events, twins left out.
    settings : Settings
        ``restart_closes_s``, ``untold_end_h``.

    Returns
    -------
    polars.DataFrame
        ``n`` of the row that repeats, ``into`` the ``n`` of the row that began it.
    """
    told = rows.filter(pl.col("kind").is_in(list(CONDITIONS))).select(
        *("n", "s", "placed", "kind", "phase", "zone", "area", "path")
    )
    key = ["s", "kind", "zone", "area", "path"]
    begins = pl.col("phase") == Phase.BEGIN
    line = _after_restart(
        told.with_columns(ends=(pl.col("phase") == Phase.END).any().over("s", "kind"))
        .sort(*key, "n")
        .with_columns(
            same=pl.all_horizontal(pl.col(c).eq_missing(pl.col(c).shift(1)) for c in key),
            before=pl.col("n").shift(1),
            gap=pl.col("placed") - pl.col("placed").shift(1),
            was=begins.shift(1),
        ),
        rows,
        settings,
    )
    short = pl.col("gap") <= pl.lit(timedelta(hours=settings.untold_end_h))
    bound = pl.col("ends") | pl.col("kind").is_in(list(SELF_REPORTED)) | short
    again = begins & pl.col("same") & pl.col("was") & bound & ~pl.col("closed")
    return _folded(line.sort(*key, "n"), again.fill_null(value=False))


def statuses(rows: pl.DataFrame) -> pl.DataFrame:
    """Fold rows that only say ``still present`` into the row that opened what is present.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events, twins left out.

    Returns
    -------
    polars.DataFrame
        ``n`` of the status row, ``into`` the ``n`` of the row that opened it; a status row with
        nothing open before it stands for itself.
    """
    coded = rows.filter(pl.col("code").str.starts_with("6"))
    status = coded.filter(pl.col("code").str.contains(STATUS_CODE))
    none = pl.DataFrame(schema={"n": pl.Int64(), "into": pl.Int64()})
    if status.is_empty():
        return none
    key = ["s", "kind", "zone", "area"]
    line = (
        rows.join(status.select(key).unique(), on=key, how="semi", nulls_equal=True)
        .select("n", *key, "phase", status=pl.col("n").is_in(status["n"].to_list()))
        .sort(*key, "n")
        .with_columns(
            same=pl.all_horizontal(pl.col(c).eq_missing(pl.col(c).shift(1)) for c in key),
            open=pl.col("phase").shift(1) != Phase.END,
        )
    )
    again = pl.col("status") & pl.col("same") & pl.col("open")
    return _folded(line, again.fill_null(value=False))


def _after_restart(line: pl.DataFrame, rows: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Mark rows before which a restart closed the condition."""
    restarts = rows.filter(pl.col("kind") == Kind.SYSTEM_RESTART).select(
        "s", restart="n", restarted="placed"
    )
    if restarts.is_empty():
        return line.with_columns(closed=pl.lit(value=False))
    next_one = line.sort("before").join_asof(
        restarts,
        left_on="before",
        right_on="restart",
        by="s",
        strategy="forward",
        check_sortedness=False,
    )
    late = pl.col("placed") - pl.col("restarted") > pl.lit(
        timedelta(seconds=settings.restart_closes_s)
    )
    closed = (pl.col("restart") < pl.col("n")) & late
    return next_one.with_columns(closed=closed.fill_null(value=False))


def _folded(line: pl.DataFrame, again: pl.Expr) -> pl.DataFrame:
    """Fold each run of repeats into the row before it."""
    return (
        line.with_columns(again=again)
        .with_columns(into=pl.when(~pl.col("again")).then("n").forward_fill())
        .filter("again")
        .select("n", "into")
    )
