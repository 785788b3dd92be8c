"""Rows of cells to the bytes of a file."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from eventlab.simulate.model import Building, Record

Row = tuple[str, ...]
Tell = Callable[[Record, Building], Row | None]


@dataclass(frozen=True)
class Style:
    """How one file is written.

    Parameters
    ----------
    file : str
        Its name.
    sites : tuple of str
        Whose records stand in it.
    heading : tuple of str
        Headings of its columns.
    tell : callable
        A record to its cells; None where this log does not tell such a thing.
    delimiter, encoding, newline : str
        As written; ``utf-16`` is little-endian with its mark.
    newest_first : bool
        Order.
    centre : bool
        Whether it is the monitoring centre's history.
    above, below : tuple of str
        Lines before and after the table; ``{rows}`` is the number of rows.
    page : int
        Rows on a page, each with a page line and the headings again; 0 for none.
    ring : int
        How many rows the log holds; 0 for all.
    taken_before : int
        Days before the end at which it was taken.
    odd : tuple of str
        Wordings that nobody knows, one after every thousand rows.
    """

    file: str
    sites: tuple[str, ...]
    heading: Row
    tell: Tell
    delimiter: str = ","
    encoding: str = "utf-8"
    newline: str = "\n"
    newest_first: bool = False
    centre: bool = False
    above: Row = ()
    below: Row = ()
    page: int = 0
    ring: int = 0
    taken_before: int = 0
    odd: Row = ()


def write(style: Style, rows: Sequence[Row]) -> bytes:
    """Write a table.

    Parameters
    ----------
    style : Style
        How.
    rows : sequence of tuple of str
        Oldest first.

    Returns
    -------
    bytes
        The file.
    """
    ordered = list(reversed(rows)) if style.newest_first else list(rows)
    heading = _line(style, style.heading)
    lines = [text.format(rows=len(rows)) for text in style.above]
    if not style.page:
        lines.append(heading)
    for number, row in enumerate(ordered):
        if style.page and number % style.page == 0:
            lines += [f"Page {number // style.page + 1}", heading]
        lines.append(_line(style, row))
    lines += [text.format(rows=len(rows)) for text in style.below]
    text = style.newline.join(lines) + style.newline
    if style.encoding == "utf-16":
        return b"\xff\xfe" + text.encode("utf-16-le")
    return text.encode(style.encoding)


def _line(style: Style, cells: Row) -> str:
    return style.delimiter.join(_cell(style.delimiter, cell) for cell in cells)


def _cell(delimiter: str, text: str) -> str:
    if delimiter in text or '"' in text or "\n" in text:
        return '"' + text.replace('"', '""') + '"'
    return text
