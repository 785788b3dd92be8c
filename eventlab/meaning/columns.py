"""Columns that no heading tells: settled by what rows say and by what is known, else asked about.

A column that is filled where points alarm and empty where people act numbers points; one that is
armed and disarmed in turn is an area; one whose cells are those of the site's own schedule is what
the schedule says. Where two readings are left that change what the rows say, a person is asked.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, permutations, product

import polars as pl

from eventlab.errors import InputError
from eventlab.intake import Sheet
from eventlab.meaning.column_facts import Facts, candidates, facts_of, told_by
from eventlab.meaning.family import combine
from eventlab.meaning.identity import canonical
from eventlab.meaning.known import Known
from eventlab.meaning.part import Part, Roles
from eventlab.meaning.question import Choice, Question
from eventlab.meaning.roles import called, sample_of
from eventlab.meaning.saying import say
from eventlab.schema import EVENT

KEY = "columns"

_WORDS = {
    Part.SITE: ("site", "the site or account"),
    Part.AREA: ("area", "the area"),
    Part.ZONE: ("point", "the point"),
    Part.MEMBER: ("group", "part of the name of the point"),
    Part.ZONE_NAME: ("point-name", "the name of the point"),
    Part.PERSON: ("user", "the user"),
    Part.PERSON_NAME: ("user-name", "the name of the user"),
    Part.ZONE_OR_PERSON: ("point-or-user", "the point, and for armings and the like the user"),
    Part.ASIDE: ("nothing", "nothing that matters here"),
}
_BY_WORD = {word: part for part, (word, _) in _WORDS.items()}
_MOST = 12
"""Readings that are told as choices; others can still be typed."""

_TRIED = 8
"""Readings whose rows are compared; where more are left, a person is asked at once."""

Reading = tuple[tuple[str, Part], ...]
"""Columns with their parts; groups from the widest to the narrowest."""


@dataclass(frozen=True)
class Columns:
    """What became of the columns that no heading tells.

    Parameters
    ----------
    roles : Roles
        The columns, settled as far as they can be.
    questions : tuple of Question
        What is left open.
    settled : str
        The reading that holds, as an answer is typed; empty where nothing was open.
    answered : bool
        Whether a person's answer decided.
    """

    roles: Roles
    questions: tuple[Question, ...] = ()
    settled: str = ""
    answered: bool = False


def find_accounts(sheet: Sheet, roles: Roles, known: Known) -> Roles:
    """Find the account column of a table among its open columns, by the site list.

    Parameters
    ----------
    sheet : Sheet
        The table.
    roles : Roles
        Its columns.
    known : Known
        With the site list.

    Returns
    -------
    Roles
        With the account column where all of its cells are sites of the list.
    """
    answer = _typed(sheet, known.answers.get(KEY))
    named = [name for name, part in answer.items() if part is Part.SITE]
    if not named and (roles.one(Part.SITE) or known.sites.is_empty() or not roles.open):
        return roles
    listed = known.sites["site"].drop_nulls().str.to_lowercase().str.strip_chars_start("0")
    listed = listed.filter(listed.str.len_chars() > _SHORT)
    for name in named or roles.open:
        cells = sheet.cells[name].drop_nulls().unique()
        plain = cells.str.strip_chars().str.to_lowercase().str.strip_chars_start("0")
        if named or (plain.len() and bool(plain.is_in(listed.implode()).all())):
            return _assigned(sheet, roles, ((name, Part.SITE),))
    return roles


_SHORT = 2
"""Characters of a site's name up to which a column of points may hold the same."""


def settle_columns(sheet: Sheet, roles: Roles, known: Known, site: pl.Series) -> Columns:
    """Settle the open columns of a table, or ask.

    Parameters
    ----------
    sheet : Sheet
        The table.
    roles : Roles
        Its columns, the account column among them where there is one.
    known : Known
        Zone schedules and answers.
    site : polars.Series
        Whose rows they are.

    Returns
    -------
    Columns
        The columns with the question that is left, if any.

    Raises
    ------
    InputError
        Where an answer names a column that the table does not have.
    """
    answer = known.answers.get(KEY, "")
    typed = [(n, p) for n, p in _typed(sheet, answer).items() if p is not Part.SITE]
    roles = _assigned(sheet, roles, tuple(typed)) if typed else roles
    if not roles.open or not roles.telling:
        return Columns(roles, settled=answer, answered=bool(typed))
    sample = sample_of(sheet.cells.with_columns(site.alias("_site")))
    told = told_by(sample.drop("_site"), _without_signs(roles))
    taken = _taken(roles, told)
    facts = {name: facts_of(sample[name], told, sample["_site"]) for name in roles.open}
    headed = sheet.header is not None
    parts = {name: candidates(one, taken, headed=headed) for name, one in facts.items()}
    _together(parts, facts)
    zones = known.zones.filter(pl.col("site").is_in(site.drop_nulls().unique().implode()))
    _by_schedule(parts, facts, zones)
    readings = _likeliest(list(_readings(parts)), facts)
    readings = _agreeing(sample, readings, zones)
    readings = _different(sheet, sample.drop("_site"), roles, readings)
    if len(readings) == 1:
        return Columns(
            _assigned(sheet, roles, readings[0]),
            settled=answer or _value(readings[0]),
            answered=bool(typed),
        )
    asked = [name for name in roles.open if len(parts[name]) > 1]
    if not readings:
        # Each could be one thing only, and the same: which of them is it?
        asked = [name for name in roles.open if parts[name]]
        readings = [((name, parts[name][0]),) for name in asked]
    shown = dict.fromkeys(tuple(one for one in reading if one[0] in asked) for reading in readings)
    return Columns(roles, (_question(sheet, sample, asked, list(shown)),), answer)


