"""Columns of few distinct texts, as numbers of those texts."""

from typing import overload

import polars as pl

_SAMPLE = 20_000
"""Cells from the head and as many from all over that are looked at first."""


_FEW = 400
"""Cells up to which they are told apart one by one."""


@overload
def numbered(cells: pl.Series) -> pl.Series: ...


@overload
def numbered(cells: pl.Series, *, most: int) -> pl.Series | None: ...


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
        The same texts, those of the head first; None where there are more than ``most``.
    """
    step = max(1, len(cells) // _SAMPLE)
    sample = pl.concat([cells.head(_SAMPLE), cells.gather_every(step)])
    texts = sample.unique(maintain_order=True).drop_nulls()
    if most is not None and len(texts) > most:
        return None
    found = cells.cast(pl.Enum(texts), strict=False)
    if found.null_count() > cells.null_count():
        missed = cells.filter(found.is_null()).unique(maintain_order=True).drop_nulls()
        texts = pl.concat([texts, missed])
        if most is not None and len(texts) > most:
            return None
        found = cells.cast(pl.Enum(texts))
    return found


def distinct(cells: pl.Series) -> tuple[pl.Series, pl.Series]:
    """Return the distinct texts of a column, and which of them each cell has.

    Parameters
    ----------
    cells : polars.Series of String
        Any texts, null where there is none.

    Returns
    -------
    tuple of polars.Series
        The texts (String, no nulls) and the place of each cell among them (UInt32, null where
        the cell is).
    """
    if len(cells) <= _FEW:
        places: dict[str, int] = {}
        code = [None if text is None else places.setdefault(text, len(places)) for text in cells]
        texts = pl.Series(cells.name, list(places), dtype=pl.String)
        return texts, pl.Series(cells.name, code, dtype=pl.UInt32)
    found = numbered(cells)
    kind = found.dtype
    assert isinstance(kind, pl.Enum)  # noqa: S101  # tells the type
    texts = kind.categories.cast(pl.String)
    return texts.alias(cells.name), found.to_physical().cast(pl.UInt32)
