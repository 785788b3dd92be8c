"""Cells that hold a standard code and its wording together: ``E131 Hall window``, ``Fire (FA)``."""

import polars as pl

from eventlab.meaning.codes import is_code_column

_CODE = (
    r"(?:(?i:[ER136])[ \-]?)?\d{3}(?:[ /\-]\d{2}[ /\-]\d{3})?"  # DC-05
    r"|[A-Z]{2}\d{0,4}"  # DC-03
)
_BEFORE = rf"^\s*[\[(]?({_CODE})[\])]?(?:\s*[:|=\-–—]\s*|\s+)(.*\p{{L}}.*)$"
_BEHIND = rf"^(.*\p{{L}}.*?)[\s:|\-]*[\[(]\s*({_CODE})\s*[\])]\s*$"
_MOST = 0.5
"""Share of cells that must hold a known code."""


def split(cells: pl.Series) -> tuple[pl.Series, pl.Series]:
    """Take code and wording of each cell apart.

    Parameters
    ----------
    cells : polars.Series
        String.

    Returns
    -------
    tuple of polars.Series
        The codes, null where a cell begins or ends with none; the wordings, whole where it does.
    """
    cell = pl.col("cell")
    told = pl.DataFrame({"cell": cells}).select(
        code=pl.coalesce(cell.str.extract(_BEHIND, 2), cell.str.extract(_BEFORE, 1)),
        words=pl.coalesce(cell.str.extract(_BEHIND, 1), cell.str.extract(_BEFORE, 2), cell),
    )
    return told["code"].alias(cells.name), told["words"].alias(cells.name)


def are_coded_words(cells: pl.Series) -> bool:
    """Tell whether the cells of a column hold codes and wordings together.

    Parameters
    ----------
    cells : polars.Series
        String, no nulls.

    Returns
    -------
    bool
        True where most cells do.
    """
    codes, _ = split(cells)
    coded = codes.len() - codes.null_count()
    if not coded or coded < _MOST * cells.len():
        return False
    return is_code_column(codes).share * coded >= _MOST * cells.len()
