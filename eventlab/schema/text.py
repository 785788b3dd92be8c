"""Texts put together from columns."""

import polars as pl


def formatted(pattern: str, *parts: pl.Expr | pl.Series | str) -> pl.Expr:
    """Put values into a text.

    ``polars.format`` panics on a column whose first chunk is empty, as a filter may leave it.

    Parameters
    ----------
    pattern : str
        With ``{}`` for each part.
    *parts : polars.Expr, polars.Series or str
        Expressions, values, or names of columns.

    Returns
    -------
    polars.Expr
        String; null where a part is null.

    Raises
    ------
    ValueError
        Where there are not as many parts as places for them.
    """
    around = pattern.split("{}")
    if len(around) != len(parts) + 1:
        raise ValueError(f"{len(parts)} parts for {len(around) - 1} places")
    pieces: list[pl.Expr | pl.Series | str] = [pl.lit(around[0])]
    for part, text in zip(parts, around[1:], strict=True):
        pieces += [part, pl.lit(text)]
    return pl.concat_str(pieces)
