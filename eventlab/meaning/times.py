"""Which of several columns of times says when it happened, where no heading tells."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise, product

import polars as pl

from eventlab.intake import Sheet
from eventlab.meaning.dates import could_be_times, read_dates
from eventlab.meaning.headings import heading_of
from eventlab.meaning.part import Part, Roles
from eventlab.meaning.question import Choice, Question
from eventlab.meaning.roles import called

KEY = "times"
_ROWS = 2000
_ORDERLY = 0.98
"""Share of steps that go one way where the rows stand in the order of their times."""

Pair = tuple[str, str | None]
"""A column of dates, or of dates with times, and a column of times of day."""


@dataclass(frozen=True)
class Times:
    """What became of the columns of times.

    Parameters
    ----------
    roles : Roles
        With one column that says when, or one of dates and one of times.
    question : Question or None
        What is left open.
    settled : dict of str to str
        The answer that decided, if any.
    """

    roles: Roles
    question: Question | None = None
    settled: Mapping[str, str] = field(default_factory=dict)

    @property
    def answered(self) -> frozenset[str]:
        """The question that a person's answer decided, if any."""
        return frozenset(self.settled)


def settle_times(sheet: Sheet, roles: Roles, answers: Mapping[str, str]) -> Times:
    """Settle which columns say when, where more than one may.

    Rows stand in the order of their times; what is received is never before what happened.

    Parameters
    ----------
    sheet : Sheet
        The table.
    roles : Roles
        Its columns.
    answers : mapping of str to str
        What a person said: ``times`` (``3``, or ``3+4`` for date and time) and ``dates``.

    Returns
    -------
    Times
        The columns, or a question.
    """
    said = answers
    pairs = _pairs(sheet, roles)
    if len(pairs) < 2:
        return Times(roles)
    by_value = {_value(pair): pair for pair in pairs}
    if said.get(KEY) in by_value:
        answer = said[KEY]
        return Times(_chosen(roles, by_value[answer], None), settled={KEY: answer})
    read = {pair: _wall(sheet, pair, said.get("dates")) for pair in pairs}
    told = [pair for pair in pairs if read[pair].null_count() <= 0.2 * read[pair].len()]
    orderly = [pair for pair in told if _in_order(read[pair])] or told
    if not told:
        return Times(roles)  # the dates must be asked about first
    if len(orderly) == 1:
        return Times(_chosen(roles, orderly[0], None))
    orderly.sort(key=lambda pair: read[pair].dt.epoch("s").mean() or 0)
    if all(_never_later(read[a], read[b]) for a, b in pairwise(orderly)):
        later = None if (read[orderly[0]] == read[orderly[1]]).all() else orderly[1]
        return Times(_chosen(roles, orderly[0], later))
    return Times(roles, _question(sheet, orderly))


def _pairs(sheet: Sheet, roles: Roles) -> list[Pair]:
    """Give the columns that may say when, as far as no heading tells which."""
    whens = _untold(sheet, roles, Part.WHEN)
    if roles.one(Part.WHEN):
        return [(name, None) for name in whens]
    dates = _untold(sheet, roles, Part.DATE)
    clocks = roles.columns.get(Part.TIME, [])
    if clocks and not _headed(sheet, clocks[0]):
        used = {name for held in roles.columns.values() for name in held}
        rest = [n for n in sheet.cells.columns if n != "row" and n not in used]
        clocks = [*clocks, *(name for name in rest if _clock(sheet.cells[name].head(_ROWS)))]
    days = dates if len(dates) > 1 else roles.columns.get(Part.DATE, [])[:1]
    if len(days) * len(clocks) < 2:
        return []
    in_turn = sorted(clocks, key=lambda name: int(name[1:]))
    return [(day, clock) for day, clock in product(days, in_turn)]


def _untold(sheet: Sheet, roles: Roles, part: Part) -> list[str]:
    names = roles.columns.get(part, [])
    return names if not any(_headed(sheet, name) for name in names) else names[:1]


def _headed(sheet: Sheet, name: str) -> bool:
    place = int(name[1:])
    if sheet.header is None or place >= len(sheet.header):
        return False
    return heading_of(sheet.header[place]) is not None


def _clock(cells: pl.Series) -> bool:
    some = cells.drop_nulls()
    return some.len() > 0.5 * cells.len() and could_be_times(some, compact=False) >= 0.9


def _wall(sheet: Sheet, pair: Pair, answer: str | None) -> pl.Series:
    date, clock = pair
    few = sheet.cells.head(_ROWS)
    return read_dates(few[date], few[clock] if clock else None, answer=answer).wall


def _in_order(wall: pl.Series) -> bool:
    steps = wall.drop_nulls().diff().drop_nulls().dt.total_seconds()
    up, down = (steps >= 0).mean(), (steps <= 0).mean()
    best = max(x for x in (up, down, 0.0) if isinstance(x, float))
    return best >= _ORDERLY or steps.is_empty()


def _never_later(first: pl.Series, second: pl.Series) -> bool:
    return bool((first <= second).fill_null(value=True).all())


def _chosen(roles: Roles, pair: Pair, later: Pair | None) -> Roles:
    date, clock = pair
    columns = {part: list(held) for part, held in roles.columns.items()}
    gone = {*columns.get(Part.WHEN, []), *columns.get(Part.DATE, []), *columns.get(Part.TIME, [])}
    for part in (Part.WHEN, Part.DATE, Part.TIME):
        columns.pop(part, None)
    if clock is None:
        columns[Part.WHEN] = [date]
    else:
        columns[Part.DATE], columns[Part.TIME] = [date], [clock]
    if later is not None and later[1] is None and Part.RECEIVED not in columns:
        columns[Part.RECEIVED] = [later[0]]
    used = {name for held in columns.values() for name in held}
    columns[Part.ASIDE] = [*columns.get(Part.ASIDE, []), *sorted(gone - used)]
    return replace(roles, columns={part: held for part, held in columns.items() if held})


def _value(pair: Pair) -> str:
    return "+".join(str(int(name[1:]) + 1) for name in pair if name is not None)


def _question(sheet: Sheet, pairs: list[Pair]) -> Question:
    choices = []
    for pair in pairs:
        names = [name for name in pair if name is not None]
        shown = " and ".join(called(sheet, name) for name in names)
        cells = [sheet.cells[name].drop_nulls() for name in names]
        example = " ".join(str(some[0]).strip() for some in cells if some.len())
        choices.append(Choice(_value(pair), f"column {shown}, as in {example}"))
    return Question(
        key=KEY,
        text=f"Which column of {sheet.name} says when it happened?",
        choices=tuple(choices),
        evidence=("no heading tells it, and the order of the rows does not decide",),
    )
