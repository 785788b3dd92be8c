"""Records that run over several lines, and quotes that are never closed."""

from dataclasses import dataclass

import numpy as np

from eventlab.intake.cells import QUOTE, record
from eventlab.intake.lines import END, Lines
from eventlab.intake.scan import CONTINUED, LITERAL, ODD, Scan

_WINDOWS = (4, 32, 256)  # lines looked at, one after the other, for the end of a record


@dataclass(frozen=True, slots=True)
class Several:
    """One record read by itself, mostly over several physical lines.

    Parameters
    ----------
    cells : tuple of str
        Its cells; line ends within them as they stood.
    last : int
        Its last line [0-based].
    """

    cells: tuple[str, ...]
    last: int


@dataclass(frozen=True, slots=True)
class Records:
    """What became of the lines in which a quote is not closed.

    Parameters
    ----------
    several : dict of int to Several
        The records read by themselves, by their first line [0-based].
    stray : frozenset of int
        Lines whose quotes do not balance; they are read with quotes as plain text.
    loose : int
        Records that are whole only where a backslash keeps a quote, or spaces stand around quotes.
    """

    several: dict[int, Several]
    stray: frozenset[int]
    loose: int = 0


def resolve(lines: Lines, found: Scan, delimiter: str, width: int) -> Records:
    """Join the lines of records with line ends in their cells; take other open quotes as text.

    Parameters
    ----------
    lines : Lines
        The text.
    found : Scan
        What stands in each line; kinds and widths of the ``ODD`` lines are set here.
    delimiter : str
        One character.
    width : int
        Cells of a full line.

    Returns
    -------
    Records
        A joined record always has full width; its further lines are ``CONTINUED``.
    """
    several: dict[int, Several] = {}
    stray: set[int] = set()
    past = loose = 0
    for line in np.flatnonzero(found.kind == ODD).tolist():
        if line < past:
            continue
        single = record(lines.text(line), delimiter)
        if single is not None:  # a proper quoted cell beside one with a mark in its text
            found.width[line] = len(single.cells)
            if len(single.cells) == width:
                several[line] = Several(single.cells, line)
            continue
        if _loose(lines, found, line, delimiter, width, several):
            loose += 1
            continue
        joined = _join(lines, found, line, delimiter, width) if width > 1 else None
        if joined is None:
            found.kind[line] = LITERAL
            found.width[line] = _literal(lines, line, delimiter)
            stray.add(line)
            continue
        several[line] = joined
        past = joined.last + 1
        found.width[line] = width
        found.kind[line + 1 : past] = CONTINUED
    for line in np.flatnonzero((found.kind == LITERAL) & (found.width != width)).tolist():
        if line not in stray:
            loose += _loose(lines, found, line, delimiter, width, several)
    return Records(several, frozenset(stray), loose)


def _loose(
    lines: Lines,
    found: Scan,
    line: int,
    delimiter: str,
    width: int,
    several: dict[int, Several],
) -> bool:
    """Read a line whose quotes are kept by backslashes, or have spaces around, to full width."""
    single = record(lines.text(line), delimiter, loose=True) if width > 1 else None
    if single is None or len(single.cells) != width:
        return False
    found.width[line] = width
    several[line] = Several(single.cells, line)
    return True


def _literal(lines: Lines, line: int, delimiter: str) -> int:
    return lines.text(line).count(delimiter) + 1


def _join(lines: Lines, found: Scan, line: int, delimiter: str, width: int) -> Several | None:
    for size in _WINDOWS:
        last = min(line + size, lines.count) - 1
        text = lines.text(line, last)
        read = record(text, delimiter) or record(text, delimiter, loose=True)
        if read is None:
            if last + 1 == lines.count:
                return None
            continue
        end = line + len(END.findall(text[: read.end]))
        if len(read.cells) != width or _stands_alone(lines, found, line, end, delimiter, width):
            return None
        return Several(read.cells, end)
    return None


def _stands_alone(
    lines: Lines, found: Scan, first: int, last: int, delimiter: str, width: int
) -> bool:
    """Tell whether each of these lines is a full row by itself, quotes taken as text.

    Then the quotes are ditto marks or inch marks, and joining would swallow rows.
    """
    for line in range(first, last + 1):
        alone = int(found.width[line])
        if found.kind[line] == ODD:
            alone = _literal(lines, line, delimiter)
        if alone != width:
            return False
    if width > 2:
        return True
    cells = [cell for n in range(first, last + 1) for cell in lines.text(n).split(delimiter)]
    return any(cell.strip() == QUOTE for cell in cells)
