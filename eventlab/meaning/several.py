"""Cells that name several points, areas or people: ``Zones 3, 4 and 7``, ``1-4``, ``users 2/5``."""

import re
from dataclasses import dataclass

import polars as pl

from eventlab.meaning.identity import NOUNS
from eventlab.meaning.part import Part, Roles
from eventlab.meaning.question import Choice, Question

KEY = "several"
EACH, ONE = "each", "one"

TANGLED = "it names several points and several areas or people, and not which belong together"
TOO_MANY = "it names more points than one event can be told of"

_PARTS = (Part.ZONE, Part.AREA, Part.PERSON, Part.ZONE_OR_PERSON)
_AND = r"and|und|et|y|e|en|i|oraz|och|ed"
_TO = r"to|bis|thru|through|à|a|tot|do|till|hasta|fino a"
_PLURAL = frozenset(
    {
        *("zones", "zns", "points", "pts", "inputs", "circuits", "detectors", "sensors", "users"),
        *("areas", "partitions", "groups", "zonen", "bereiche", "utilisateurs", "secteurs"),
        *("zonas", "usuarios", "particiones", "utenti", "partizioni", "gebruikers", "gebieden"),
        *("strefy", "linie", "użytkownicy", "sektioner", "områden"),
    }
)
"""Words that name several and never one, in any of the eight languages."""
_ONE_OF = rf"(?:(?:{NOUNS})s?\.?\s*)?#?(\d{{1,4}}|[A-Za-z])"
_JOINT = re.compile(rf"\s*(?:[,;&+]|\b(?:{_AND})\b)\s*", re.IGNORECASE)
_JOINT_OF_LETTERS = re.compile(r"\s*(?:[,;&+]|\b(?:and|und|et|en|och|oraz)\b)\s*", re.IGNORECASE)
_RANGE = re.compile(
    rf"{_ONE_OF}\s*(-|–|\.\.|/|\b(?:{_TO})\b)\s*(\d{{1,4}}|[A-Za-z])", re.IGNORECASE
)
_SINGLE = re.compile(_ONE_OF, re.IGNORECASE)
_FIRST_WORD = re.compile(r"[^\W\d_]+")
_MOST = 256


@dataclass(frozen=True)
class Several:
    """The rows of a table, one for each thing that a row names.

    Parameters
    ----------
    cells : polars.DataFrame
        The table; a row that names several things stands once for each.
    lines : polars.Series or None
        The row of the table before, for each row; None where none names several.
    problems : polars.DataFrame
        ``line`` and ``problem`` of rows that cannot be taken apart.
    questions : tuple of Question
        What is left open.
    answered : bool
        Whether a person's answer decided.
    """

    cells: pl.DataFrame
    lines: pl.Series | None
    problems: pl.DataFrame
    questions: tuple[Question, ...] = ()
    answered: bool = False


NOTHING = pl.DataFrame(schema={"line": pl.UInt32(), "problem": pl.String()})


def spread(cells: pl.DataFrame, roles: Roles, answer: str | None = None) -> Several:
    """Take rows apart whose cells name several points, areas or people.

    A list with commas or ``and`` always names several. ``1-4`` and ``2/5`` do where the heading or
    a word before them says so, or where other cells of the column list several; they are the name
    of one point where all cells have that form. Where neither tells, a person is asked.

    Parameters
    ----------
    cells : polars.DataFrame
        The table of text cells.
    roles : Roles
        Its columns by part.
    answer : str, optional
        What a person said of cells such as ``1-4``: ``each`` or ``one``.

    Returns
    -------
    Several
        The rows.
    """
    lists: dict[str, dict[str, list[str]]] = {}
    questions: list[Question] = []
    answered = False
    for part in _PARTS:
        name = roles.one(part)
        if name is None:
            continue
        distinct = cells[name].drop_nulls().unique(maintain_order=True)
        if not distinct.str.contains(r"[^\W_]\W*(?:[,;&+/–-]|\.\.|\s\w+\s)\W*[^\W_]").any():
            continue
        told, open_ones = _lists(distinct.to_list(), part, plural=name in roles.plural)
        if open_ones and answer is None:
            questions.append(_question(open_ones[0]))
        elif open_ones:
            answered = True
            if answer == EACH:
                told |= {cell: _members(cell, part, ranged=True) or [cell] for cell in open_ones}
        several = {cell: some for cell, some in told.items() if len(some) > 1}
        if several:
            lists[name] = several
    if not lists or questions:
        return Several(cells, None, NOTHING, tuple(questions[:1]), answered)
    return _apart(cells, lists, answered=answered)


