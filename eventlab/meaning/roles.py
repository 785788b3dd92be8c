"""Which column of a table plays which part, by its heading and by the shape of its cells."""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from importlib import resources

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
from eventlab.meaning.fit import SAMPLE, changed, joined, named, understood
from eventlab.meaning.qualifiers import is_qualifier_column, says_both

_LONGEST = 1000
"""Characters of a cell looked at to tell what its column is."""

_WIDEST = 40
"""Columns under headings nobody knows, from the left, whose cells are looked at."""


class Part(StrEnum):
    """The part that a column plays."""

    WHEN = "when"
    DATE = "date"
    TIME = "time"
    RECEIVED = "received"
    SITE = "site"
    CODE = "code"
    QUALIFIER = "qualifier"
    AREA = "area"
    ZONE = "zone"
    ZONE_NAME = "zone_name"
    PERSON = "person"
    PERSON_NAME = "person_name"
    ZONE_OR_PERSON = "zone_or_person"
    WORDS = "words"
    PATH = "path"
    HANDLING = "handling"
    SERIAL = "serial"


@dataclass(frozen=True)
class Roles:
    """The columns of a log by part.

    Parameters
    ----------
    columns : dict of Part to list of str
        Column names of ``Sheet.cells``, in the order of the file.
    evidence : tuple of str
        How the parts were found.
    """

    columns: dict[Part, list[str]] = field(default_factory=dict)
    evidence: tuple[str, ...] = ()

    def one(self, part: Part) -> str | None:
        """Return the first column that plays a part, if any."""
        found = self.columns.get(part)
        return found[0] if found else None

    @property
    def timed(self) -> bool:
        """Whether each row can tell when it happened; the date may stand elsewhere."""
        return bool(self.dated or self.one(Part.TIME))

    @property
    def dated(self) -> str | None:
        """The column that tells the date of each row, if any."""
        return self.one(Part.WHEN) or self.one(Part.DATE) or self.one(Part.RECEIVED)

    @property
    def telling(self) -> bool:
        """Whether each row can tell what happened."""
        return bool(self.one(Part.CODE) or self.one(Part.WORDS))


@cache
def _headings() -> dict[str, Part]:
    with (resources.files("eventlab.meaning") / "data" / "headings.csv").open() as lines:
        return {_plain(row["heading"]): Part(row["role"]) for row in csv.DictReader(lines)}


def _plain(heading: str) -> str:
    return re.sub(r"[\W_]+", " ", heading.casefold()).strip()


def _by_heading(heading: str) -> Part | None:
    plain = _plain(heading)
    # A unit, a zone or a bracket behind the name changes nothing: "Time (UTC)", "User #".
    bare = _plain(re.sub(r"\(.*?\)|#", " ", heading))
    return _headings().get(plain) or _headings().get(bare)


def _sample(cells: pl.DataFrame) -> pl.DataFrame:
    if cells.height <= SAMPLE:
        return _short(cells)
    third = SAMPLE // 4
    middle = cells.height // 2
    return _short(
        pl.concat(
            [cells.head(2 * third), cells.slice(middle, third), cells.tail(SAMPLE - 3 * third)]
        )
    )


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
    sample = _sample(sheet.cells)
    # Where there are no rows the headings alone tell.
    filled = [n for n in names if sample[n].null_count() < sample.height or not sample.height]
    parts: dict[str, Part] = {}
    columns: dict[Part, list[str]] = {}
    why: list[str] = []
    if sheet.header is not None:
        for name, heading in zip(names, sheet.header, strict=False):
            part = _by_heading(heading)
            if part is not None and name in filled:
                parts[name] = part
    strange = [name for name in filled if name not in parts][_WIDEST:]
    if strange:
        unseen = set(strange)
        filled = [name for name in filled if name not in unseen]
    if sample.height:
        _settle_times(parts, filled, sample)
        _settle_codes(parts, filled, sample)
        code = next((name for name, part in parts.items() if part is Part.CODE), None)
        if code is not None and sheet.header is None:
            _settle_fields(parts, names, sample, code)
        both = None if code is not None else _coded_words(parts, filled, sample)
        if both is not None:
            parts[both] = Part.WORDS
        _settle_words(parts, filled, sample, headed=sheet.header is not None)
        if both is not None:
            parts[both] = Part.WORDS
            columns[Part.CODE] = [both]
    for number, name in enumerate(names):
        if name in parts:
            called = str(number + 1)
            if sheet.header is not None and number < len(sheet.header):
                called = f"“{sheet.header[number].strip()}”"
            why.append(f"column {called} is read as {parts[name].replace('_', ' ')}")
            columns.setdefault(parts[name], []).append(name)
    return Roles(columns, tuple(why))


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
    parts: dict[str, Part], names: Sequence[str], sample: pl.DataFrame, code: str
) -> None:
    """Give the columns around a code, in a table without headings, the order of the standard.

    Qualifier, code, group, zone or user (DC-05); code, area, point or user (DC-03).
    """
    place = names.index(code)
    before = names[place - 1] if place else ""
    cells = sample[before].drop_nulls() if before else sample[code].clear()
    bare = sample[code].drop_nulls().str.contains(r"^\s*\d{3}\s*$").all()
    if bare and before not in parts and says_both(cells) and is_qualifier_column(cells):
        parts[before] = Part.QUALIFIER
    behind = names[place + 1 : place + 3]
    numbers = [sample[name].drop_nulls().str.contains(r"^\s*\d{1,4}\s*$") for name in behind]
    if len(behind) == 2 and all(
        n.len() and n.all() and x not in parts for n, x in zip(numbers, behind, strict=True)
    ):
        parts[behind[0]] = Part.AREA
        parts[behind[1]] = Part.ZONE_OR_PERSON


