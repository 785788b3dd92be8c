"""Columns of few distinct texts, as numbers of those texts."""

import polars as pl

_SAMPLE = 20_000
"""Cells from the head and as many from all over that are looked at first."""


def numbered(cells: pl.Series, *, most: int | None = None) -> pl.Series | None:
    """Give a column as an enum of its distinct texts.

    A sample knows nearly all texts of most columns; only what it missed is looked for in the
    whole column.

    Parameters
    ----------
    cells : polars.Series of String
        Any texts, null where there is none.
    most : int, optional
        Distinct texts above which the work is not done; any number where left out.

    Returns
    -------
    polars.Series of Enum, or None
        The same texts; None where there are more than ``most``.
    """
    step = max(1, len(cells) // _SAMPLE)
    texts = pl.concat([cells.head(_SAMPLE), cells.gather_every(step)]).unique().drop_nulls()
    if most is not None and len(texts) > most:
        return None
    found = cells.cast(pl.Enum(texts), strict=False)
    if found.null_count() > cells.null_count():
        missed = cells.filter(found.is_null()).unique().drop_nulls()
        texts = pl.concat([texts, missed])
        if most is not None and len(texts) > most:
            return None
        found = cells.cast(pl.Enum(texts))
    return found
