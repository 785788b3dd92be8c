"""Which column of states counts, and what bare signs in it mean: by order, else asked.

``1`` begins and ``0`` ends where the column is one of states. In one headed ``Acknowledged``, or
under no heading, they may mean something else; what the rows tell in their order decides: things
begin before they end, and the same sign does not come twice in a row.
"""

import re
from dataclasses import dataclass, replace

import polars as pl

from eventlab.errors import InputError
from eventlab.intake import Sheet
from eventlab.meaning.part import Part, Roles
from eventlab.meaning.question import Choice, Question
from eventlab.meaning.roles import called
from eventlab.meaning.saying import say
from eventlab.meaning.switches import BEGIN, END, Switch, plain, switch_of

KEY = "state"
NOTHING = "nothing"
_ROWS = 4000
_SURE = 3
"""Things that begin before they end from which on a column without heading is one of states."""


@dataclass(frozen=True)
class State:
    """What became of the columns of states.

    Parameters
    ----------
    roles : Roles
        With one column of states, or none.
    question : Question or None
        What is left open.
    settled : str
        As an answer is typed; empty where no sign was to be told.
    answered : bool
        Whether a person's answer decided.
    """

    roles: Roles
    question: Question | None = None
    settled: str = ""
    answered: bool = False


def settle_state(
    sheet: Sheet,
    roles: Roles,
    cells: pl.DataFrame,
    wall: pl.Series,
    site: pl.Series,
    answer: str | None,
) -> State:
    """Settle which column says that things begin and end, and what its signs mean.

    Parameters
    ----------
    sheet : Sheet
        The table.
    roles : Roles
        Its columns.
    cells : polars.DataFrame
        Its cells, with the columns that ``roles`` name.
    wall : polars.Series
        When each row happened.
    site : polars.Series
        Whose row it is.
    answer : str or None
        What a person said: ``5:begins``, ``5:ends`` or ``nothing``.

    Returns
    -------
    State
        The columns, or a question.

    Raises
    ------
    InputError
        Where the answer does not fit the table.
    """
    names = roles.columns.get(Part.STATE, [])
    if not names:
        return State(roles)
    if answer:
        return _answered(sheet, roles, names, answer)
    switches = {name: switch_of(sheet.cells[name].head(_ROWS)) for name in names}
    told = _told(cells, roles, wall, site)
    open_ones: list[tuple[str, Switch]] = []
    for name in names:
        switch = switches[name] or (roles.switch if name == names[0] else None)
        if switch is None:
            continue
        if not switch.bare:
            if len(names) == 1:
                return State(roles)
            open_ones.append((name, switch))
            continue
        verdict = _verdict(
            told, sheet.cells[name], switch, roles.inverted if len(names) == 1 else None
        )
        if verdict == NOTHING:
            continue
        if verdict:
            return _chosen(sheet, roles, names, name, verdict)
        open_ones.append((name, switch))
    if not open_ones:
        return State(_without(roles, names), settled=NOTHING)
    return State(roles, _question(sheet, open_ones))


def _told(cells: pl.DataFrame, roles: Roles, wall: pl.Series, site: pl.Series) -> pl.DataFrame:
    """Tell what the first rows say by their words alone, in the order of time."""
    names = set(roles.columns.get(Part.STATE, []))
    cells = cells.head(_ROWS)
    said = say(cells, _without(roles, list(names))).unique("line", keep="first").sort("line")
    return said.select("line", "kind", "phase", "zone", "area", "person", "text").with_columns(
        pl.col("kind", "phase").cast(pl.String),
        wall=wall.head(_ROWS),
        site=site.head(_ROWS),
    )