def _without_signs(roles: Roles) -> Roles:
    """Leave out a column of states whose signs do not say yet what they mean."""
    if roles.switch is None or not roles.switch.bare:
        return roles
    columns = roles.but(Part.STATE)
    return replace(roles, columns=columns, switch=None)


def _taken(roles: Roles, told: pl.DataFrame) -> frozenset[Part]:
    """Name the parts that columns play already, and those that the wording itself tells."""
    taken = set(roles.columns)
    if Part.ZONE_OR_PERSON in taken:
        taken |= {Part.ZONE, Part.PERSON}
    if Part.ZONE in taken or Part.PERSON in taken:
        taken.add(Part.ZONE_OR_PERSON)
    for part, column in ((Part.ZONE, "zone"), (Part.PERSON, "person")):
        numbered = told[column].drop_nulls().str.contains(r"^\d+$")
        if numbered.len() and numbered.all():
            taken |= {part, Part.ZONE_OR_PERSON}
    return frozenset(taken)


def _together(parts: dict[str, list[Part]], facts: dict[str, Facts]) -> None:
    """Open again what two columns claim: one may be the area, or both name the point."""
    points = [name for name, some in parts.items() if Part.ZONE in some and facts[name].numbers]
    if len(points) < 2:
        return
    for name in points:
        more = [Part.ZONE, Part.AREA, Part.MEMBER, Part.ASIDE]
        parts[name] = [*parts[name], *(part for part in more if part not in parts[name])]


def _by_schedule(
    parts: dict[str, list[Part]], facts: dict[str, Facts], zones: pl.DataFrame
) -> None:
    """Leave out what the site's own schedule speaks against, and take what it alone says."""
    if zones.is_empty():
        return
    points = _listed(zones, "zone")
    areas = frozenset(
        zones.select(canonical(pl.col("area").explode())).to_series().drop_nulls().to_list()
    )
    for name, some in parts.items():
        seen = facts[name].alarm_values
        if not facts[name].numbers or not seen:
            continue
        if len(seen & points) < 0.8 * len(seen):
            some[:] = [p for p in some if p not in {Part.ZONE, Part.ZONE_OR_PERSON}] or some
        if areas and not facts[name].values <= areas:
            some[:] = [p for p in some if p is not Part.AREA] or some


def _listed(zones: pl.DataFrame, column: str) -> frozenset[str]:
    return frozenset(zones.select(canonical(pl.col(column))).to_series().drop_nulls().to_list())


def _readings(parts: dict[str, list[Part]]) -> Iterator[Reading]:
    """Give what the columns may be together: no part twice but members, and these with a point."""
    for some in islice(product(*parts.values()), 10_000):
        members = [name for name, part in zip(parts, some, strict=True) if part is Part.MEMBER]
        told = [part for part in some if part not in {Part.ASIDE, Part.MEMBER}]
        twice = len(told) > len(set(told))
        clash = Part.ZONE_OR_PERSON in told and {Part.ZONE, Part.PERSON} & set(told)
        if twice or clash or (members and Part.ZONE not in told):
            continue
        rest = [(n, p) for n, p in zip(parts, some, strict=True) if p is not Part.MEMBER]
        for turn in permutations(members):
            yield (*((name, Part.MEMBER) for name in turn), *rest)


def _likeliest(readings: list[Reading], facts: dict[str, Facts]) -> list[Reading]:
    """Put first what says most, with the point where there are most of them."""

    def rank(reading: Reading) -> tuple[int, int]:
        used = [name for name, part in reading if part is not Part.ASIDE]
        points = [len(facts[name].values) for name, part in reading if part is Part.ZONE]
        return -len(used), -sum(points)

    return sorted(readings, key=rank)


