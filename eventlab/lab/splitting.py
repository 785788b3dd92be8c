"""A very large log cut into parts by its sites, so that each part is small enough to be read.

Each part is a file of its own with the heading and all rows of some sites in their order, so it
reads like the whole; what tells how the whole is to be read (each date and each account once,
the first and last rows) is gathered beside it. Only for files where every line is one row.
"""

import hashlib
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import polars as pl
from polars.exceptions import PolarsError

from eventlab.intake import Sheet

_PIECE = 32 << 20
_ENDS = 1_000
"""Rows at either end of the file that tell how to read it."""
_MOST_DATES = 50_000
_DATE = 10
_NEVER = "\x1f"

Lines = npt.NDArray[np.uint32]
PartOf = Callable[[str], int]
"""Gives the part that the rows of an account go to."""


@dataclass(frozen=True)
class Split:
    """A file in parts.

    Parameters
    ----------
    folder : Path
        Where the parts are.
    sha256, size : str, int
        Of the whole.
    lines : int
        Lines of the whole.
    parts : int
        How many parts.
    head : bytes
        What stands above the rows.
    evidence : bytes
        A short file that tells how to read the whole.
    """

    folder: Path
    sha256: str
    size: int
    lines: int
    parts: int
    head: bytes
    evidence: bytes

    def part(self, number: int) -> tuple[bytes, Lines]:
        """Return a part as a file, and for each of its lines its number in the whole [1-based]."""
        rows = (self.folder / f"{number}.txt").read_bytes()
        above = np.arange(1, self.head.count(b"\n") + 1, dtype=np.uint32)
        return self.head + rows, np.r_[above, np.fromfile(self.folder / f"{number}.n", np.uint32)]


def split(
    path: Path,
    start: Sheet,
    *,
    account: str,
    date: str,
    parts: int,
    part_of: PartOf,
    folder: Path,
) -> Split | None:
    """Cut a file into parts, reading it once.

    Parameters
    ----------
    path : Path
        The file.
    start : Sheet
        Its first rows.
    account, date : str
        Columns of ``start.cells`` with the account and the date.
    parts : int
        How many.
    part_of : callable
        The part of an account; rows without one go to part 0.
    folder : Path
        An empty folder for the parts.

    Returns
    -------
    Split or None
        None where a line may not be a row.
    """
    cutter = _Cutter(start, account, date, part_of)
    digest, size = hashlib.sha256(), 0
    with ExitStack() as opened:
        texts = [opened.enter_context((folder / f"{n}.txt").open("wb")) for n in range(parts)]
        numbers = [opened.enter_context((folder / f"{n}.n").open("wb")) for n in range(parts)]
        for piece in _pieces(path):
            digest.update(piece)
            size += len(piece)
            rows = cutter.cut(piece)
            if rows is None:
                return None
            for (part,), some in rows.group_by("part", maintain_order=True):
                text = some["line"].str.join("\n").item() + "\n"
                texts[part].write(text.encode())
                some["number"].to_numpy().tofile(numbers[part])
    return Split(
        folder=folder,
        sha256=digest.hexdigest(),
        size=size,
        lines=cutter.lines,
        parts=parts,
        head=cutter.head,
        evidence=cutter.head + cutter.evidence(),
    )


def _pieces(path: Path) -> Iterator[bytes]:
    """Yield the file in pieces that end with a line."""
    with path.open("rb") as file:
        rest = b""
        while piece := file.read(_PIECE):
            end = piece.rfind(b"\n") + 1
            if not end:
                rest += piece
                continue
            yield rest + piece[:end]
            rest = piece[end:]
        if rest:
            yield rest


