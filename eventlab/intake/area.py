"""Where in the file the table is: its heading, its rows, and all that stands around them."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from eventlab.intake.cells import split
from eventlab.intake.columns import RULE, Columns, heading_alone, heading_score
from eventlab.intake.lines import Ints, Lines
from eventlab.intake.records import Records
from eventlab.intake.scan import BLANK, CONTINUED, Scan

_WINDOW = 12  # lines of full width among which the heading is looked for
_SAMPLE = 300  # rows the columns are judged by
_SURE = 3.0  # a heading as clear as this may stand below other lines that are no rows
_LIKELY = 1.0  # the least for a heading, as a log of chances
_NEAR = 1.0  # candidates this close are equals
_TOP = 60  # lines among which a drawn one is looked for
_EDGE = 20  # lines of full width with one text alone that may stand at either end
_BLANKS = " \t\f\v\x00\x1a\ufeff"
_DIGITS = re.compile(r"\d+")

Flags = npt.NDArray[np.bool_]


@dataclass(slots=True)
class Area:
    """What each line of the file is. All line numbers are 0-based here.

    Parameters
    ----------
    rows : ndarray of int64
        Lines at which a row of full width begins.
    mended : dict of int to tuple of str
        Rows that only differ by an empty last cell, with their cells.
    broken : dict of int to str
        Rows with another number of cells, with the problem.
    header, header_line : tuple of str or None, int or None
        The heading.
    preamble, footer : list of int
        Lines above and below the table that say something.
    """

    rows: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    mended: dict[int, tuple[str, ...]] = field(default_factory=dict)
    broken: dict[int, str] = field(default_factory=dict)
    header: tuple[str, ...] | None = None
    header_line: int | None = None
    preamble: list[int] = field(default_factory=list)
    footer: list[int] = field(default_factory=list)
    headings: int = 0


class Finder:
    """Decides what each line is, from the widths of all lines and the text of some.

    Parameters
    ----------
    lines : Lines
        The text.
    found : Scan
        Width and kind of each line, odd quotes resolved.
    records : Records
        The records over several lines.
    delimiter : str
        One character.
    width : int
        Cells of a full row.
    skip : int
        Lines at the start that are neither table nor preamble (``sep=``).
    """

    def __init__(
        self, lines: Lines, found: Scan, records: Records, delimiter: str, width: int, skip: int
    ) -> None:
        self.lines, self.records = lines, records
        self.delimiter, self.width = delimiter, width
        self.open: Flags = (found.kind != BLANK) & (found.kind != CONTINUED)
        self.open[:skip] = False
        self.full: Flags = self.open & (found.width == width)
        self.filled: Ints = np.flatnonzero(found.kind != BLANK)
        self.area = Area()

    def find(self) -> Area:
        """Find the table.

        Returns
        -------
        Area
            Each line is in one place of it at most; the lines in none are blanks, further lines
            of a record, repeated headings and page furniture.
        """
        self._drop_drawn()
        self._find_heading()
        columns = self._columns()
        if self.area.header is None:
            self._find_uneven_heading(columns)
        self._set_edges_aside(columns)
        repeated = self._drop_repeated()
        self.area.rows = np.flatnonzero(self.full & self.open)
        self._place_uneven(columns, repeated)
        self.area.preamble.sort()
        self.area.footer.sort()
        return self.area

    def cells(self, line: int) -> tuple[str, ...]:
        """Give the cells of the record that begins at this line."""
        joined = self.records.several.get(line)
        return joined.cells if joined else split(self.lines.text(line), self.delimiter)

    def _sample(self, at: Ints, size: int) -> list[tuple[str, ...]]:
        return [self.cells(int(i)) for i in at[:: max(1, -(-len(at) // size))]]

    def _take(self, line: int) -> None:
        self.open[line] = False

    def _find_heading(self) -> None:
        at = np.flatnonzero(self.full)
        if len(at) == 1:
            cells = self.cells(int(at[0]))
            if heading_alone(cells):
                self._set_heading(int(at[0]), cells)
            return
        window = at[: min(_WINDOW, len(at) // 2)].tolist()
        top = [self.cells(line) for line in window]
        rest = self._sample(at[len(window) :], _SAMPLE)
        scores = [heading_score(c, [*top[k + 1 :], *rest]) for k, c in enumerate(top)]
        best = max(scores, default=0.0)
        if best >= _SURE:
            chosen = max(k for k, s in enumerate(scores) if s >= max(_SURE, best - _NEAR))
        elif scores and scores[0] > _LIKELY:
            chosen = 0
        else:
            return
        chosen = top.index(top[chosen])
        self._set_heading(window[chosen], top[chosen])
        columns = self._columns()
        for line, cells, score in zip(window[:chosen], top, scores, strict=False):
            if not columns.like_row(cells, cut=False) and (score > 0 or any(columns.shapes)):
                self.area.preamble.append(line)
                self._take(line)

    def _set_heading(self, line: int, cells: tuple[str, ...]) -> None:
        self.area.header, self.area.header_line = cells, line
        self._take(line)

    def _drop_drawn(self) -> None:
        """Drop the drawn lines near the top, and their repeats: they divide heading and rows."""
        for line in self.filled[:_TOP].tolist():
            if self.open[line] and self._drawn(line):
                self._take(line)
                self.full[[line, *self._same(line)]] = False

    def _drawn(self, line: int) -> bool:
        """Tell whether a line is drawn of dashes, and neither heading nor row."""
        text = self.lines.text(line)
        return text[:1] in "-=_+| " and RULE.fullmatch(text) is not None

    def _columns(self) -> Columns:
        at = np.flatnonzero(self.full & self.open)
        if self.area.header_line is not None:
            at = at[at > self.area.header_line]
        rows = [c for c in self._sample(at, _SAMPLE) if c != self.area.header]
        return Columns.of(rows, self.width)

    def _find_uneven_heading(self, columns: Columns) -> None:
        """Look for a heading with one cell more or less than the rows: a last empty one."""
        at = np.flatnonzero(self.full)
        above = self.filled[self.filled < at[0]] if len(at) else at
        if not len(above) or not self.open[above[-1]]:
            return
        line = int(above[-1])
        cells = self._even(self.cells(line), columns)
        if cells and heading_score(cells, self._sample(at, _SAMPLE)) > _LIKELY:
            self._set_heading(line, cells)

    def _even(self, cells: tuple[str, ...], columns: Columns) -> tuple[str, ...] | None:
        """Give the cells at full width where only an empty last cell is too many or missing."""
        if len(cells) == self.width + 1 and not cells[-1]:
            return cells[:-1]
        if len(cells) == self.width - 1 and columns.spare:
            return (*cells, "")
        return None

    def _set_edges_aside(self, columns: Columns) -> None:
        """Put lines such as ``End of report,,`` at either end of the table outside it."""
        at = np.flatnonzero(self.full & self.open)
        for edge, place in (
            (at[:_EDGE].tolist(), self.area.preamble),
            (at[::-1][:_EDGE].tolist(), self.area.footer),
        ):
            for line in edge:
                if not self.open[line] or not columns.unlike(self.cells(line)):
                    break
                place.append(line)
                self._take(line)

    def _drop_repeated(self) -> set[int]:
        """Drop repeats of the heading, and of preamble lines of full width; give the headings."""
        dropped: set[int] = set()
        if self.area.header_line is not None:
            dropped |= self._same(self.area.header_line)
            self._drop_cut_heading(self.area.header_line)
        self.area.headings = len(dropped)
        for line in [line for line in self.area.preamble if self.full[line]]:
            self._same(line)
        return dropped

    def _drop_cut_heading(self, head: int) -> None:
        """Drop a last line that begins like the heading, where the file ends within it."""
        last = int(self.filled[-1])
        text = self.lines.text(last).strip(_BLANKS)
        whole = self.lines.text(head).strip(_BLANKS)
        if self.open[last] and text and whole.startswith(text) and not self.lines.finished:
            self._take(last)

    def _same(self, line: int) -> set[int]:
        """Take all open lines that read the same as this one, page breaks left aside."""
        joined = self.records.several.get(line)
        text = self.lines.text(line, joined.last if joined else line).strip(_BLANKS)
        if not text or joined:
            return set()
        found = set()
        for other in _lines_with(self.lines, text.encode("utf-8")):
            if self.open[other] and self.lines.text(other).strip(_BLANKS) == text:
                self._take(other)
                found.add(other)
        return found

    def _place_uneven(self, columns: Columns, repeated: set[int]) -> None:
        """Decide about the lines of another width: around the table, or broken rows of it."""
        uneven = np.flatnonzero(self.open & ~self.full).tolist()
        rows, head = self.area.rows, self.area.header_line
        first = head if head is not None else int(rows[0]) if len(rows) else self.lines.count
        last = int(rows[-1]) if len(rows) else first
        end = int(self.filled[-1]) if len(self.filled) and not self.lines.finished else -1
        inside: list[int] = []
        for line in uneven:
            if self._drawn(line):
                self._take(line)
                continue
            cells = self.cells(line)
            cut = line == end
            like = columns.like_row(cells, cut=cut)
            if not len(rows) and line > last:
                like = cut and bool(_DIGITS.search("".join(cells)))
            even = self._even(cells, columns)
            if even and (like or first < line < last):
                self.area.mended[line] = even
            elif like:
                self._break(line, cells, cut=cut)
            elif line < first:
                self.area.preamble.append(line)
            elif line > last:
                self.area.footer.append(line)
            else:
                inside.append(line)
                continue
            self._take(line)
        self._place_inside(inside, repeated)

    def _place_inside(self, inside: list[int], repeated: set[int]) -> None:
        """Tell page furniture between the rows from broken rows: it repeats, or tops a heading."""
        around = {self._mask(line) for line in (*self.area.preamble, *self.area.footer)}
        tops = set(repeated)
        for line in reversed(inside):
            below = int(self.filled[np.searchsorted(self.filled, line) + 1]) if tops else -1
            if below in tops:
                tops.add(line)
            elif self._mask(line) not in around:
                self._break(line, self.cells(line), cut=False)
            self._take(line)

    def _mask(self, line: int) -> str:
        return _DIGITS.sub("9", self.lines.text(line).strip(_BLANKS))

    def _break(self, line: int, cells: tuple[str, ...], *, cut: bool) -> None:
        found = "1 cell" if len(cells) == 1 else f"{len(cells)} cells"
        problem = f"{found} where the table has {self.width}"
        if line in self.records.stray:
            problem += "; a quotation mark is not closed"
        if cut:
            problem += "; the file ends here"
        self.area.broken[line] = problem


def _lines_with(lines: Lines, text: bytes) -> Iterator[int]:
    """Give the lines that hold this text."""
    at = lines.flat.find(text)
    while at >= 0:
        line = int(np.searchsorted(lines.starts, at, side="right")) - 1
        yield line
        at = lines.flat.find(text, int(lines.starts[line + 1]))
