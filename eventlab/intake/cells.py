"""One record of text to its cells, by RFC 4180, more loosely, or with quotes as plain text."""

import re
from dataclasses import dataclass
from functools import cache

QUOTE = '"'
_QUOTED = re.compile(r'"([^"]*(?:""[^"]*)*)"')
_ESCAPED = re.compile(r'"([^"\\]*(?:(?:\\.|"")[^"\\]*)*)"', re.DOTALL)
_ESCAPES = re.compile(r'\\(["\\])|""')
_ENDS = ("", "\n", "\r")


@dataclass(frozen=True, slots=True)
class Record:
    """One record read from a text.

    Parameters
    ----------
    cells : tuple of str
        Its cells, quotes taken off.
    end : int
        Where in the text it ends, before the line end [characters].
    """

    cells: tuple[str, ...]
    end: int


@cache
def _plain(delimiter: str) -> re.Pattern[str]:
    return re.compile(f"[^{re.escape(delimiter)}\r\n]*")


def record(text: str, delimiter: str, *, loose: bool = False) -> Record | None:
    """Read the first record of a text strictly: a quote opens only at a cell's start.

    Parameters
    ----------
    text : str
        One or more lines.
    delimiter : str
        One character.
    loose : bool
        Whether a backslash may stand before a quote within a quoted cell, and spaces around the
        quotes, as many programs write.

    Returns
    -------
    Record or None
        None where a quoted cell is not closed properly; RFC 4180 section 2, rules 5 to 7.
    """
    cells: list[str] = []
    at = 0
    while True:
        begin = _past_spaces(text, at) if loose else at
        if text.startswith(QUOTE, begin):
            quoted = (_ESCAPED if loose else _QUOTED).match(text, begin)
            if quoted is None:
                return None
            at = quoted.end()
            if loose:
                cells.append(_ESCAPES.sub(lambda found: found.group(1) or QUOTE, quoted.group(1)))
                at = _past_spaces(text, at)
            else:
                cells.append(quoted.group(1).replace('""', QUOTE))
            if text[at : at + 1] not in (delimiter, *_ENDS):
                return None
        else:
            bare = _plain(delimiter).match(text, at)
            end = bare.end() if bare else at
            cells.append(text[at:end])
            at = end
        if not text.startswith(delimiter, at):
            return Record(tuple(cells), at)
        at += len(delimiter)


def _past_spaces(text: str, at: int) -> int:
    while text.startswith(" ", at):
        at += 1
    return at


def split(line: str, delimiter: str) -> tuple[str, ...]:
    """Split one line into cells; a line with broken quotes has its quotes as plain text.

    Parameters
    ----------
    line : str
        One physical line without its end.
    delimiter : str
        One character.

    Returns
    -------
    tuple of str
        At least one cell, nothing stripped.
    """
    if QUOTE in line:
        found = record(line, delimiter)
        if found is not None:
            return found.cells
    return tuple(line.split(delimiter))
