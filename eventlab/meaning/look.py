"""What exports of one program have in common: a short text that is the same for all of them."""

import hashlib

import polars as pl

from eventlab.intake import Sheet
from eventlab.meaning.roles import Part, Roles

_SEEN = 200
"""Cells whose form is looked at."""


def look_of(sheet: Sheet, roles: Roles) -> str:
    """Tell what an export looks like: its headings, how its cells are divided, how dates look.

    Parameters
    ----------
    sheet : Sheet
        The table.
    roles : Roles
        Its columns by part.

    Returns
    -------
    str
        Equal for exports that look the same; empty for a table without headings, which says too
        little.
    """
    if sheet.header is None:
        return ""
    column = roles.dated or roles.one(Part.TIME)
    form = _form(sheet.cells[column]) if column is not None else ""
    headings = [heading.strip().casefold() for heading in sheet.header]
    told = "\x1f".join([sheet.delimiter or "", form, *headings])
    return hashlib.sha256(told.encode()).hexdigest()[:16]


_DIVIDERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", None: "nothing"}


def layout_of(sheet: Sheet, roles: Roles) -> str:
    """Tell in words what an export looks like.

    Parameters
    ----------
    sheet : Sheet
        The table.
    roles : Roles
        Its columns by part.

    Returns
    -------
    str
        Such as ``divided by semicolon; “Date” date, “Event” words``; empty without headings.
    """
    if sheet.header is None:
        return ""
    names = [name for name in sheet.cells.columns if name != "row"]
    heading = dict(zip(names, sheet.header, strict=False))
    part_of = {name: part for part, some in roles.columns.items() for name in some}
    told = [
        f"“{heading.get(name, name).strip()}” {part_of[name].replace('_', ' ')}"
        for name in names
        if name in part_of
    ]
    divider = _DIVIDERS.get(sheet.delimiter, sheet.delimiter)
    return f"divided by {divider}; {', '.join(told)}"


def _form(cells: pl.Series) -> str:
    """Return the most frequent pattern: figures as ``9``, letters as ``a``."""
    shapes = (
        cells.drop_nulls()
        .head(_SEEN)
        .str.strip_chars()
        .str.replace_all(r"\d+", "9")
        .str.replace_all(r"\p{L}+", "a")
        .value_counts(name="rows")
        .sort(["rows", cells.name], descending=[True, False])
    )
    return str(shapes[cells.name][0]) if shapes.height else ""
