"""Which column of a table plays which part, by its heading and by the shape of its cells."""

from collections.abc import Sequence

import polars as pl

from eventlab.intake import Sheet
from eventlab.meaning.coded_words import are_coded_words
from eventlab.meaning.codes import is_code_column
from eventlab.meaning.date_cells import (
    could_be_dates,
    could_be_moments,
    could_be_numbers,
    could_be_times,
    tell_date_once,
)
from eventlab.meaning.date_words import are_weekdays
from eventlab.meaning.fit import SAMPLE, understood
from eventlab.meaning.headings import Heading, heading_of
from eventlab.meaning.part import Part, Roles
from eventlab.meaning.qualifiers import is_qualifier_column, says_both
from eventlab.meaning.role_words import settle_telling
from eventlab.meaning.shapes import is_no_name, is_serial
from eventlab.meaning.switches import switch_of

__all__ = ["Part", "Roles", "called", "find_roles", "sample_of"]

_LONGEST = 1000
_FEW = 20
"""Characters of a cell looked at to tell what its column is."""

_WIDEST = 40
"""Columns under headings nobody knows, from the left, whose cells are looked at."""


def sample_of(cells: pl.DataFrame) -> pl.DataFrame:
    """Return the rows that are looked at: from the head, the middle and the tail.

    Parameters
    ----------
    cells : polars.DataFrame
        All rows.

    Returns
    -------
    polars.DataFrame
        The same columns; long cells are cut.
    """
    if cells.height <= SAMPLE:
        return _short(cells)
    third = SAMPLE // 4
    middle = cells.height // 2
    parts = [cells.head(2 * third), cells.slice(middle, third), cells.tail(SAMPLE - 3 * third)]
    sample = pl.concat(parts)
    # A column that is filled in few rows only, such as the point of a quiet site, is seen too.
    parts += [
        cells.filter(pl.col(name).is_not_null()).head(_FEW)
        for name in cells.columns
        if sample[name].null_count() == SAMPLE and cells[name].null_count() < cells.height
    ]
    return _short(pl.concat(parts))


def _short(cells: pl.DataFrame) -> pl.DataFrame:
    return cells.with_columns(pl.col(pl.String).str.head(_LONGEST))


def find_roles(sheet: Sheet) -> Roles:
    """Tell what each column of a log is.

    Parameters
    ----------
    sheet : Sheet
        A table of text cells, with or without headings.

    Returns
    -------
    Roles
        Columns by part; without a time or a telling column it is no log.
    """
    names = [name for name in sheet.cells.columns if name != "row"]
    sample = sample_of(sheet.cells)
    # Where there are no rows the headings alone tell.
    filled = [n for n in names if sample[n].null_count() < sample.height or not sample.height]
    said = _said(sheet, names, filled)
    parts = {name: heading.part for name, heading in said.items()}
    strange = [name for name in filled if name not in parts][_WIDEST:]
    unseen = set(strange)
    filled = [name for name in filled if name not in unseen]
    both = None
    if sample.height:
        _settle_times(parts, filled, sample)
        weekdays = [n for n in filled if n not in parts and are_weekdays(sample[n])]
        parts.update(dict.fromkeys(weekdays, Part.ASIDE))
        _settle_codes(parts, filled, sample)
        code = next((name for name, part in parts.items() if part is Part.CODE), None)
        if code is not None and sheet.header is None:
            _settle_fields(parts, names, filled, sample, code)
        both = None if code is not None else _coded_words(parts, filled, sample)
        if both is not None:
            parts[both] = Part.WORDS
        settle_telling(parts, filled, sample, headed=sheet.header is not None)
        if both is not None:
            parts[both] = Part.WORDS
        _settle_places(parts, filled, sample, said)
    columns: dict[Part, list[str]] = {} if both is None else {Part.CODE: [both]}
    why: list[str] = []
    for name in names:
        if name in parts:
            told = str(parts[name]).replace("_", " ")
            why.append(f"column {called(sheet, name)} is read as {told}")
            columns.setdefault(parts[name], []).append(name)
    levels = {name: heading.level for name, heading in said.items() if heading.level}
    if Part.MEMBER in columns:
        columns[Part.MEMBER].sort(key=lambda name: levels[name])
    state = columns.get(Part.STATE, [])
    over = {said[name].over for name in state if name in said}
    return Roles(
        columns,
        tuple(why),
        _open(parts, filled, sample),
        over.pop() if len(state) == 1 and over else None,
        switch_of(sample[state[0]]) if state else None,
        frozenset(name for name, heading in said.items() if heading.several),
        levels,
    )


