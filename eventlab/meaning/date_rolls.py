"""Rows with a time of day only, under a date that stands once: where midnight lies between them.

In order of time, a time of day that falls by more than half a day has passed midnight: the rows
after it are of the next day. One that falls by less may be out of order as well as of the next
day; then a person is asked.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from eventlab.meaning.question import Choice, Question

Longs = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

WAYS = ("oldest-first", "newest-first")
"""Answers to ``row-order``."""

PASSES = ("next-day", "same-day")
"""Answers to ``midnight``."""

_HOUR = 3_600_000_000
_DAY = 24 * _HOUR
_CLEAR = 0.75
_FEW = 2


@dataclass(frozen=True, slots=True)
class Rolled:
    """How many midnights lie between the oldest row under each date and every other row.

    Parameters
    ----------
    days : int64 array
        Days after the oldest row of the section.
    question : Question or None
        ``row-order`` or ``midnight``.
    evidence : tuple of str
        In plain words.
    answered : tuple of str
        Questions that a person answered.
    forward : bool
        Whether rows run oldest first.
    """

    days: Longs
    question: Question | None = None
    evidence: tuple[str, ...] = ()
    answered: tuple[str, ...] = ()
    forward: bool = True


def roll(
    us: Longs,
    section: Longs,
    day: Longs,
    *,
    way: str | None,
    midnight: str | None,
    clock: str,
) -> Rolled:
    """Find the midnights between rows that have a time of day only.

    Parameters
    ----------
    us : int64 array
        Times of day in file order [us].
    section : int64 array
        Number of the date that each row stands under, never falling.
    day : int64 array
        That date [days since 1970]; the same for all rows where it is not known.
    way, midnight : str or None
        Answers to ``row-order`` (one of ``WAYS``) and ``midnight`` (one of ``PASSES``).
    clock : str
        The time of day of the last row as it stands, for questions.

    Returns
    -------
    Rolled
    """
    none = np.zeros(us.size, dtype=np.int64)
    if us.size < 2:
        return Rolled(none)
    inside = section[1:] == section[:-1]
    step = np.where(inside, np.diff(us), 0)
    between = np.sign(np.diff(day))
    told: tuple[str, ...] = ()
    if way in WAYS:
        forward = way == WAYS[0]
        told = ("row-order",)
    else:
        found = _direction(step, between)
        if found is None:
            return Rolled(none, question=_ask_way(clock))
        forward = found
    if not forward:
        us, section, day = us[::-1], section[::-1], day[::-1]
        inside, step = inside[::-1], -step[::-1]
        between = -between[::-1]
    fall = inside & (step < -_HOUR)
    passed = fall & (step < -_DAY // 2)
    if midnight in PASSES:
        passed = fall if midnight == PASSES[0] else np.zeros_like(fall)
        told = (*told, "midnight")
    days = np.concatenate(([0], np.cumsum(passed)))
    firsts = np.flatnonzero(np.concatenate(([True], ~inside)))
    days -= days[firsts][np.cumsum(np.concatenate(([False], ~inside)))]
    moment = (day + days) * _DAY + us
    # Under the next date no row may be older than those before it.
    late = ~inside & (between > 0) & (np.diff(moment) < -_HOUR)
    if midnight not in PASSES and ((fall & ~passed).any() or late.any()):
        return Rolled(none, question=_ask_midnight(us, fall | late), forward=forward)
    evidence: tuple[str, ...] = ()
    if passed.any() and midnight not in PASSES:
        evidence = (
            "rows after midnight, under the date of the evening before, are of the next day",
        )
    return Rolled(days if forward else days[::-1], None, evidence, told, forward)


def _direction(step: Longs, between: Longs) -> bool | None:
    """Tell whether rows run oldest first; None where they do not tell and it matters."""
    if (between > 0).any() != (between < 0).any():
        return bool((between > 0).any())
    up, down = int((step > 0).sum()), int((step < 0).sum())
    if not min(up, down):
        # Two or three rows, one of them many hours away: of the other night, or in the other order.
        few = up + down <= _FEW and (np.abs(step) > _DAY // 2).any()
        return None if few else up >= down
    for count, forward in ((up, True), (down, False)):
        if count >= _CLEAR * (up + down):
            return forward
    return None


def _ask_way(clock: str) -> Question:
    return Question(
        "row-order",
        f"Do the rows run oldest first, or newest first? The last one tells {clock} and no date.",
        (
            Choice(WAYS[0], "oldest first: the last row is the latest"),
            Choice(WAYS[1], "newest first: the last row is the earliest"),
        ),
        ("the times of day rise and fall from row to row, or there are very few rows",),
    )


def _ask_midnight(us: Longs, fall: Flags) -> Question:
    at = int(np.argmax(fall)) if fall.any() else 0
    before, after = (_clock(int(one)) for one in us[at : at + 2])
    return Question(
        "midnight",
        f"Under one date the time of day turns back from {before} to {after}. "
        "Is what follows of the next day?",
        (
            Choice(PASSES[0], "yes: each time it turns back another day begins"),
            Choice(PASSES[1], "no: all rows are of the date they stand under, out of order"),
        ),
    )


def _clock(us: int) -> str:
    seconds = us // 1_000_000
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}"
