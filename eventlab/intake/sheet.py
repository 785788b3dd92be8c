"""A file as rows of text cells, every line of it accounted for."""

import hashlib
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

from eventlab.errors import UnreadableFile, UsageError
from eventlab.intake.dialect import Dialect, choose, declared, undivided
from eventlab.intake.encoding import Text, decode
from eventlab.intake.ending import doubt_ending
from eventlab.intake.fast import read_large
from eventlab.intake.fixed import find_fixed
from eventlab.intake.keyed import read_keyed
from eventlab.intake.lines import Line, Lines
from eventlab.intake.packed import content, is_workbook, sheet_of
from eventlab.intake.sample import sample
from eventlab.intake.table import Table, read_table, unused


@dataclass(frozen=True, eq=False)
class Sheet:
    """A file as rows of text cells; ``lines == rows + other`` always.

    Parameters
    ----------
    name : str
        The file's name without its folder.
    sha256, size : str, int
        Of the bytes of the export [hexadecimal, bytes]; of a compressed file these are its
        content.
    encoding : str
        ``utf-8``, ``utf-8-sig``, ``utf-16-le``, ``utf-16-be``, ``cp1252``, or ``xlsx`` where it
        is a workbook.
    delimiter : str or None
        What divides the cells; None where no character does: each line is one cell, columns
        stand at fixed places, each line is a key with its value, or it is a workbook.
    quoted : bool
        Whether quotes enclose cells.
    lines : int
        Physical lines, or rows of a workbook's sheet; a final line end makes no further line.
    header, header_line : tuple of str or None, int or None
        The heading as it stands, and its line; None where there is none. Keys before each value
        are a heading without a line.
    preamble, footer : tuple of Line
        Lines above and below the table that say something.
    other : int
        Lines that are no rows: preamble, footer, headings (repeated too), page furniture,
        blanks, and the further lines of rows with line ends in a cell.
    cells : DataFrame
        ``row`` Int64 (the 1-based line at which the row begins) and ``c0`` … String; an empty
        cell is null, nothing is stripped but the spaces that fill columns at fixed places.
    broken : DataFrame
        ``row`` Int64, ``raw`` and ``problem`` String: rows with too few or too many cells, and
        a last one that may be cut.
    evidence : tuple of str
        How the file was read and why, in sentences.
    """

    name: str
    sha256: str
    size: int
    encoding: str
    delimiter: str | None
    quoted: bool
    lines: int
    header: tuple[str, ...] | None
    header_line: int | None
    preamble: tuple[Line, ...]
    footer: tuple[Line, ...]
    other: int
    cells: pl.DataFrame = field(repr=False)
    broken: pl.DataFrame = field(repr=False)
    evidence: tuple[str, ...]
    _text: Lines = field(repr=False)
    _ends: dict[int, int] = field(repr=False)

    @property
    def rows(self) -> int:
        """The number of rows, broken ones included."""
        return self.cells.height + self.broken.height

    def raw(self, rows: Sequence[int] | pl.Series) -> pl.DataFrame:
        """Give the text of rows exactly as it stood, line ends within them included.

        Parameters
        ----------
        rows : sequence of int or Series
            Row numbers, as in ``cells`` and ``broken``.

        Returns
        -------
        DataFrame
            ``row`` Int64 and ``raw`` String, in the order given.

        Raises
        ------
        UsageError
            Where there is no such line.
        """
        numbers = [int(row) for row in rows]
        if numbers and not 1 <= min(numbers) <= max(numbers) <= self.lines:
            raise UsageError(f"rows are counted from 1 to {self.lines}", where=self.name)
        texts = [self._text.text(n - 1, self._ends.get(n - 1)) for n in numbers]
        return pl.DataFrame(
            {"row": numbers, "raw": texts}, schema={"row": pl.Int64, "raw": pl.String}
        )


def open_sheet(path: Path | str, *, name: str | None = None) -> Sheet:
    """Read a file as rows of text cells.

    Parameters
    ----------
    path : Path or str
        The file.
    name : str, optional
        Its name, where it differs from that of the path.

    Returns
    -------
    Sheet
        The file as it was at this moment.

    Raises
    ------
    UnreadableFile
        Where it cannot be opened, is empty or holds no text.
    """
    called = name or Path(path).name
    try:
        data = Path(path).read_bytes()
    except OSError as error:
        found = error.strerror or "it cannot be opened"
        raise UnreadableFile(found, where=called, do="See that it can be read") from error
    return read_bytes(data, name=called)