def called(sheet: Sheet, name: str) -> str:
    """Write a column as people find it: by its heading, else by its number from 1.

    Parameters
    ----------
    sheet : Sheet
        The table.
    name : str
        A column of its cells.

    Returns
    -------
    str
        ``“Zone”`` or ``4``.
    """
    number = int(name[1:])
    if sheet.header is not None and number < len(sheet.header) and sheet.header[number].strip():
        return f"“{sheet.header[number].strip()}”"
    return str(number + 1)


def _said(sheet: Sheet, names: Sequence[str], filled: Sequence[str]) -> dict[str, Heading]:
    """Give what the headings say of columns that hold anything."""
    if sheet.header is None:
        return {}
    told = {n: heading_of(text) for n, text in zip(names, sheet.header, strict=False)}
    return {n: heading for n, heading in told.items() if heading is not None and n in filled}


def _settle_places(
    parts: dict[str, Part],
    filled: Sequence[str],
    sample: pl.DataFrame,
    said: dict[str, Heading],
) -> None:
    """Let one column number the point, one the area, one the person; another may name it."""
    for part, name_part in ((Part.ZONE, Part.ZONE_NAME), (Part.AREA, None), (Part.PERSON, None)):
        same = [name for name in filled if parts.get(name) is part]
        for name in same[1:]:
            wordy = sample[name].drop_nulls().str.contains(r"\p{L}{3}").mean()
            named = name_part is not None and isinstance(wordy, float) and wordy > 0.5
            if named and name_part is not None and name_part not in parts.values():
                parts[name] = name_part
            else:
                del parts[name]
    members = [name for name in filled if parts.get(name) is Part.MEMBER]
    if members and Part.ZONE not in parts.values():
        # The narrowest is the point itself.
        parts[max(members, key=lambda name: said[name].level)] = Part.ZONE


def _open(parts: dict[str, Part], filled: Sequence[str], sample: pl.DataFrame) -> tuple[str, ...]:
    """Name the columns that no heading tells and whose cells may name something."""
    if not sample.height:
        return ()
    rest = [name for name in filled if name not in parts]
    return tuple(
        name
        for name in rest
        if not is_no_name(sample[name].drop_nulls()) and not is_serial(sample[name])
    )


_TIMELY = frozenset({Part.WHEN, Part.DATE, Part.TIME, Part.RECEIVED})
_DATED = frozenset({Part.WHEN, Part.DATE, Part.RECEIVED})


def _settle_times(parts: dict[str, Part], filled: Sequence[str], sample: pl.DataFrame) -> None:
    """Tell date, time and both apart by their cells, whatever the heading says."""
    for name in filled:
        if parts.get(name) in _TIMELY:
            _settle_time(parts, name, sample[name].drop_nulls())
    if not _DATED & set(parts.values()):
        # No heading that we know has the dates: the cells of the others tell.
        for name in filled:
            if name not in parts:
                _settle_time(parts, name, sample[name].drop_nulls())
    if not {Part.WHEN, Part.RECEIVED} & set(parts.values()):
        return
    # Beside one column that has both, a clock or a date alone adds nothing.
    for name, part in list(parts.items()):
        if part in {Part.DATE, Part.TIME}:
            del parts[name]


def _settle_time(parts: dict[str, Part], name: str, cells: pl.Series) -> None:
    part = parts.get(name)
    if part is None and not cells.str.contains(r"\d").any():
        return
    if part in _TIMELY and tell_date_once(cells):
        parts[name] = part if part is Part.RECEIVED else Part.WHEN
        return
    # A few broken cells do not make a column headed "Time" another one.
    timely = part not in _DATED and _clocks(cells, part) >= (0.5 if part is Part.TIME else 0.9)
    # 15.03.25 may be either: the heading tells, else what the table has already.
    taken = part is None and bool(_DATED & set(parts.values()))
    if timely and (part is Part.TIME or taken):
        if Part.TIME not in parts.values():
            parts[name] = Part.TIME
        return
    enough = 0.5 if part in _DATED else 0.8
    if could_be_moments(cells) >= enough:
        parts[name] = part if part is Part.RECEIVED else Part.WHEN
    elif could_be_dates(cells, bare=part in _TIMELY) >= enough:
        parts[name] = part if part is Part.RECEIVED else Part.DATE
    elif timely or (part in _DATED and _clocks(cells, part) >= 0.9):
        parts[name] = Part.TIME
    elif part in _TIMELY and (numbers := could_be_numbers(cells)) is not None:
        told = {"moments": Part.WHEN, "dates": Part.DATE, "times": Part.TIME}[numbers]
        parts[name] = part if part is Part.RECEIVED else told
    elif part is not None:
        del parts[name]


