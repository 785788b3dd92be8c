"""A file in which each row stands twice: a log joined with itself and sorted, or told twice.

Where parts of a file follow one another they are told apart by its time turning back. Once it was
sorted nothing tells: that every row stands there an even number of times is no accident, but only
a person knows whether things happened twice.
"""

from collections.abc import Mapping
from dataclasses import replace

import polars as pl

from eventlab.meaning import Choice, Question
from eventlab.store import DOUBLED, Export

_FEWEST = 20
"""Rows below which an even count of each may be chance: in 20 rows of a log ten chances in a
thousand at most, were every second row a repeat."""

_LOOK = 400
_SAME = ("site", "witness", "wall", "kind", "phase", "area", "zone", "person", "raw")


def is_doubled(events: pl.DataFrame) -> bool:
    """Tell whether each row of a log stands in it an even number of times.

    Parameters
    ----------
    events : polars.DataFrame
        Columns of ``EVENT`` in file order.

    Returns
    -------
    bool
        False also where there are too few rows to tell, and where the file is several parts that
        follow one another: those unite by themselves.
    """
    if events.height < _FEWEST or events.height % 2 or not _in_order(events["wall"]):
        return False
    first = events["wall"].head(_LOOK)
    whole = first.filter(first.ne_missing(first[-1])).rle()
    if whole.len() and (whole.struct.field("len") % 2 != 0).any():
        return False
    return bool((events.group_by(_SAME).len()["len"] % 2 == 0).all())


def _in_order(walls: pl.Series) -> bool:
    told = walls.drop_nulls()
    return told.is_sorted() or told.is_sorted(descending=True)


def asked(events: pl.DataFrame, name: str, answers: Mapping[str, str]) -> tuple[Question, ...]:
    """Return the question about a doubled file; none where it is none, or answered."""
    if DOUBLED in answers or not is_doubled(events):
        return ()
    return (
        Question(
            key=DOUBLED,
            text=f"Every row of {name} stands there twice. Was the log joined with itself?",
            choices=(
                Choice(value="yes", text="yes: each row counts once"),
                Choice(value="no", text="no: everything happened twice"),
            ),
            evidence=(f"{events.height} rows, each an even number of times",),
        ),
    )


def noted(export: Export, events: pl.DataFrame, answers: Mapping[str, str]) -> Export:
    """Return the export with the answer, where the question stood."""
    answer = answers.get(DOUBLED)
    if answer is None or not is_doubled(events):
        return export
    return replace(export, answers={**export.answers, DOUBLED: answer})
