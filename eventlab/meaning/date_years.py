"""Which year a log is of that tells none.

The year of the last row is decided by 29 February, weekdays named beside dates, rows that tell
their year, the day of printing or the period told around the table, and rows stored already; else
it is asked.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

from eventlab.meaning.date_column import Flags, Longs, clearly
from eventlab.meaning.date_hints import Around
from eventlab.meaning.date_stored import agreeing
from eventlab.meaning.date_turns import FIRST_YEAR, Reading, Yearless


@dataclass(frozen=True, slots=True)
class Years:
    """What is left of the readings, and what took the others away.

    Parameters
    ----------
    readings : tuple of Reading
        One where it is decided.
    evidence : tuple of str
        In plain words.
    alone : Flags
        Rows of sites whose year nothing tells.
    decided, answered : frozenset of str
        Questions that were decided, and those a person decided.
    """

    readings: tuple[Reading, ...]
    evidence: tuple[str, ...]
    alone: Flags
    decided: frozenset[str]
    answered: frozenset[str]


def weigh(
    rows: Yearless,
    us: Longs,
    *,
    around: Around,
    today: date,
    answers: Mapping[str, str] | None = None,
    site: pl.Series | None = None,
    stored: pl.DataFrame | None = None,
) -> Years:
    """Weigh all evidence for the years of a column.

    Parameters
    ----------
    rows : Yearless
        The column.
    us : int64 array
        Time of day of each row [us]; negative where there is none.
    around : Around
        What the lines around the table say.
    today : date
        No event is later than two days after it.
    answers : mapping, optional
        A person's, by question: ``dates``, ``year``, ``first-year``.
    site : polars.Series or None
        The site of each row.
    stored : polars.DataFrame or None
        ``STORED``: moments of the sites that are stored already.

    Returns
    -------
    Years
    """
    left = rows.readings(today)
    total = int(rows.column.rows.sum())
    said: list[str] = []
    latest = (today + timedelta(days=2) - date(1970, 1, 1)).days
    oldest = (date(FIRST_YEAR, 1, 1) - date(1970, 1, 1)).days
    left = [reading for reading in left if not rows.outside(reading, oldest, latest)]
    before, left = left, _kept(left, {r: rows.impossible(r) for r in left}, total)
    _say(before, left, said, "29 February")
    open_at_first = left
    left, answered = _answered(left, answers or {}, said)
    strong = {
        "the weekdays beside them": {r: rows.other_weekday(r) for r in left},
        "rows that tell their year": {r: rows.other_year(r) for r in left},
        **{f"“{stamp.text}”": {r: rows.against(r, stamp) for r in left} for stamp in around.stamps},
    }
    kept = {why: _kept(left, against, total) for why, against in strong.items()}
    agreed = [r for r in left if all(r in some for some in kept.values())]
    if len(left) > 1 and any(
        min(strong[f"“{s.text}”"].values()) > total / 2 for s in around.stamps
    ):
        agreed = []  # a line that no reading fits
    for why, some in kept.items():
        _say(left, some, said, why)
    if agreed:
        left = agreed
        if len(left) > 1:
            known = np.flatnonzero((us >= 0) & ~rows.alone)
            walls = {r: (lambda some, r=r: rows.walls(r, us, some)) for r in left}
            met = agreeing(walls, known, site, stored)
            if met is not None:
                _say(left, [met], said, "rows of the site that are stored already")
                left = [met]
    elif left:
        said.append("the one stands against the other")
    return Years(tuple(left), tuple(said), rows.alone, _decided(open_at_first, left), answered)


def _kept(left: list[Reading], against: Mapping[Reading, int], total: int) -> list[Reading]:
    if len(left) < 2:
        return left
    lost = clearly(against, total)
    return [reading for reading in left if reading not in lost]


def _say(before: list[Reading], left: list[Reading], said: list[str], why: str) -> None:
    if 0 < len(left) < len(before):
        years = sorted({reading.year for reading in left})
        told = " or ".join(map(str, years)) if len(years) <= 3 else f"one of {len(years)} years"
        said.append(f"the last row is of {told}: {why} says so")


def _answered(
    left: list[Reading], answers: Mapping[str, str], said: list[str]
) -> tuple[list[Reading], frozenset[str]]:
    """Take away what a person's answers take away; an answer that cannot be is told."""
    decided = set()
    for key, told in (
        ("dates", lambda r: r.order),
        ("year", lambda r: str(r.year)),
        ("first-year", lambda r: str(r.first)),
    ):
        answer = answers.get(key)
        fits = [reading for reading in left if told(reading) == answer]
        if answer is None or len({told(r) for r in left}) == 1:
            continue
        if fits:
            left = fits
            decided.add(key)
            said.append(f"{key}: {answer}, as answered")
        elif key != "dates":
            said.append(f"the answer {key}={answer} cannot be")
    return left, frozenset(decided)


def _decided(before: list[Reading], left: list[Reading]) -> frozenset[str]:
    found = set()
    for key, told in (("dates", "order"), ("year", "year"), ("first-year", "first")):
        many = len({getattr(reading, told) for reading in before}) > 1
        if many and len({getattr(reading, told) for reading in left}) == 1:
            found.add(key)
    return frozenset(found)
