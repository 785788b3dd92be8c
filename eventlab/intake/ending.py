"""A file cut within its last row: what is there of the row is no proof of what it said."""

import re

import polars as pl

from eventlab.intake.cells import QUOTE, record
from eventlab.intake.lines import Lines
from eventlab.intake.reader import names
from eventlab.intake.table import BROKEN, Table

CUT = (
    "the file ends within this line, which has no line end: its last cell may be cut short; "
    "where it is whole, add the line end to a copy of the file"
)
OPEN = "a quotation mark is not closed; the file ends here"

_LEAD = re.compile(r"^(?:\S*\d\S*\s+)+")  # dates and numbers before the words of a whole line
_FIXED = 3  # characters from which cells of one length prove each other
_SOME = 3  # such cells at least


def doubt_ending(table: Table, lines: Lines, delimiter: str | None) -> Table:
    """Take the last row for unread where the file may be cut within it.

    A file may be cut where its last line alone has no line end. Many programs write none there,
    so the row is still read where its last cell is proved whole: by its closing quote, by a
    length that all cells of the column share, or by a text that other rows have too and that no
    other text goes on from. ``Zone 1`` may have been ``Zone 12`` and ``10:3`` was not ``10:3``.

    Parameters
    ----------
    table : Table
        What was read; changed in place.
    lines : Lines
        The text of the file.
    delimiter : str or None
        What divides its cells; None where each line is one cell.

    Returns
    -------
    Table
        The same table.
    """
    if not table.cells.height:
        return table
    row = int(table.cells["row"][-1])
    last = table.ends.get(row - 1, row - 1)
    if table.open == {row} and _nothing_below(table, row):
        drop_last(table, lines, OPEN)
    elif not lines.finished and lines.count > 1 and last + 1 == lines.count:
        text = lines.text(row - 1, last)
        if not _whole(table.cells, text, delimiter):
            drop_last(table, lines, CUT)
    return table


def drop_last(table: Table, lines: Lines, problem: str) -> None:
    """Make the last row of a table one that is not read, for this reason."""
    row = int(table.cells["row"][-1])
    table.cells = table.cells.head(table.cells.height - 1)
    raw = lines.text(row - 1, table.ends.get(row - 1))
    one = pl.DataFrame([(row, raw, problem)], schema=BROKEN, orient="row")
    table.broken = pl.concat([table.broken, one]).sort("row")
    table.evidence = (*table.evidence, f"Line {row} is not read: {problem}.")


def proved(cell: str | None, others: pl.Series) -> bool:
    """Tell whether a cell that may be cut short is proved to be whole by its column.

    Parameters
    ----------
    cell : str or None
        What is there of it.
    others : Series of String
        The cells of all other rows.

    Returns
    -------
    bool
        False where more may have stood there.
    """
    filled = others.drop_nulls()
    if not cell or not cell.strip():
        return cell is None and bool(len(others)) and not len(filled)
    sizes = filled.str.len_chars()
    if len(cell) >= _FIXED and len(filled) >= _SOME and len(filled) == len(others):
        low, high = sizes.min(), sizes.max()
        if low == high == len(cell):
            return True
    if cell[-1].isdigit():
        return False
    longer = filled.filter(filled.str.starts_with(cell) & (filled != cell))
    return bool((filled == cell).any()) and not len(longer)


def _nothing_below(table: Table, row: int) -> bool:
    """Tell whether no other row stands below this one."""
    return all(number < row for number in table.broken["row"])


def _whole(cells: pl.DataFrame, text: str, delimiter: str | None) -> bool:
    columns = names(cells.width - 1)
    others = cells.head(cells.height - 1)
    if delimiter is None and cells.width == 2:
        column = others["c0"].str.replace(_LEAD.pattern, "")
        return proved(_LEAD.sub("", text, count=1), column)
    if delimiter is not None and text.endswith(QUOTE):
        strict = record(text, delimiter)
        at = text.rfind(delimiter + QUOTE)
        if strict is not None and at >= 0 and at + 2 < len(text):
            return True
    final = columns[-1]
    if len(columns) > 1 and not others[final].count() and delimiter is not None:
        # A last cell that is always empty may be left out, or may be all that was cut off.
        if text.endswith(delimiter):
            return True
        final = columns[-2]
    return proved(cells[final][-1], others[final])
