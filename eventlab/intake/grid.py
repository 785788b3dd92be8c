"""Cells that no character divides, told again as lines that one does, each on its own line."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import polars as pl

from eventlab.errors import UnreadableFile
from eventlab.intake.cells import QUOTE
from eventlab.intake.lines import Line, Lines
from eventlab.intake.reader import names
from eventlab.intake.table import UNUSED, Table, read_table


@dataclass(frozen=True)
class Grid:
    """Cells line by line, as the careful way reads them.

    Parameters
    ----------
    lines : Lines
        One line for each line of the file, cells divided by ``delimiter``.
    delimiter : str
        A character that no cell holds.
    width : int
        Cells of a full row.
    evidence : str
        How the cells were found, in a sentence.
    breaks : mapping of str to str
        What stands for a line end within a cell, and the line end.
    doubts : mapping of int to str
        Rows that cannot be believed, by line [1-based], each with the problem.
    """

    lines: Lines
    delimiter: str
    width: int
    evidence: str
    breaks: Mapping[str, str] = field(default_factory=dict)
    doubts: Mapping[int, str] = field(default_factory=dict)

    def read(self, shown: Lines) -> Table | None:
        """Read the cells as a table.

        Parameters
        ----------
        shown : Lines
            The lines of the file as they stand; what is no row is told from these.

        Returns
        -------
        Table or None
            None where no line has full width.
        """
        table = read_table(self.lines, self.delimiter, self.width)
        if table is None:
            return None
        doubted = pl.DataFrame(
            [(row, self.doubts[row]) for row in table.cells["row"] if row in self.doubts],
            schema={"row": pl.Int64, "problem": pl.String},
            orient="row",
        )
        cells = table.cells.join(doubted, on="row", how="anti", maintain_order="left")
        broken = pl.concat([table.broken.drop("raw"), doubted]).sort("row")
        raws = pl.Series("raw", [shown.text(row - 1) for row in broken["row"]], dtype=pl.String)
        broken = broken.insert_column(1, raws)
        header = table.header
        for sign, end in self.breaks.items():
            cells = cells.with_columns(
                pl.col(name).str.replace_all(sign, end, literal=True) for name in cells.columns[1:]
            )
            header = tuple(cell.replace(sign, end) for cell in header) if header else header
        return replace(
            table,
            cells=cells,
            broken=broken,
            header=header,
            quoted=False,
            ends={},
            preamble=tuple(Line(n.number, shown.text(n.number - 1)) for n in table.preamble),
            footer=tuple(Line(n.number, shown.text(n.number - 1)) for n in table.footer),
        )


def as_grid(rows: Sequence[Sequence[str]], width: int, *, evidence: str, name: str) -> Grid:
    """Write rows of cells as lines that one character divides.

    Parameters
    ----------
    rows : sequence of sequences of str
        One for each line of the file; none of its cells for a line that is blank.
    width : int
        Cells of a full row.
    evidence : str
        How the cells were found.
    name : str
        The file, for the message.

    Returns
    -------
    Grid
        The same cells.

    Raises
    ------
    UnreadableFile
        Where the cells use every control character there is.
    """
    free = [c for c in UNUSED if not any(c in cell for row in rows for cell in row)]
    if len(free) < 3:
        raise UnreadableFile("these bytes are no text", where=name)
    delimiter, feed, back = free[:3]
    breaks = {feed: "\n", back: "\r"}
    lines = (delimiter.join(_cell(cell, breaks) for cell in row) for row in rows)
    return Grid(Lines(_body(lines)), delimiter, width, evidence, breaks)


def columns_of(width: int) -> list[str]:
    """Name the columns of a frame that ``join`` takes."""
    return names(width)


def join(cells: pl.DataFrame, delimiter: str) -> pl.Series:
    """Write the rows of a frame of cells, nulls as empty cells, as lines."""
    quoted = [
        pl.when(pl.col(name).str.contains(QUOTE, literal=True))
        .then(QUOTE + pl.col(name).str.replace_all(QUOTE, QUOTE * 2, literal=True) + QUOTE)
        .otherwise(name)
        .fill_null("")
        for name in cells.columns
    ]
    return cells.select(line=pl.concat_str(quoted, separator=delimiter))["line"]


def _cell(cell: str, breaks: Mapping[str, str]) -> str:
    for sign, end in breaks.items():
        cell = cell.replace(end, sign)
    return QUOTE + cell.replace(QUOTE, QUOTE * 2) + QUOTE if QUOTE in cell else cell


def _body(lines: Iterable[str]) -> bytes:
    return "".join(f"{line}\n" for line in lines).encode("utf-8", errors="replace")