def _settle_words(
    parts: dict[str, Part], filled: Sequence[str], sample: pl.DataFrame, *, headed: bool
) -> None:
    """Find the columns whose words say what happened, and in a bare table who said it."""
    for name in filled:
        if name not in parts and not headed:
            _settle_bare(parts, name, sample[name].drop_nulls())
    words = [name for name in filled if parts.get(name) is Part.WORDS]
    if len(words) > 1:
        _settle_several(parts, words, sample)
    elif words:
        _settle_partner(parts, words[0], filled, sample)
    if any(part is Part.WORDS or part is Part.CODE for part in parts.values()):
        return
    # No heading that we know: the column whose wordings are best understood tells.
    best = max(
        ((understood(sample[name].drop_nulls()), name) for name in filled if name not in parts),
        default=(0.0, ""),
    )
    if best[0] >= 0.3:
        parts[best[1]] = Part.WORDS
        _settle_partner(parts, best[1], filled, sample)


def _settle_several(parts: dict[str, Part], words: list[str], sample: pl.DataFrame) -> None:
    """Keep the columns that together say what happened; another one may name the point."""
    alone = {name: understood(sample[name].drop_nulls()) for name in words}
    kept = [name for name in words if alone[name] >= 0.2]
    reached = understood(joined(sample, kept).drop_nulls()) if kept else 0.0
    for name in words:
        if name not in kept:
            more = [other for other in words if other in kept or other == name]
            share = understood(joined(sample, more).drop_nulls())
            more_named = named(joined(sample, more)) > named(joined(sample, kept)) + 0.2
            if (
                share > reached + 0.1
                or (share >= reached and changed(sample, kept, more) > 0.1)
                or (share >= reached - 0.05 and more_named)
            ):
                kept, reached = more, share
    for name in words:
        if kept and name not in kept:
            taken = Part.ZONE_NAME in parts.values()
            parts[name] = Part.HANDLING if taken else Part.ZONE_NAME


def _settle_partner(
    parts: dict[str, Part], states: str, filled: Sequence[str], sample: pl.DataFrame
) -> None:
    """Find the column that names the things whose states another one tells.

    ``Failed`` alone is a fault of the system, beside ``Mains supply`` it is another thing.
    """
    cells = sample[states].drop_nulls().unique()
    if cells.len() == 0 or not cells.str.contains(_STATE).all():
        return
    reached = understood(cells)
    for name in filled:
        if parts.get(name) in {None, Part.SERIAL, Part.ZONE, Part.ZONE_NAME}:
            things = sample[name].drop_nulls()
            if parts.get(name) is Part.ZONE and things.str.contains(r"^\s*\d").any():
                continue  # numbered points, not things of the system
            worded = things.str.contains(r"\p{L}{2}").mean()
            both = [other for other in sample.columns if other in {states, name}]
            if (
                isinstance(worded, float)
                and worded > 0.5
                and understood(joined(sample, both).drop_nulls()) >= reached
                and changed(sample, [states], both) > 0.1
            ):
                parts[name] = Part.WORDS
                return


_STATE = (
    r"(?i)^\s*(?:in |to |is |not )?(?:alarms?|restor\w+|resets?|fail\w*|fault\w*|troubles?|lost|"
    r"loss|low|high|ok|okay|good|bad|normal|abnormal|open(?:ed)?|closed?|arm(?:ed)?|disarm(?:ed)?|set|unset|"
    r"tamper\w*|on|off|begin|began|start(?:ed)?|ends?|ended|stop(?:ped)?|cleared|active|inactive|"
    r"activated|deactivated|present|absent|missing|bypass\w*|unbypass\w*|isolated|up|down|dead)\s*$"
)


def _settle_bare(parts: dict[str, Part], name: str, cells: pl.Series) -> None:
    """Give a column without heading the part that its cells allow."""
    if understood(cells) >= 0.5:
        parts[name] = Part.WORDS
        return
    plain = cells.str.strip_chars()
    counted = plain.str.contains(r"^\d+$").mean()
    if isinstance(counted, float) and counted > 0.95 and plain.n_unique() == plain.len():
        parts[name] = Part.SERIAL
    elif Part.ZONE not in parts.values() and plain.n_unique() < 0.5 * plain.len():
        parts[name] = Part.ZONE