def read_bytes(data: bytes, *, name: str) -> Sheet:
    """Read bytes as rows of text cells.

    Parameters
    ----------
    data : bytes
        The file as it is; of a compressed file its content is read.
    name : str
        What to call it.

    Returns
    -------
    Sheet
        Every line accounted for.

    Raises
    ------
    UnreadableFile
        Where the bytes are empty, hold no text or nothing but blank lines, or can be divided
        into cells in two ways that nothing decides between; where they are an archive that
        cannot be read, or that holds several files.
    """
    name = _without_folder(name)
    data = content(data, name=name)
    with ThreadPoolExecutor(1) as beside:
        digest = beside.submit(lambda: hashlib.sha256(data).hexdigest())
        book, title = sheet_of(data)
        read = _read_workbook(book, title, name) if is_workbook(book) else _read_text(data, name)
        table = read.table
        return Sheet(
            name=name,
            sha256=digest.result(),
            size=len(data),
            encoding=read.encoding,
            delimiter=read.delimiter,
            quoted=table.quoted,
            lines=read.lines.count,
            header=table.header,
            header_line=table.header_line,
            preamble=table.preamble,
            footer=table.footer,
            other=table.other,
            cells=table.cells,
            broken=table.broken,
            evidence=(*read.said, *_say(table)),
            _text=read.lines,
            _ends=table.ends,
        )


@dataclass(frozen=True, slots=True)
class _Read:
    """A table with the lines it stands in, and how they were read."""

    table: Table
    lines: Lines
    encoding: str
    delimiter: str | None
    said: tuple[str, ...]


def _without_folder(name: str) -> str:
    """Take the folder off; what stands within an archive keeps its own."""
    file, sign, inside = name.partition(": ")
    return f"{Path(file).name or file}{sign}{inside}"


def _read_workbook(data: bytes, title: str, name: str) -> _Read:
    from eventlab.intake.workbook import read_workbook

    grid, lines = read_workbook(data, title, name=name)
    table = grid.read(lines)
    if table is None:
        raise _blank(name)
    return _Read(table, lines, "xlsx", None, (grid.evidence,))


def _read_text(data: bytes, name: str) -> _Read:
    text = decode(data, name=name)
    lines = Lines(text.body)
    told = declared(lines.first)
    skip = int(told is not None)
    dialect = choose(sample(lines, skip=skip), told=told, name=name)
    table, said = _without_delimiter(lines) if dialect.delimiter is None else (None, "")
    if table is None:
        table, dialect = _read(lines, dialect, skip, name)
        table = doubt_ending(table, lines, dialect.delimiter)
        said = dialect.evidence
    return _Read(table, lines, text.encoding, dialect.delimiter, _said(text, lines, said))


def _without_delimiter(lines: Lines) -> tuple[Table | None, str]:
    """Read columns at fixed places, or keys with values."""
    keyed = read_keyed(lines)
    if keyed is not None:
        return keyed, "No delimiter found, but a key before each value."
    grid = find_fixed(lines)
    table = grid.read(lines) if grid is not None else None
    if grid is None or table is None:
        return None, ""
    return doubt_ending(table, lines, None), grid.evidence


def _read(lines: Lines, dialect: Dialect, skip: int, name: str) -> tuple[Table, Dialect]:
    """Read the table; as one column where nothing divides the lines."""
    for tried in (dialect, undivided(dialect)):
        delimiter = tried.delimiter or unused(lines)
        if delimiter is None:
            raise UnreadableFile("these bytes are no text", where=name)
        table = read_large(lines, delimiter, tried.width, skip=skip)
        table = table or read_table(lines, delimiter, tried.width, skip=skip)
        if table is not None:
            return table, tried
    raise _blank(name)


def _blank(name: str) -> UnreadableFile:
    return UnreadableFile("there is nothing in it but blank lines", where=name)


def _said(text: Text, lines: Lines, dialect: str) -> tuple[str, ...]:
    ends = (f"Lines end with {' and '.join(lines.ends)}.",) if lines.ends else ()
    return (*text.evidence, *ends, dialect)


def _say(table: Table) -> tuple[str, ...]:
    said = []
    if table.header_line is not None:
        why = "it is unlike the rows below it" if table.cells.height else "no rows are below it"
        said.append(f"Line {table.header_line} is the heading: {why}.")
    elif table.header is None:
        said.append("No heading found: the first row is like those below it.")
    for place, around in (("above", table.preamble), ("below", table.footer)):
        if around:
            said.append(f"Lines {place} the table that say something: {len(around)}.")
    return (*said, *table.evidence)
