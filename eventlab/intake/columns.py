"""What the cells of each column look like, and whether a line is a heading or a row of them."""

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

Row = tuple[str, ...]

RULE = re.compile(r"[\s|+:]*[-=_]{2,}(?:[\s|+:]+[-=_]{2,})*[\s|+:]*")
"""A line that is drawn: dashes under the headings, or around a table."""

_DIGITS = re.compile(r"\d+")
_LETTERS = re.compile(r"[^\W\d_]+")
_SPACES = re.compile(r"\s+")
_TIME = re.compile(r"\d[:/.-]\d+[:/.-]\d|\d:\d\d")

# Chances of what a heading cell is, from memory of many exports; the votes below are capped,
# so their exact size matters little.
_HEADING = {"text": 0.95, "digits": 0.03, "time": 0.003}
_SEEN = 0.01  # a heading's own text also stands among the values below
_VOTE = 3.0  # one column decides no more than this
_NAMES = 1.5  # several short, different words in one line: most exports do have headings
_SINGLE = -0.5  # a table of one column seldom has one
_NAME_LENGTH = 40  # characters

_CUT_MARKS = '"\ufffd'  # what an unclosed quote and a cut character leave
_LOOK = 200  # rows below that are compared
_SHAPES = 8  # shapes that a column of numbers or times has at most
_STRONG = 0.8  # share of its cells that these must cover
_SHAPE_LENGTH = 40  # characters


def shape(cell: str) -> str:
    """Reduce a cell to its pattern: ``01/02/2025 9:05 AM`` becomes ``9/9/9 9:9 a``.

    Parameters
    ----------
    cell : str
        Any text.

    Returns
    -------
    str
        Runs of digits as 9, runs of letters as a.
    """
    out = _LETTERS.sub("a", _DIGITS.sub("9", cell.strip()))
    return _SPACES.sub(" ", out)[:_SHAPE_LENGTH]


def kind(cell: str) -> str:
    """Tell whether a cell is ``empty``, ``text``, has ``digits`` or a ``time``.

    Parameters
    ----------
    cell : str
        Any text.

    Returns
    -------
    str
        One of the four.
    """
    if not cell.strip():
        return "empty"
    if _TIME.search(cell):
        return "time"
    return "digits" if _DIGITS.search(cell) else "text"


@dataclass(frozen=True, slots=True)
class Columns:
    """What was seen in the columns of a table.

    Parameters
    ----------
    shapes : tuple of frozenset of str, one per column
        The patterns of a column of numbers or times; empty where the column has no such pattern.
    values : tuple of frozenset of str, one per column
        The texts seen.
    spare : bool
        Whether the last column is empty in every row.
    """

    shapes: tuple[frozenset[str], ...]
    values: tuple[frozenset[str], ...]
    spare: bool

    @classmethod
    def of(cls, rows: Sequence[Row], width: int) -> "Columns":
        """Look at sampled rows of full width.

        Parameters
        ----------
        rows : sequence of rows
            Cells as text.
        width : int
            Cells of a full row.

        Returns
        -------
        Columns
            Empty sets where there are no rows.
        """
        shapes, values = [], []
        for column in range(width):
            cells = [row[column] for row in rows if row[column].strip()]
            counted = Counter(shape(cell) for cell in cells)
            top = {s for s, _ in counted.most_common(_SHAPES) if "9" in s}
            covered = sum(counted[s] for s in top)
            shapes.append(frozenset(top if covered >= _STRONG * len(cells) else ()))
            values.append(frozenset(cells))
        spare = width > 1 and bool(rows) and not values[-1]
        return cls(tuple(shapes), tuple(values), spare)

    def like_row(self, cells: Row, *, cut: bool) -> bool:
        """Tell whether a line of another width is a row with cells too many or too few.

        Parameters
        ----------
        cells : sequence of str
            The line's cells.
        cut : bool
            Whether the file may end within this line.

        Returns
        -------
        bool
            True where its first filled cell of a patterned column fits that pattern.
        """
        last = len(cells) - 1
        for column, whole in enumerate(cells[: len(self.shapes)]):
            cell = whole.strip(_CUT_MARKS)
            if not cell.strip():
                continue
            if cut and self._begins(column, cell, whole=column < last):
                return True
            if self.shapes[column]:
                return self._fits(column, cell, cut=cut and column == last)
        return False

    def _begins(self, column: int, cell: str, *, whole: bool) -> bool:
        """Tell whether a cell is one that was seen in the column, or the beginning of one."""
        values = self.values[column]
        return cell in values or (not whole and any(seen.startswith(cell) for seen in values))

    def _fits(self, column: int, cell: str, *, cut: bool) -> bool:
        pattern = shape(cell)
        if pattern in self.shapes[column]:
            return True
        return cut and "9" in pattern and any(s.startswith(pattern) for s in self.shapes[column])

    def unlike(self, cells: Row) -> bool:
        """Tell whether a line of full width has one text alone, where no row has such.

        Parameters
        ----------
        cells : sequence of str
            The line's cells.

        Returns
        -------
        bool
            True for lines such as ``End of report,,``.
        """
        filled = [column for column, cell in enumerate(cells) if cell.strip()]
        if len(cells) < 3 or len(filled) != 1:
            return False
        column = filled[0]
        return bool(self.shapes[column]) and shape(cells[column]) not in self.shapes[column]


