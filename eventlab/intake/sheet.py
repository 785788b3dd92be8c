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
from eventlab.intake.fast import read_large
from eventlab.intake.lines import Line, Lines
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
        Of the bytes as they are [hexadecimal, bytes].
    encoding : str
        ``utf-8``, ``utf-8-sig``, ``utf-16-le``, ``utf-16-be`` or ``cp1252``.
    delimiter : str or None
        What divides the cells; None where each line is one cell.
    quoted : bool
        Whether quotes enclose cells.
    lines : int
        Physical lines; a final line end makes no further line.
    header, header_line : tuple of str or None, int or None
        The heading as it stands, and its line; None where there is none.
    preamble, footer : tuple of Line
        Lines above and below the table that say something.
    other : int
        Lines that are no rows: preamble, footer, headings (repeated too), page furniture,
        blanks, and the further lines of rows with line ends in a cell.
    cells : DataFrame
        ``row`` Int64 (the 1-based line at which the row begins) and ``c0`` … String; an empty
        cell is null, nothing is stripped.
    broken : DataFrame
        ``row`` Int64, ``raw`` and ``problem`` String: rows with too few or too many cells.
    evidence : tuple of str
        How the file was read and why, in sentences.
    inside : tuple of Line
        Lines that pages repeat between the rows, such as their titles.
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
    inside: tuple[Line, ...] = ()

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
        The file as it is.
    name : str
        What to call it.

    Returns
    -------
    Sheet
        Every line accounted for.

    Raises
    ------
    UnreadableFile
        Where the bytes are empty, hold no text or nothing but blank lines.
    """
    name = Path(name).name or name
    with ThreadPoolExecutor(1) as beside:
        digest = beside.submit(lambda: hashlib.sha256(data).hexdigest())
        text = decode(data, name=name)
        lines = Lines(text.body)
        told = declared(lines.first)
        skip = int(told is not None)
        dialect = choose(sample(lines, skip=skip), told=told)
        table, dialect = _read(lines, dialect, skip, name)
        sha256 = digest.result()
    return Sheet(
        name=name,
        sha256=sha256,
        size=len(data),
        encoding=text.encoding,
        delimiter=dialect.delimiter,
        quoted=table.quoted,
        lines=lines.count,
        header=table.header,
        header_line=table.header_line,
        preamble=table.preamble,
        footer=table.footer,
        other=table.other,
        cells=table.cells,
        broken=table.broken,
        evidence=_say(text, lines, dialect, table),
        _text=lines,
        _ends=table.ends,
        inside=table.inside,
    )


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
    raise UnreadableFile("there is nothing in it but blank lines", where=name)


def _say(text: Text, lines: Lines, dialect: Dialect, table: Table) -> tuple[str, ...]:
    said = [*text.evidence]
    if lines.ends:
        said.append(f"Lines end with {' and '.join(lines.ends)}.")
    said.append(dialect.evidence)
    if table.header_line is None:
        said.append("No heading found: the first row is like those below it.")
    else:
        why = "it is unlike the rows below it" if table.cells.height else "no rows are below it"
        said.append(f"Line {table.header_line} is the heading: {why}.")
    for place, around in (("above", table.preamble), ("below", table.footer)):
        if around:
            said.append(f"Lines {place} the table that say something: {len(around)}.")
    return (*said, *table.evidence)
