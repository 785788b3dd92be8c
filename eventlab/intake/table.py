"""Lines and a dialect to a table: the careful way, right for every text."""

from dataclasses import dataclass, field

import numpy as np
import polars as pl

from eventlab.intake import reader
from eventlab.intake.area import Area, Finder
from eventlab.intake.lines import Ints, Line, Lines
from eventlab.intake.records import Records, resolve
from eventlab.intake.scan import LITERAL, QUOTED, Scan, scan

BROKEN = pl.Schema({"row": pl.Int64, "raw": pl.String, "problem": pl.String})
# One of these stands for the missing delimiter of one-column text.
UNUSED = [chr(c) for c in (31, 30, 29, 28, *range(1, 9), *range(14, 28))]


@dataclass(slots=True)
class Table:
    """What was read.

    Parameters
    ----------
    cells, broken : DataFrame
        As ``Sheet`` has them.
    header, header_line : tuple of str or None, int or None
        The heading, and its line [1-based].
    preamble, footer : tuple of Line
        Lines around the table that say something.
    other : int
        Lines that are no rows.
    quoted : bool
        Whether quotes enclose cells.
    ends : dict of int to int
        First and last line of each record over several lines [0-based].
    evidence : tuple of str
        What is irregular, in sentences; empty where nothing is.
    open : frozenset of int
        Rows, by line [1-based], in which a quote is opened and never closed.
    """

    cells: pl.DataFrame
    broken: pl.DataFrame
    header: tuple[str, ...] | None = None
    header_line: int | None = None
    preamble: tuple[Line, ...] = ()
    footer: tuple[Line, ...] = ()
    other: int = 0
    quoted: bool = False
    ends: dict[int, int] = field(default_factory=dict)
    evidence: tuple[str, ...] = ()
    open: frozenset[int] = frozenset()


def unused(lines: Lines) -> str | None:
    """Find a control character that the text does not use.

    Parameters
    ----------
    lines : Lines
        The text.

    Returns
    -------
    str or None
        One character; None where all occur, and the text is none.
    """
    return next((c for c in UNUSED if c.encode() not in lines.flat), None)


def read_table(lines: Lines, delimiter: str, width: int, *, skip: int = 0) -> Table | None:
    """Read a text as a table.

    Parameters
    ----------
    lines : Lines
        The text.
    delimiter : str
        One ASCII character; one that does not occur for a table of one column.
    width : int
        Cells of a full row.
    skip : int
        Lines at the start that belong to nothing.

    Returns
    -------
    Table or None
        None where no line has this width.
    """
    found = scan(lines, delimiter)
    records = resolve(lines, found, delimiter, width)
    finder = Finder(lines, found, records, delimiter, width, skip)
    if not finder.full.any():
        return None
    area = finder.find()
    cells = _cells(lines, found, records, area, delimiter, width)
    broken = pl.DataFrame(
        [(line + 1, lines.text(line), area.broken[line]) for line in sorted(area.broken)],
        schema=BROKEN,
        orient="row",
    )
    return Table(
        cells=cells,
        broken=broken,
        header=area.header,
        header_line=None if area.header_line is None else area.header_line + 1,
        preamble=tuple(Line(line + 1, lines.text(line)) for line in area.preamble),
        footer=tuple(Line(line + 1, lines.text(line)) for line in area.footer),
        other=lines.count - cells.height - broken.height,
        quoted=bool((found.kind[skip:] == QUOTED).any()) or bool(records.several),
        ends={first: joined.last for first, joined in records.several.items()},
        evidence=tuple(_say(records, area)),
        open=frozenset(line + 1 for line in records.stray),
    )


def _cells(
    lines: Lines, found: Scan, records: Records, area: Area, delimiter: str, width: int
) -> pl.DataFrame:
    """Read the rows in up to three batches, each by the way that is right for it."""
    rows = area.rows
    single = np.ones(len(rows), np.bool_)
    if records.several:
        single[np.isin(rows, list(records.several))] = False
    kind = found.kind[rows]
    quoted = bool((kind[single] == QUOTED).any())
    literal = single & (kind == LITERAL) & quoted
    parts = []
    for wanted, quotes in ((single & ~literal, quoted), (literal, False)):
        some = rows[wanted]
        if len(some):
            body = _join(lines, some)
            frame = reader.read(body, delimiter, width, rows=len(some), quoted=quotes)
            parts.append(reader.number(frame, some))
    by_hand = {int(line): records.several[int(line)].cells for line in rows[~single]}
    by_hand = dict(sorted((by_hand | area.mended).items()))
    if by_hand or not parts:
        frame = reader.from_rows(by_hand.values(), width)
        parts.append(reader.number(frame, np.fromiter(by_hand, np.int64, len(by_hand))))
    return parts[0] if len(parts) == 1 else pl.concat(parts).sort("row")


def _join(lines: Lines, rows: Ints) -> bytes:
    """Put the text of these lines together, runs of neighbours at once."""
    breaks = np.flatnonzero(np.diff(rows) != 1)
    firsts = rows[np.concatenate(([0], breaks + 1))]
    lasts = rows[np.concatenate((breaks, [len(rows) - 1]))]
    begins, ends = lines.starts[firsts].tolist(), lines.starts[lasts + 1].tolist()
    view = memoryview(lines.flat)
    return b"".join([view[b:e] for b, e in zip(begins, ends, strict=True)])


def _say(records: Records, area: Area) -> list[str]:
    said = []
    long = sum(joined.last > first for first, joined in records.several.items())
    if long:
        said.append(f"Rows with line ends within quoted cells: {long}.")
    if records.loose:
        said.append(
            f"Rows with a backslash before quotation marks, or spaces around them: {records.loose}."
        )
    if records.stray:
        said.append(
            "Lines in which the quotation marks do not balance, read again without quoting, the "
            f"marks kept as text: {len(records.stray)}."
        )
    if area.headings:
        said.append(f"Repeats of the heading: {area.headings}.")
    if area.mended:
        said.append(f"Rows that differ by an empty last cell only: {len(area.mended)}.")
    if area.broken:
        said.append(f"Rows with too few or too many cells: {len(area.broken)}.")
    return said
