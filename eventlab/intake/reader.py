"""Text of known width to a frame of cells; every call of the polars reader stands here.

The reader pads short rows in silence and would drop cells if told to, so what it gives is
checked against the text each time; where the sums differ, the lines are read one by one.
"""

from collections.abc import Iterable, Sequence

import polars as pl
from polars.exceptions import PolarsError

from eventlab.intake.cells import QUOTE, split
from eventlab.intake.lines import Ints

_CHUNK = 50_000  # rows held as Python objects at a time


def names(width: int) -> list[str]:
    """Name the columns by position.

    Parameters
    ----------
    width : int
        Number of columns.

    Returns
    -------
    list of str
        ``c0``, ``c1``, …
    """
    return [f"c{column}" for column in range(width)]


def read(body: bytes, delimiter: str, width: int, *, rows: int, quoted: bool) -> pl.DataFrame:
    """Read lines that all have the same number of cells and no line end within a cell.

    Parameters
    ----------
    body : bytes
        UTF-8 lines ending with LF or CRLF.
    delimiter : str
        One ASCII character.
    width : int
        Cells of each line.
    rows : int
        How many lines.
    quoted : bool
        Whether quotes enclose cells; else they are text.

    Returns
    -------
    DataFrame
        Columns ``c0`` … of String, an empty cell null.
    """
    frame = attempt(body, delimiter, width, rows=rows, quoted=quoted)
    if frame is not None:
        return frame
    lines = body.decode("utf-8").replace("\r\n", "\n").removesuffix("\n").split("\n")
    if quoted:
        return from_rows((split(line, delimiter) for line in lines), width)
    return from_rows((tuple(line.split(delimiter)) for line in lines), width)


def attempt(
    body: bytes, delimiter: str, width: int, *, rows: int, quoted: bool, skip: int = 0
) -> pl.DataFrame | None:
    """Read with polars, and prove from sums that nothing was lost, padded or joined.

    The bytes of the text must equal the bytes of all cells, delimiters, line ends and the quotes
    taken off. A line with a cell too many makes polars raise; together with the exact number
    of delimiters, which the caller has counted, no line can then have a cell too few. Only an
    empty cell too many in a last line without an end does not raise; the caller looks at that.

    Parameters
    ----------
    body, delimiter, width, rows, quoted
        As for ``read``.
    skip : int
        Lines at the start to leave out.

    Returns
    -------
    DataFrame or None
        None where polars refuses or the sums differ.
    """
    if not rows:
        return from_rows((), width)
    frame = parse(body, delimiter, width, quoted=quoted, skip=skip)
    return frame if frame is None else proved(frame, body, rows=rows, quoted=quoted, skip=skip)


def parse(
    body: bytes, delimiter: str, width: int, *, quoted: bool, skip: int = 0
) -> pl.DataFrame | None:
    """Read with polars; what it gives is not proved yet.

    Parameters
    ----------
    body, delimiter, width, quoted, skip
        As for ``attempt``.

    Returns
    -------
    DataFrame or None
        None where polars refuses.
    """
    try:
        return pl.read_csv(
            body,
            has_header=False,
            separator=delimiter,
            quote_char=QUOTE if quoted else None,
            skip_lines=skip,
            schema=dict.fromkeys(names(width), pl.String),
        )
    except PolarsError:
        return None


def proved(
    frame: pl.DataFrame, body: bytes, *, rows: int, quoted: bool, skip: int = 0
) -> pl.DataFrame | None:
    """Prove from sums that ``parse`` lost, padded and joined nothing.

    Parameters
    ----------
    frame : DataFrame
        What it gave.
    body, rows, quoted, skip
        As for ``attempt``.

    Returns
    -------
    DataFrame or None
        The cells, empty ones null; None where the sums differ.
    """
    width = frame.width
    if frame.height != rows:
        return None
    start = 0
    for _ in range(skip):
        start = body.find(b"\n", start) + 1
    ends = rows - (not body.endswith(b"\n"))
    if b"\r" in body:
        ends += body.count(b"\r\n", start)
    size = len(body) - start
    left = size - _total(frame, pl.all().str.len_bytes()) - ends - (width - 1) * rows
    if quoted:
        inner = _total(frame, pl.all().str.count_matches(QUOTE, literal=True))
        left -= body.count(QUOTE.encode(), start) - inner
        if _total(frame, pl.all() == ""):
            frame = frame.with_columns(
                pl.when(pl.col(c) != "").then(c).alias(c) for c in frame.columns
            )
    return frame if left == 0 else None


def _total(frame: pl.DataFrame, each: pl.Expr) -> int:
    """Sum over all cells, in small steps to spare memory."""
    sums = frame.lazy().select(each.cast(pl.Int64).sum()).collect(engine="streaming")
    return int(sum(sums.row(0)))


def from_rows(rows: Iterable[Sequence[str]], width: int) -> pl.DataFrame:
    """Make a frame of rows already cut into cells.

    Parameters
    ----------
    rows : iterable of sequences of str
        Each with ``width`` cells.
    width : int
        Number of columns.

    Returns
    -------
    DataFrame
        Columns ``c0`` … of String, an empty cell null.
    """
    schema = dict.fromkeys(names(width), pl.String)
    parts: list[pl.DataFrame] = []
    held: list[list[str | None]] = []
    for row in rows:
        held.append([cell or None for cell in row])
        if len(held) == _CHUNK:
            parts.append(pl.DataFrame(held, schema=schema, orient="row"))
            held = []
    parts.append(pl.DataFrame(held, schema=schema, orient="row"))
    return pl.concat(parts) if len(parts) > 1 else parts[0]


def number(cells: pl.DataFrame, lines: Ints) -> pl.DataFrame:
    """Put the physical line before the cells.

    Parameters
    ----------
    cells : DataFrame
        The rows.
    lines : ndarray of int64
        The line at which each begins [0-based].

    Returns
    -------
    DataFrame
        ``row`` (1-based) and the cells.
    """
    return cells.insert_column(0, pl.Series("row", lines + 1, dtype=pl.Int64))
