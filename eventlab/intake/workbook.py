"""Spreadsheet files: the cells of one sheet as text, rows under their own numbers."""

import io
import math
import re
import warnings
import zipfile
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta
from decimal import Decimal
from functools import cache
from typing import Any

from eventlab.errors import UnreadableFile
from eventlab.intake.grid import Grid, as_grid
from eventlab.intake.lines import Lines

MOST = 50_000_000
"""Cells of a table, empty ones included."""

_DAY_US = 86_400_000_000
_SECOND_US = 1_000_000
_LAST_SERIAL = 2_958_466  # the day after 31 December 9999
_ROUND = "{:.15g}"  # the digits that spreadsheets promise to keep
_PLAIN = re.compile(r'(?:"([^"]*)")?(?:#,##)?(0+)(?:\.(0+))?(?:"([^"]*)")?')
_CLOCK = re.compile(r"[hs]|am/pm", re.IGNORECASE)
_DATE = re.compile(r"[yd]|mmm", re.IGNORECASE)
_SECONDS = re.compile(r"s", re.IGNORECASE)
_LITERAL = re.compile(r'"[^"]*"|\\.|\[(?![hms]+\])[^\]]*\]', re.IGNORECASE)
_ELAPSED = re.compile(r"\[[hms]+\]", re.IGNORECASE)
_BREAKS = re.compile(r"[\r\n]+")
_AGAIN = "Open it in a spreadsheet program and save it again, or save it as CSV"


def used_sheets(data: bytes, *, name: str) -> list[str]:
    """List the sheets of a workbook in which anything stands, in their order."""
    found = []
    try:
        book = _book(data)
        for sheet in book.worksheets:
            sheet.reset_dimensions()
            if any(cell not in {None, ""} for row in sheet.values for cell in row):
                found.append(sheet.title)
    except Exception as error:
        raise _damaged(name) from error
    if not found:
        raise UnreadableFile("there is nothing in it but blank sheets", where=name)
    return found


def read_workbook(data: bytes, sheet: str, *, name: str) -> tuple[Grid, Lines]:
    """Read one sheet of a workbook.

    Parameters
    ----------
    data : bytes
        The workbook.
    sheet : str
        Its sheet; empty for the one that is used.
    name : str
        What to call it.

    Returns
    -------
    tuple of Grid and Lines
        The cells, a line for each row of the sheet, and the rows as they are shown. Dates are
        written ``YYYY-MM-DD``, times ``HH:MM:SS`` with what fraction they hold; numbers as
        displayed; of formulas the values that were stored with them.

    Raises
    ------
    UnreadableFile
        Where it is damaged, has several sheets in use and none is named, or is too large.
    """
    used = used_sheets(data, name=name)
    if not sheet and len(used) > 1:
        told = ", ".join(f"“{title}”" for title in used)
        raise UnreadableFile(f"it has several sheets: {told}", where=name, do="Take each by itself")
    title = sheet or used[0]
    try:
        book = _book(data)
        rows = _values(book, title)
        lost = _without_value(data, title, rows)
        epoch = book.epoch
    except Exception as error:
        raise _damaged(name) from error
    columns = sorted({at for row in rows for at, (value, _) in enumerate(row) if value != ""})
    if len(columns) * len(rows) > MOST:
        raise UnreadableFile("the cells are spread out too far", where=name, do="Save it as CSV")
    table = [[("", "")] * len(columns) if not row else _some(row, columns) for row in rows]
    texts = [_column([row[at] for row in table], epoch) for at in range(len(columns))]
    lines = [list(line) if any(line) else [] for line in zip(*texts, strict=True)]
    said = f"Sheet “{title}” of a workbook, its cells as they are displayed, dates in full."
    others = [f"“{other}”" for other in used if other != title]
    if others:
        said += f" Its other sheets: {', '.join(others)}."
    grid = as_grid(lines, len(columns), evidence=said, name=name)
    shown = "".join("\t".join(_BREAKS.sub(" ", c) for c in line) + "\n" for line in lines)
    return replace(grid, doubts=lost), Lines(shown.encode(errors="replace"))


def _damaged(name: str) -> UnreadableFile:
    return UnreadableFile("the workbook is damaged or not like others", where=name, do=_AGAIN)


def _book(data: bytes, *, values: bool = True) -> Any:
    """Open a workbook with its numbers as they are stored: the library rounds dates."""
    import openpyxl

    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for info in archive.infolist():
            with archive.open(info) as file:
                if info.filename.endswith((".xml", ".rels")) and b"<!DOCTYPE" in file.read(2048):
                    raise ValueError(info.filename)
    # It warns of styles and rules of a sheet that it leaves out: none of them is a row.
    warnings.filterwarnings("ignore", module="openpyxl")
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=values)
    book._date_formats = set()  # noqa: SLF001  # held by tests/contracts
    book._timedelta_formats = set()  # noqa: SLF001  # as above
    return book


def _values(book: Any, title: str) -> list[list[tuple[Any, str]]]:
    """Give value and number format of each cell, up to the last row in which anything stands."""
    sheet = book[title]
    sheet.reset_dimensions()
    rows: list[list[tuple[Any, str]]] = []
    last = 0
    for row in sheet.rows:
        cells = [
            ("", "") if cell.value is None else (cell.value, cell.number_format) for cell in row
        ]
        rows.append(cells if any(value != "" for value, _ in cells) else [])
        last = len(rows) if rows[-1] else last
    return rows[:last]