def _verdict(told: pl.DataFrame, cells: pl.Series, switch: Switch, over: bool | None) -> str:
    """Return ``begins``, ``ends`` or ``nothing``; empty where nothing decides."""
    side = pl.DataFrame({"c": cells.head(told.height)}).select(
        plain(pl.col("c")).replace_strict(switch.phase, default=None, return_dtype=pl.String)
    )
    rows = told.with_columns(side.to_series().alias("side")).filter(
        pl.col("phase").is_in([BEGIN, END]) & pl.col("side").is_not_null()
    )
    untold = ~(pl.col("phase") == END).any().over("kind")
    needed = rows.filter(untold)
    if needed.is_empty():
        return NOTHING  # the words themselves tell what ends
    keys = ["site", "text", "zone", "area"]
    steps = (
        needed.sort("wall", maintain_order=True)
        .with_columns(before=pl.col("side").shift(1).over(keys))
        .filter(pl.col("wall").is_not_null())
    )
    firsts = steps.filter(pl.col("before").is_null())
    followed = firsts.join(
        steps.filter(pl.col("before").is_not_null()).select(keys).unique(), on=keys, how="semi",
        nulls_equal=True,
    )  # fmt: skip
    begun = followed.filter(pl.col("side") == BEGIN).height
    ended = followed.height - begun
    later = steps.filter(pl.col("before").is_not_null())
    turns = later.filter(pl.col("side") != pl.col("before")).height
    steady = later.height < _SURE or turns >= 0.75 * later.height
    if over is None:
        sure = begun >= _SURE and not ended and later.height and turns >= 0.9 * later.height
        return "begins" if sure else ""
    usual, other = (ended, begun) if over else (begun, ended)
    if not steady or other > usual:
        return ""
    return "ends" if over else "begins"


def _without(roles: Roles, names: list[str]) -> Roles:
    columns = roles.but(Part.STATE)
    columns[Part.ASIDE] = [*columns.get(Part.ASIDE, []), *names]
    return replace(roles, columns=columns, switch=None, inverted=None)


def _chosen(sheet: Sheet, roles: Roles, names: list[str], name: str, verdict: str) -> State:
    rest = [other for other in names if other != name]
    columns = roles.but(Part.STATE)
    columns[Part.STATE] = [name]
    if rest:
        columns[Part.ASIDE] = [*columns.get(Part.ASIDE, []), *rest]
    switch = switch_of(sheet.cells[name]) or roles.switch
    found = replace(roles, columns=columns, switch=switch, inverted=verdict == "ends")
    settled = f"{int(name[1:]) + 1}:{verdict}"
    bare = switch is not None and switch.bare
    return State(found, settled=settled if bare or rest else "")


def _answered(sheet: Sheet, roles: Roles, names: list[str], answer: str) -> State:
    if answer == NOTHING:
        return State(_without(roles, names), settled=answer, answered=True)
    told = re.fullmatch(r"\s*(\d+)\s*:\s*(begins|ends)\s*", answer)
    name = f"c{int(told.group(1)) - 1}" if told else ""
    if told is None or name not in names:
        raise InputError(
            f"{answer!r} is no answer to 'state'",
            where=sheet.name,
            do="Answer with the column and what its first sign does, such as "
            f"{int(names[0][1:]) + 1}:begins or {int(names[0][1:]) + 1}:ends, or with nothing.",
        )
    return replace(_chosen(sheet, roles, names, name, told.group(2)), settled=answer, answered=True)


def _question(sheet: Sheet, open_ones: list[tuple[str, Switch]]) -> Question:
    choices = []
    for name, switch in open_ones:
        number = int(name[1:]) + 1
        first = next(cell for cell, side in switch.phase.items() if side == BEGIN)
        last = next(cell for cell, side in switch.phase.items() if side == END)
        told = f"in column {called(sheet, name)} “{first}” begins and “{last}” ends"
        choices.append(Choice(f"{number}:begins", told))
        if switch.bare:
            turned = f"in column {called(sheet, name)} “{last}” begins and “{first}” ends"
            choices.append(Choice(f"{number}:ends", turned))
    choices.append(
        Choice(NOTHING, "they say neither: what is told of begins, or words tell the end")
    )
    shown = " and ".join(called(sheet, name) for name, _ in open_ones)
    return Question(
        key=KEY,
        text=f"What do the signs in column {shown} of {sheet.name} say of what happened?",
        choices=tuple(choices),
        evidence=("neither a heading nor the order of the rows decides it",),
    )
