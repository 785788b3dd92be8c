"""The qualifier of a three-digit code (DC-05) where it stands in a field of its own, as a word."""

import polars as pl

_WORDS = {
    "1": "1 e a o n new event alarm trouble fault failure active opening open opened new-event "
    "activated bypass bypassed disarm disarmed unset t f fail failed lost loss low begin began "
    "start started",
    "3": "3 r c restore restoral restored restores reset closing close closed cleared clear normal "
    "reset end ended ok okay good back stop stopped unbypass unbypassed arm armed set",
    "6": "6 s p status present previous previously-reported still-present still",
}

QUALIFIERS = {
    word.replace("-", " "): digit for digit, words in _WORDS.items() for word in words.split()
}
"""What is written for a new event or an opening, a restore or a closing, and a status report.

Digits: ANSI/SIA DC-05-1999.09. Letters and words: common practice.
"""


def qualifier_of(cell: pl.Expr) -> pl.Expr:
    """Return the digit of the standard for a cell of a column of qualifiers, null for others.

    Parameters
    ----------
    cell : polars.Expr
        String.

    Returns
    -------
    polars.Expr
        String: ``1``, ``3``, ``6`` or null.
    """
    plain = cell.str.strip_chars().str.to_lowercase().str.replace_all(r"[\s_/-]+", " ")
    return plain.replace_strict(QUALIFIERS, default=None, return_dtype=pl.String)


def is_qualifier_column(cells: pl.Series) -> bool:
    """Tell whether a column says new or restored, and nothing else.

    Parameters
    ----------
    cells : polars.Series
        String, no nulls.

    Returns
    -------
    bool
        True where nearly all cells are qualifiers.
    """
    known = pl.DataFrame({"cell": cells}).select(qualifier_of(pl.col("cell"))).to_series()
    return cells.len() > 0 and known.null_count() <= 0.1 * cells.len()


def says_both(cells: pl.Series) -> bool:
    """Tell whether a column of qualifiers says that things begin and that they end."""
    said = pl.DataFrame({"cell": cells}).select(qualifier_of(pl.col("cell"))).to_series()
    return {"1", "3"} <= set(said.drop_nulls())