def _agreeing(sample: pl.DataFrame, readings: list[Reading], zones: pl.DataFrame) -> list[Reading]:
    """Keep the readings whose points stand in their listed areas, where any does."""
    pairs = zones.select(
        zone=canonical(pl.col("zone")), area=canonical(pl.col("area").list.first())
    ).drop_nulls()
    if pairs.is_empty():
        return readings
    return [reading for reading in readings if _in_pairs(sample, reading, pairs)] or readings


def _in_pairs(sample: pl.DataFrame, reading: Reading, pairs: pl.DataFrame) -> bool:
    held = {part: name for name, part in reading}
    if Part.AREA not in held or Part.ZONE not in held:
        return False
    own = sample.select(
        zone=canonical(pl.col(held[Part.ZONE])), area=canonical(pl.col(held[Part.AREA]))
    ).drop_nulls()
    own = own.join(pairs.select("zone").unique(), on="zone", how="semi").unique()
    return own.height > 2 and own.join(pairs, on=["zone", "area"], how="anti").is_empty()


_SAID = ("line", "piece", "kind", "phase", "area", "zone", "person", "person_name", "path")


def _different(
    sheet: Sheet, sample: pl.DataFrame, roles: Roles, readings: list[Reading]
) -> list[Reading]:
    """Keep one of those readings that make rows say the same."""
    if not 2 <= len(readings) <= _TRIED:
        return readings
    kept: dict[bytes, Reading] = {}
    for reading in readings:
        tried, columns = combine(sample, _assigned(sheet, roles, reading))
        said = say(tried, columns).select(name for name in _SAID if name in EVENT or name == "line")
        key = said.with_columns(pl.all().cast(pl.String)).hash_rows().to_numpy().tobytes()
        kept.setdefault(key, reading)
    return list(kept.values())


def _assigned(sheet: Sheet, roles: Roles, reading: Reading) -> Roles:
    """Give columns their parts."""
    columns = {part: list(held) for part, held in roles.columns.items()}
    why = [*roles.evidence]
    for name, part in reading:
        for held in columns.values():
            if name in held:
                held.remove(name)
        columns.setdefault(part, []).append(name)
        told = _WORDS.get(part, (str(part), ""))[0]
        why.append(
            f"column {called(sheet, name)} is read as {told.replace('-', ' ')}, by its cells"
        )
    left = tuple(name for name in roles.open if name not in dict(reading))
    columns = {part: held for part, held in columns.items() if held}
    return replace(roles, columns=columns, evidence=tuple(why), open=left)


def _value(reading: Reading) -> str:
    """Write a reading as an answer is typed: ``4:area+5:point``."""
    return "+".join(f"{int(name[1:]) + 1}:{_WORDS[part][0]}" for name, part in reading)


def _typed(sheet: Sheet, answer: str | None) -> dict[str, Part]:
    """Read an answer back."""
    if not answer:
        return {}
    found = {}
    for one in answer.split("+"):
        told = re.fullmatch(r"\s*(\d+)\s*:\s*([a-z-]+)\s*", one)
        name = f"c{int(told.group(1)) - 1}" if told else ""
        part = _BY_WORD.get(told.group(2)) if told else None
        if part is None or name not in sheet.cells.columns:
            raise InputError(
                f"{one!r} is no answer to 'columns'",
                where=sheet.name,
                do="Write the number of each column and what it is, such as 4:area+5:point; it may "
                f"be {', '.join(_BY_WORD)}.",
            )
        found[name] = part
    return found


def _question(
    sheet: Sheet, sample: pl.DataFrame, names: Sequence[str], readings: list[Reading]
) -> Question:
    shown = [f"{called(sheet, name)} ({_examples(sample[name])})" for name in names]
    one = len(names) == 1
    which = shown[0] if one else ", ".join(shown[:-1]) + " and " + shown[-1]
    choices = tuple(
        Choice(
            _value(reading),
            "; ".join(f"column {called(sheet, n)} is {_WORDS[p][1]}" for n, p in reading),
        )
        for reading in readings[:_MOST]
    )
    text = f"What {'is' if one else 'are'} column{'' if one else 's'} {which} of {sheet.name}?"
    if len(readings) > _MOST:
        text += (
            f" Others can be written such as {choices[0].value}; a column may be "
            f"{', '.join(_BY_WORD)}."
        )
    return Question(
        key=KEY,
        text=text,
        choices=choices,
        evidence=("no heading tells it, and the cells allow more than one reading",),
    )


def _examples(cells: pl.Series) -> str:
    some = cells.drop_nulls().str.strip_chars().unique(maintain_order=True)
    told = ", ".join(cell if len(cell) < 20 else cell[:19] + "…" for cell in some.head(3))
    return told + (" …" if some.len() > 3 else "")