def _clocks(cells: pl.Series, part: Part | None) -> float:
    return could_be_times(cells, compact=part is Part.TIME)


def _settle_codes(parts: dict[str, Part], filled: Sequence[str], sample: pl.DataFrame) -> None:
    """Find the column of standard codes, and take the part from one that holds none."""
    best: tuple[float, str] | None = None
    alone = Part.QUALIFIER in parts.values() or Part.WORDS not in parts.values()
    for name in filled:
        part = parts.get(name)
        if part in {None, Part.CODE, Part.WORDS, Part.SERIAL}:
            cells = sample[name].drop_nulls()
            sure = part is Part.CODE and alone
            share, _ = is_code_column(cells, headed=sure)
            needed = 0.9 if part in {None, Part.SERIAL} else 0.5
            if part is Part.WORDS and needed <= share < 0.9:
                needed = understood(cells)
            if share >= needed and (best is None or share > best[0]):
                best = (share, name)
    for name, part in list(parts.items()):
        if part is Part.CODE:
            parts[name] = Part.WORDS
    if best is not None:
        parts[best[1]] = Part.CODE
        _settle_qualifier(parts, filled, sample, best[1])
    else:
        for name, part in list(parts.items()):
            if part is Part.QUALIFIER:
                parts[name] = Part.WORDS


def _coded_words(parts: dict[str, Part], filled: Sequence[str], sample: pl.DataFrame) -> str | None:
    """Find the column whose cells hold a code and its wording together, if any."""
    for name in filled:
        if parts.get(name) in {None, Part.WORDS} and are_coded_words(sample[name].drop_nulls()):
            return name
    return None


def _settle_qualifier(
    parts: dict[str, Part], filled: Sequence[str], sample: pl.DataFrame, code: str
) -> None:
    """Read a column of words such as ``Alarm`` and ``Restore`` as the qualifier of bare codes."""
    bare = sample[code].str.contains(r"^\s*\d{3}\s*$").mean()
    if Part.QUALIFIER in parts.values() or not isinstance(bare, float) or bare < 0.5:
        return
    for name in filled:
        cells = sample[name].drop_nulls()
        # Under a heading that nobody knows only letters and words tell, both of them.
        told = parts.get(name) is Part.WORDS or (
            name not in parts and cells.str.contains(r"[A-Za-z]").all() and says_both(cells)
        )
        if told and is_qualifier_column(cells):
            parts[name] = Part.QUALIFIER
            return


def _settle_fields(
    parts: dict[str, Part],
    names: Sequence[str],
    filled: Sequence[str],
    sample: pl.DataFrame,
    code: str,
) -> None:
    """Know the fields of a code, in a table without headings, by their place and their width.

    Qualifier, code, group of two figures, zone or user of three (DC-05).
    """
    place = names.index(code)
    before = names[place - 1] if place else ""
    cells = sample[before].drop_nulls() if before else sample[code].clear()
    bare = sample[code].drop_nulls().str.contains(r"^\s*\d{3}\s*$").all()
    if bare and before not in parts and says_both(cells) and is_qualifier_column(cells):
        parts[before] = Part.QUALIFIER
    behind = names[place + 1 : place + 3]
    # The standard gives the group two figures and the point or user three: wherever they stand.
    wide = [
        next((n for n in filled if n not in parts and _figures(sample[n], width)), None)
        for width in (2, 3)
    ]
    if wide[0] is not None and wide[1] is not None and set(behind) == set(wide):
        parts[wide[0]] = Part.AREA
        parts[wide[1]] = Part.ZONE_OR_PERSON


def _figures(cells: pl.Series, width: int) -> bool:
    """Tell whether all cells are numbers of so many figures, and one begins with a zero."""
    some = cells.drop_nulls().str.strip_chars()
    return (
        some.len() > 0
        and bool(some.str.contains(rf"^\d{{{width}}}$").all())
        and bool(some.str.starts_with("0").any())
    )
