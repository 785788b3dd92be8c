"""Large clean files at the speed of polars: the ends are read carefully, the middle is proved.

All of the middle must be rows of full width: no quote, exactly the right number of delimiters
and line ends, no line with a cell too many, no repeated heading, no blank row. Where one of
these fails, the careful way reads the file.
"""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import polars as pl

from eventlab.intake import reader
from eventlab.intake.lines import Line, Lines
from eventlab.intake.table import Table, read_table

END = 1 << 18  # bytes read carefully at either end
SMALL = 1 << 22  # smaller files are read carefully as a whole
_BLOCK = 1 << 20
_LF, _CR, _QUOTE = 10, 13, 34


def read_large(lines: Lines, delimiter: str, width: int, *, skip: int = 0) -> Table | None:
    """Read a large text whose middle can be proved to be clean.

    Parameters
    ----------
    lines, delimiter, width, skip
        As for ``read_table``.

    Returns
    -------
    Table or None
        None where the text is small or the proof fails.
    """
    flat = lines.flat
    if len(flat) < SMALL or b'"' in flat[: 4 * END]:
        return None
    head = flat.rfind(b"\n", 0, END) + 1
    tail = flat.find(b"\n", len(flat) - END) + 1
    if not 0 < head < tail:
        return None
    ends = Lines(flat[:head] + flat[tail:])
    table = read_table(ends, delimiter, width, skip=skip)
    top = flat.count(b"\n", 0, head)
    if table is None or table.evidence or table.ends:
        return None
    rows = table.cells["row"].to_numpy() - 1
    if not len(rows) or rows[0] >= top or rows[-1] < top or rows[-1] - rows[0] + 1 != len(rows):
        return None
    begin = int(ends.starts[rows[0]])
    end = int(ends.starts[rows[-1] + 1]) + (tail - head)
    heads = [line.text for line in table.preamble]
    if table.header_line is not None:
        heads.append(ends.text(table.header_line - 1))
    skip = int(rows[0]) if end == len(flat) else 0
    body = flat if end == len(flat) else flat[begin:end]
    with ThreadPoolExecutor(1) as beside:
        proof = beside.submit(_rows_if_proved, flat, heads, begin, end, delimiter, width)
        parsed = reader.parse(body, delimiter, width, quoted=False, skip=skip)
        height = proof.result()
    if not height or parsed is None:
        return None
    cells = reader.proved(parsed, body, rows=height, quoted=False, skip=skip)
    if cells is None or _blank_row(cells):
        return None
    more = height - len(rows)
    first = int(rows[0]) + 1
    table.cells = cells.insert_column(
        0, pl.int_range(first, first + height, eager=True).alias("row")
    )
    table.footer = tuple(Line(line.number + more, line.text) for line in table.footer)
    lines.count = ends.count + more
    return table


def _rows_if_proved(
    flat: bytes, heads: list[str], begin: int, end: int, delimiter: str, width: int
) -> int:
    """Count the rows between two offsets; 0 where quotes, delimiters or headings do not fit."""
    rows = _rows(flat, begin, end, delimiter, width)
    return 0 if rows and _has_heading(flat, heads, begin, end) else rows


def _rows(flat: bytes, begin: int, end: int, delimiter: str, width: int) -> int:
    view = np.frombuffer(flat, np.uint8)[begin:end]
    feeds = cuts = 0
    for at in range(0, len(view), _BLOCK):
        block = view[at : at + _BLOCK]
        if np.count_nonzero(block == _QUOTE):
            return 0
        feeds += int(np.count_nonzero(block == _LF))
        cuts += int(np.count_nonzero(block == ord(delimiter)))
    rows = feeds + (flat[end - 1] != _LF)
    return rows if cuts == rows * (width - 1) else 0


def _has_heading(flat: bytes, heads: list[str], begin: int, end: int) -> bool:
    """Tell whether the heading, or a line above it, stands among the rows again."""
    texts = [text.strip().encode("utf-8") for text in heads]
    return any(text and flat.find(text, begin, end) >= 0 for text in texts)


def _blank_row(cells: pl.DataFrame) -> bool:
    """Tell whether a row holds nothing but spaces."""
    for column in cells.columns:
        cell = pl.col(column)
        # Only what begins with a space, or beyond ASCII, needs a look at the whole cell.
        cells = cells.filter(cell.is_null() | (cell < "!") | (cell > "\x7f"))
        cells = cells.filter(cell.is_null() | (cell.str.strip_chars() == ""))
        if not cells.height:
            return False
    return True
