"""Which path came back: the row that tells it often names none."""

import polars as pl

from eventlab.schema import Kind, Phase


def named(rows: pl.DataFrame) -> pl.DataFrame:
    """Name the path of the ends that name none, where one path only was lost.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.

    Returns
    -------
    polars.DataFrame
        The same rows; such an end has the path of the begin just before it, told by the same
        witness, unless another path was lost with it.
    """
    own = ["s", "witness"]
    told = (
        rows.lazy()
        .filter(pl.col("kind") == Kind.COMMS_FAIL)
        .select("n", *own, "path", "phase")
        .with_columns(
            began=(pl.col("phase") == Phase.BEGIN).shift(1).over(own),
            last=pl.col("path").shift(1).over(own),
            other=(pl.col("phase") == Phase.BEGIN).shift(2).over(own)
            & (pl.col("path").shift(2).over(own) != pl.col("path").shift(1).over(own)),
        )
        .filter(
            (pl.col("phase") == Phase.END)
            & pl.col("path").is_null()
            & pl.col("began")
            & pl.col("last").is_not_null()
            & ~pl.col("other").fill_null(value=False)
        )
        .collect()
    )
    if told.is_empty():
        return rows
    return rows.with_columns(rows["path"].clone().scatter(told["n"], told["last"]))