def _some(row: Sequence[tuple[Any, str]], columns: Sequence[int]) -> list[tuple[Any, str]]:
    return [row[at] if at < len(row) else ("", "") for at in columns]


def _without_value(data: bytes, title: str, rows: Sequence[Sequence[Any]]) -> Mapping[int, str]:
    """Find rows with a formula that no value was stored for."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        sheets = [n for n in archive.namelist() if n.startswith("xl/worksheets/")]
        if not any(b"<f" in archive.read(n) for n in sheets if n.endswith(".xml")):
            return {}
    sheet = _book(data, values=False)[title]
    sheet.reset_dimensions()
    lost = {}
    for number, row in enumerate(sheet.rows, 1):
        for at, cell in enumerate(row):
            if cell.data_type != "f":
                continue
            known = rows[number - 1] if number <= len(rows) else []
            if at >= len(known) or known[at][0] == "":
                lost[number] = "a formula in it was saved without its value"
    return lost


def _column(cells: Sequence[tuple[Any, str]], epoch: datetime) -> list[str]:
    """Write the cells of one column; how fine its times are told is the same for all of them."""
    timed = [(value, form) for value, form in cells if _is_time(value, form)]
    us = _microseconds({value for value, _ in timed})
    minutes = all(
        (us[value] or 0) % (60 * _SECOND_US) == 0 and not _SECONDS.search(_bare(form))
        for value, form in timed
    )
    return [
        _stamp(value, form, us[value], epoch, minutes=minutes)
        if _is_time(value, form)
        else _text(value, form)
        for value, form in cells
    ]


def _is_time(value: Any, form: str) -> bool:
    return type(value) in {int, float} and _tells_time(form)


@cache
def _tells_time(form: str) -> bool:
    from openpyxl.styles.numbers import is_date_format, is_timedelta_format

    return bool(is_date_format(form) or is_timedelta_format(form))


def _microseconds(values: Collection[float]) -> dict[float, int | None]:
    """Give the serial numbers of a column in microseconds; None for what is no date.

    A serial holds a moment to about a microsecond, and one that was cut to 15 digits, as many
    programs do, to five. Where all of a column stand so close to whole seconds, or
    thousandths, these are what they hold.
    """
    known = {value: None for value in values if not 0 <= value < _LAST_SERIAL}
    exact = {value: Decimal(value) * _DAY_US for value in values if value not in known}
    digits = 15 if all(float(_ROUND.format(value)) == value for value in exact) else 16
    unit = 1
    for tried in (_SECOND_US, 1000):
        if all(
            abs(us - round(us / tried) * tried) <= _blur(value, digits)
            for value, us in exact.items()
        ):
            unit = tried
            break
    return {**known, **{value: round(us / unit) * unit for value, us in exact.items()}}


def _blur(value: float, digits: int) -> Decimal:
    """Half of the last digit of a serial, and half a step of its double twice over [µs].

    The moment became a double, the double digits, and the digits a double again.
    """
    written = Decimal(10) ** (len(str(int(value))) - digits) / 2
    return (written + Decimal(math.ulp(value))) * _DAY_US


@cache
def _bare(form: str) -> str:
    return _LITERAL.sub("", form.split(";", maxsplit=1)[0])


def _stamp(value: float, form: str, us: int | None, epoch: datetime, *, minutes: bool) -> str:
    bare = _bare(form)
    if us is None:
        return _text(value, "")
    if _ELAPSED.search(bare):
        hours, rest = divmod(us, 3600 * _SECOND_US)
        return f"{hours}:{_clock(rest)[3:]}"
    clock = bool(_CLOCK.search(bare))
    days, within = divmod(us, _DAY_US)
    if clock and not days and not _DATE.search(bare):
        return _clock(within, minutes=minutes)
    if days < 60 and epoch.year == 1899:
        days += 1  # the spreadsheet's own 29 February 1900
    day = f"{epoch + timedelta(days=days):%Y-%m-%d}"
    return f"{day} {_clock(within, minutes=minutes)}" if clock or within else day


def _clock(us: int, *, minutes: bool = False) -> str:
    seconds, fraction = divmod(us, _SECOND_US)
    moment = time(seconds // 3600, seconds // 60 % 60, seconds % 60, fraction)
    return moment.isoformat("minutes" if minutes else "auto")


def _text(value: Any, form: str) -> str:
    """Write a value that is no time as it is displayed."""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, datetime):
        return value.isoformat(" ")
    if isinstance(value, time):
        return value.isoformat()
    if not isinstance(value, (int, float)):
        return str(value)
    told = _PLAIN.fullmatch(form)
    if told and value >= 0:
        before, whole, fraction, after = told.groups(default="")
        width = len(whole) + (len(fraction) + 1 if fraction else 0)
        return f"{before}{Decimal(str(value)):0{width}.{len(fraction)}f}{after}"
    short = Decimal(_ROUND.format(value))
    return f"{short:f}" if short % 1 else f"{short:.0f}"