class _Cutter:
    """What is known of the file while its pieces go by."""

    def __init__(self, start: Sheet, account: str, date: str, part_of: PartOf) -> None:
        self.lines = 0
        self.head = b""
        self._above = int(start.cells["row"][0]) - 1
        self._delimiter = start.delimiter or _NEVER
        self._columns = [name for name in start.cells.columns if name != "row"]
        self._account, self._date = account, date
        self._part_of = part_of
        self._parts: dict[str, int] = {}
        self._seen: dict[str, pl.Series] = {}
        self._telling: list[pl.DataFrame] = []
        self._last = pl.DataFrame()

    def cut(self, piece: bytes) -> pl.DataFrame | None:
        """Return number, line and part of the rows of a piece."""
        if not self.lines:
            above = 0
            for _ in range(self._above):
                above = piece.find(b"\n", above) + 1
            self.head, piece = piece[:above], piece[above:]
            self.lines = self._above
        rows = self._rows(piece)
        if rows is None:
            return None
        self._look(rows)
        self.lines += rows.height
        return rows.select("number", "line", "part")

    def evidence(self) -> bytes:
        """Return the lines that tell how to read the file."""
        told = pl.concat([*self._telling, self._last]).unique("number").sort("number")
        text: str = told["line"].str.join("\n").item()
        return f"{text}\n".encode()

    def _rows(self, piece: bytes) -> pl.DataFrame | None:
        if piece.count(b"\r") != piece.count(b"\r\n") or b"\x00" in piece or b"\x1f" in piece:
            return None
        lines = _read(piece, _NEVER, ["line"], quoted=False)
        height = piece.count(b"\n") + (not piece.endswith(b"\n"))
        if lines is None or lines.height != height:
            return None
        rows = lines.select(
            number=pl.int_range(self.lines + 1, self.lines + 1 + height, dtype=pl.UInt32),
            line=pl.col("line").fill_null(""),
        )
        if b'"' in piece:
            cells = _read(piece, self._delimiter, self._columns, quoted=True)
            if cells is None or cells.height != height:
                return None
            rows = rows.with_columns(cells[self._account, self._date])
        else:
            full = pl.col("line").str.count_matches(self._delimiter, literal=True)
            whole = full == len(self._columns) - 1
            rows = rows.with_columns(
                pl.when(whole).then(self._cell(name)).alias(name)
                for name in (self._account, self._date)
            )
        return rows.with_columns(part=self._part(rows[self._account].str.strip_chars()))

    def _cell(self, name: str) -> pl.Expr:
        place = self._columns.index(name)
        sign = rf"\x{ord(self._delimiter):02x}"
        return pl.col("line").str.extract(rf"^(?:[^{sign}]*{sign}){{{place}}}([^{sign}]*)")

    def _part(self, accounts: pl.Series) -> pl.Series:
        for account in accounts.unique().drop_nulls():
            if account not in self._parts:
                self._parts[account] = self._part_of(account) if account else 0
        return accounts.replace_strict(self._parts, default=0, return_dtype=pl.UInt32)

    def _look(self, rows: pl.DataFrame) -> None:
        """Keep the lines that tell something new about how the file is to be read."""
        if not self._telling:
            self._telling.append(rows.head(_ENDS).select("number", "line"))
        for name, what in (
            (self._account, pl.col(self._account)),
            (self._date, pl.col(self._date).str.slice(0, _DATE)),
        ):
            told = rows.select("number", "line", what=what).unique("what", keep="first")
            seen = self._seen.setdefault(name, pl.Series("what", dtype=pl.String))
            new = told.join(seen.to_frame(), on="what", how="anti", nulls_equal=True)
            if seen.len() < _MOST_DATES or name == self._account:
                self._seen[name] = pl.concat([seen, new["what"]])
                self._telling.append(new.select("number", "line"))
        ends = [self._last, rows.tail(_ENDS).select("number", "line")]
        self._last = pl.concat(ends if self._last.width else ends[1:]).tail(_ENDS)


def _read(piece: bytes, delimiter: str, names: list[str], *, quoted: bool) -> pl.DataFrame | None:
    try:
        return pl.read_csv(
            piece,
            has_header=False,
            separator=delimiter,
            quote_char='"' if quoted else None,
            schema=dict.fromkeys(names, pl.String),
            truncate_ragged_lines=True,
        )
    except PolarsError:
        return None