def _apart(
    cells: pl.DataFrame, lists: dict[str, dict[str, list[str]]], *, answered: bool
) -> Several:
    listed = {
        name: pl.col(name).is_in(list(some)).fill_null(value=False) for name, some in lists.items()
    }
    frame = cells.with_row_index("_line").with_columns(
        _lists=pl.sum_horizontal(x.cast(pl.Int32) for x in listed.values()),
        _long=pl.any_horizontal(
            pl.col(name).is_in([c for c, some in told.items() if len(some) > _MOST])
            for name, told in lists.items()
        ).fill_null(value=False),
    )
    bad = (pl.col("_lists") > 1) | pl.col("_long")
    problems = frame.filter(bad).select(
        line="_line",
        problem=pl.when(pl.col("_long")).then(pl.lit(TOO_MANY)).otherwise(pl.lit(TANGLED)),
    )
    for name, told in lists.items():
        every = pl.col(name).replace_strict(
            list(told), list(told.values()), default=None, return_dtype=pl.List(pl.String)
        )
        apart = every.is_not_null() & ~bad
        frame = frame.with_columns(
            pl.when(apart).then(every).otherwise(pl.concat_list(pl.col(name))).alias(name)
        ).explode(name)
    return Several(
        frame.drop("_line", "_lists", "_long"), frame["_line"], problems, answered=answered
    )


def _lists(
    distinct: list[str], part: Part, *, plural: bool
) -> tuple[dict[str, list[str]], list[str]]:
    """Give what the cells of a column list, and the cells of which that is not told."""
    told: dict[str, list[str]] = {}
    ranges: list[str] = []
    for cell in distinct:
        some = _members(cell, part, ranged=False)
        if some is not None and len(some) > 1:
            told[cell] = some
        elif some is None and _members(cell, part, ranged=True) is not None:
            if _said_plural(cell) or re.search(rf"\s(?:{_TO})\s", cell):
                told[cell] = _members(cell, part, ranged=True) or [cell]
            else:
                ranges.append(cell)
    if plural or (told and all(_rises(cell) for cell in ranges)):
        return told | {cell: _members(cell, part, ranged=True) or [cell] for cell in ranges}, []
    # Where most cells have that form, or one goes down, it is how the site numbers its points.
    names = 2 * len(ranges) > len(distinct) or not all(_rises(cell) for cell in ranges)
    return told, [] if names else ranges


def _said_plural(cell: str) -> bool:
    first = _FIRST_WORD.match(cell.strip())
    return first is not None and first.group().casefold() in _PLURAL


def _rises(cell: str) -> bool:
    ends = re.findall(r"\d+", cell)
    return len(ends) == 2 and int(ends[0]) < int(ends[1])


def _members(cell: str, part: Part, *, ranged: bool) -> list[str] | None:
    """Give the things that a cell lists; None where it is no list of numbers."""
    found: list[str] = []
    joint = _JOINT_OF_LETTERS if part is Part.AREA else _JOINT
    pieces = [piece for piece in joint.split(cell.strip()) if piece]
    for piece in pieces:
        single = _SINGLE.fullmatch(piece)
        if single and (single.group(1).isdigit() or part is Part.AREA):
            found.append(single.group(1))
            continue
        ends = _RANGE.fullmatch(piece)
        if ends is None or not (ranged or len(pieces) > 1):
            return None
        first, sign, last = ends.groups()
        if sign == "/":
            found += [first, last]
        elif first.isdigit() and last.isdigit() and int(first) < int(last):
            found += [str(n) for n in range(int(first), int(last) + 1)]
        else:
            return None
    return list(dict.fromkeys(found)) if found else None


def _question(cell: str) -> Question:
    return Question(
        key=KEY,
        text=f"Does a cell such as “{cell.strip()}” name several, or is it the name of one?",
        choices=(
            Choice(EACH, "several: each of them had the event"),
            Choice(ONE, "one: that is how it is numbered"),
        ),
        evidence=("other cells of the column hold single numbers, and no word says which it is",),
    )