def heading_alone(cells: Row) -> bool:
    """Tell whether a line with no row of its width below it is a heading.

    Parameters
    ----------
    cells : sequence of str
        The line.

    Returns
    -------
    bool
        True for several short words without digits.
    """
    return len(cells) > 1 and _names(cells)


def heading_score(cells: Row, below: Sequence[Row]) -> float:
    """Weigh whether a line is a heading over the rows below it.

    Parameters
    ----------
    cells : sequence of str
        The line.
    below : sequence of rows
        Rows of the same width that follow it; repeats of the line itself are left out.

    Returns
    -------
    float
        Log of the ratio of chances, heading over row; each column adds at most three.
    """
    below = [row for row in below if not _repeats(row, cells)]
    sample = below[:: max(1, len(below) // _LOOK)]
    size = len(sample)
    score, fresh = 0.0, True
    for column, cell in enumerate(cells):
        this = kind(cell)
        if this == "empty":
            continue
        column_cells = [row[column] for row in sample]
        same = sum(1 for other in column_cells if kind(other) == this)
        vote = math.log(_HEADING[this] * (size + 1) / (same + 0.5))
        counted = Counter(c.strip() for c in (cell, *column_cells) if c.strip())
        again = sum(n for n in counted.values() if n > 1)
        repeated = (again + 0.1) / (sum(counted.values()) + 0.2)
        seen = counted[cell.strip()] > 1
        fresh = fresh and not seen
        vote += math.log(_SEEN / repeated if seen else (1 - _SEEN) / (1 - repeated))
        score += max(-_VOTE, min(_VOTE, vote))
    if len(cells) == 1:
        return score + _SINGLE
    return score + (_NAMES if fresh and _names(cells) else 0.0)


def _repeats(row: Row, cells: Row) -> bool:
    """Tell whether a row is the same line again, perhaps cut by the end of the file."""
    if row == cells:
        return True
    pairs = zip(row, cells, strict=True)
    return bool(row[0]) and row[0] == cells[0] and all(c.startswith(r) for r, c in pairs)


def _names(cells: Row) -> bool:
    """Tell whether the cells are short words without digits; a few may be blank."""
    filled = [cell.strip().casefold() for cell in cells if cell.strip()]
    return (
        2 * len(filled) > len(cells)
        and all(kind(cell) == "text" and len(cell) <= _NAME_LENGTH for cell in filled)
        and any(cell[0].isalpha() or cell[0] == "_" for cell in filled)
    )
