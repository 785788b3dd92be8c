"""The columns of a log settled before its rows are read, or what must be asked first."""

from dataclasses import dataclass, field

import polars as pl

from eventlab.intake import Sheet
from eventlab.meaning import columns, family, several, state_evidence, times
from eventlab.meaning.known import Known
from eventlab.meaning.once import say_once
from eventlab.meaning.part import Roles
from eventlab.meaning.question import Question
from eventlab.meaning.taught import Lessons

KEYS = (times.KEY, columns.KEY, family.KEY, several.KEY, state_evidence.KEY)
"""Questions about columns; their answers hold for exports that look the same."""


@dataclass(frozen=True)
class Settled:
    """The columns as they are read.

    Parameters
    ----------
    roles : Roles
        All columns by part.
    rows : Several
        The table, with rows taken apart that name several things.
    questions : tuple of Question
        What is left open.
    told : dict of str to str
        What the reading rests on, by key, as answers are typed.
    answered : frozenset of str
        Keys that a person's answer decided.
    """

    roles: Roles
    rows: several.Several
    questions: tuple[Question, ...] = ()
    told: dict[str, str] = field(default_factory=dict)
    answered: frozenset[str] = frozenset()

    def say(self, taught: pl.DataFrame, site: pl.Series) -> pl.DataFrame:
        """Tell what each row says, as ``say_once`` does, one line for each event told.

        Parameters
        ----------
        taught : polars.DataFrame
            What people said of wordings that no table knows, columns of ``schema.TAUGHT``.
        site : polars.Series
            Whose rows they are.
        """
        lines = self.rows.lines
        here = site if lines is None else site.gather(lines)
        said = say_once(self.rows.cells, self.roles, Lessons.of(taught, here))
        if lines is None:
            return said
        what = [name for name in said.columns if name not in {"line", "piece"}]
        said = said.with_columns(line=pl.Series(lines).gather(said["line"]))
        # The wording may name the same points again: each event of a row is told once.
        said = said.unique(["line", *what], keep="first", maintain_order=True)
        said = said.with_columns(piece=pl.int_range(1, pl.len() + 1, dtype=pl.Int32).over("line"))
        bad = self.rows.problems
        if bad.is_empty():
            return said
        return (
            said.join(bad.rename({"problem": "_why"}), on="line", how="left", maintain_order="left")
            .with_columns(problem=pl.coalesce("_why", "problem"))
            .drop("_why")
        )


def settle(sheet: Sheet, roles: Roles, known: Known, site: pl.Series, wall: pl.Series) -> Settled:
    """Settle the columns of a log, or ask.

    Parameters
    ----------
    sheet : Sheet
        The table.
    roles : Roles
        Its columns, the account column found.
    known : Known
        Zone schedules and answers.
    site : polars.Series
        Whose rows they are.
    wall : polars.Series
        When each happened, as the log writes it.

    Returns
    -------
    Settled
        The columns, or what must be answered first.

    Raises
    ------
    InputError
        Where an answer does not fit the table.
    """
    answers = known.answers
    found = columns.settle_columns(sheet, roles, known, site)
    roles, questions = found.roles, [*found.questions]
    told = {columns.KEY: found.settled}
    answered = {columns.KEY} if found.answered else set()
    rows = several.Several(sheet.cells.drop("row"), None, several.NOTHING)
    if not questions:
        zones = known.zones.filter(pl.col("site").is_in(site.drop_nulls().unique().implode()))
        said = answers.get(family.KEY)
        roles, question, told[family.KEY] = family.settle_members(rows.cells, roles, zones, said)
        answered |= {family.KEY} if said and told[family.KEY] else set()
        questions += [question] if question else []
        cells, whole = family.combine(rows.cells, roles)
        state = state_evidence.settle_state(
            sheet, whole, cells, wall, site, answers.get(state_evidence.KEY)
        )
        roles, told[state_evidence.KEY] = state.roles, state.settled
        answered |= {state_evidence.KEY} if state.answered else set()
        # Without times there is no order to look at; what is wrong with them is asked first.
        timed = wall.null_count() < wall.len()
        questions += [state.question] if state.question and timed else []
        rows = several.spread(cells, roles, answers.get(several.KEY))
        questions += rows.questions
        if rows.answered:
            told[several.KEY] = answers[several.KEY]
            answered.add(several.KEY)
    return Settled(
        roles, rows, tuple(questions), {k: v for k, v in told.items() if v}, frozenset(answered)
    )
