"""What the rows of a log say, worked out once for all rows whose cells say the same.

A log of millions of rows has some hundreds or thousands of different sets of cells beside its
times and sites. What a row says hangs on its own cells and on which cells the columns hold, never
on how often or in which order; so one row of each set speaks for all of them.
"""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.intake.distinct import distinct
from eventlab.meaning.roles import Part, Roles
from eventlab.meaning.saying import say
from eventlab.meaning.taught import Lessons
from eventlab.schema import EVENT, KIND, MODE, MOMENTS, PHASE, Phase

Numbers = npt.NDArray[np.uint32]

_NOT_SAID = (
    Part.WHEN,
    Part.DATE,
    Part.TIME,
    Part.RECEIVED,
    Part.SITE,
    Part.SERIAL,
    Part.HANDLING,
)
"""Parts that tell when and where, or nothing."""

_KEPT = {*EVENT, "line", "problem"}
"""What events need of what rows say."""

_MOST = 1 << 25
"""Numbers that sets may need while they are told apart, above which each row is looked at."""

_WORTH = 4
"""Rows that must share a set on average."""

_THREADS = 2


def say_once(cells: pl.DataFrame, roles: Roles, lessons: Lessons | None = None) -> pl.DataFrame:
    """Tell what each row says, as ``say`` does, in the types of events.

    Parameters
    ----------
    cells : polars.DataFrame
        The table of text cells.
    roles : Roles
        Its columns by part.
    lessons : Lessons, optional
        What people said of wordings that no table knows.

    Returns
    -------
    polars.DataFrame
        As ``say`` gives it, with those of its columns that events need; kind, phase and mode are
        enums, and moments have their phase.
    """
    telling = [found for part, found in roles.columns.items() if part not in _NOT_SAID]
    names = [name for found in telling for name in found]
    columns = [cells[name] for name in names]
    if lessons is not None and lessons.by_site:
        columns.append(lessons.sites)
    sets = _sets(columns)
    if sets is None:
        return _typed(say(cells, roles, lessons))
    number, first = sets
    alike = None if lessons is None else lessons.at(first)
    said = _typed(say(cells.select(pl.col(names).gather(first)), roles, alike))
    if said.height == len(first):
        return _for_all(said.drop("line"), number).with_row_index("line")
    rows = pl.DataFrame({"set": number}).with_row_index("line")
    return rows.join(
        said.rename({"line": "set"}), on="set", how="left", maintain_order="left_right"
    ).drop("set")


def _typed(said: pl.DataFrame) -> pl.DataFrame:
    moment = pl.col("kind").is_in([str(kind) for kind in MOMENTS])
    phase = pl.when(moment).then(pl.lit(str(Phase.MOMENT))).otherwise("phase").alias("phase")
    typed = said.with_columns(phase).cast({"kind": KIND, "phase": PHASE, "mode": MODE})
    return typed.select(name for name in typed.columns if name in _KEPT)


def _for_all(said: pl.DataFrame, number: Numbers) -> pl.DataFrame:
    """Give each row what its set says; a column that says one thing costs nothing."""
    varied = [column.name for column in said if column.n_unique() > 1]
    one = said.select(pl.exclude(varied).first())
    whole = said.select(pl.col(varied).gather(number))
    if whole.is_empty():
        return said.select(pl.all().gather(number))
    return whole.with_columns(
        pl.lit(column[0], column.dtype).alias(column.name) for column in one
    ).select(said.columns)


def _sets(columns: list[pl.Series]) -> tuple[Numbers, Numbers] | None:
    """Give each row the number of its set of cells.

    Returns
    -------
    tuple or None
        The number of each row's set, and the first row of each set; sets in file order. None
        where there are too many sets to be worth it.
    """
    if not columns or not len(columns[0]):
        return None
    number = np.zeros(len(columns[0]), dtype=np.uint32)
    many = 1
    with ThreadPoolExecutor(_THREADS) as beside:
        for texts, code in beside.map(distinct, columns):
            # A cell without text counts as one more text.
            more = len(texts) + 1
            if many * more > _MOST:
                number, first = _close(number, many)
                many = len(first)
            if many * more > _MOST:
                return None
            number *= np.uint32(more)
            number += code.fill_null(len(texts)).to_numpy()
            many *= more
    number, first = _close(number, many)
    return (number, first) if len(first) * _WORTH <= len(number) else None


def _close(number: Numbers, most: int) -> tuple[Numbers, Numbers]:
    """Renumber sets without gaps, in the order in which they first occur."""
    none = np.iinfo(np.uint32).max
    row_of = np.full(most, none, dtype=np.uint32)
    # Of several rows with one number the last one written stays: the first row.
    row_of[number[::-1]] = np.arange(len(number) - 1, -1, -1, dtype=np.uint32)
    first = np.sort(row_of[row_of != none])
    row_of[number[first]] = np.arange(len(first), dtype=np.uint32)
    return row_of[number], first
