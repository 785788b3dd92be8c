"""What the reading of a column of dates gives, and why a row has no time."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

import polars as pl

from eventlab.meaning.question import Question

NO_DATE = "there is no date"
NOT_A_DATE = "the date cannot be read"
NO_SUCH_DATE = "there is no such date"
NO_YEAR_TOLD = "the date tells no year"
NO_TIME_OF_DAY = "there is a date without a time of day"
NOT_A_TIME = "the time of day cannot be read"
NO_SUCH_TIME_OF_DAY = "there is no such time of day"
OTHER_ORDER = "the date is written otherwise than the rest of the column"
NO_ONE_ORDER = "the dates of the column follow no one order of day, month and year"

SERIALS = ("serial-1900", "serial-1904")
"""How spreadsheets count days: from 1900, and from 1904 (both from memory of their manuals)."""


@dataclass(frozen=True, slots=True)
class DateForm:
    """How a column writes its dates.

    Parameters
    ----------
    key : str
        ``day-first``, ``month-first``, ``year-first``, one of ``SERIALS``, or ``epoch``; also
        what answers the question.
    text : str
        In plain words, such as ``day first, 24-hour clock``.
    """

    key: str
    text: str


@dataclass(frozen=True, slots=True)
class Dated:
    """When the rows of a table say they happened.

    Parameters
    ----------
    wall : polars.Series of Datetime
        The time as the text tells it, without zone [us]; null where it cannot be read, and
        throughout where a question waits.
    offset_s : polars.Series of Int32, or None
        Shift from UTC where the text itself tells it [s]; None where no cell does.
    grain : int
        Seconds that one step of the clock stands for: 1, 60, ...
    form : DateForm or None
        How the dates are written; None where a question waits or no order reads them.
    question : Question or None
        What must be asked, where two readings are left: ``dates``, ``year``, ``first-year``,
        ``date``, ``row-order`` or ``midnight``.
    evidence : tuple of str
        How the reading was reached, in plain sentences.
    problem : polars.Series of String, or None
        Why a row has no time; null where it has one; None where all have.
    settled : mapping of str to str
        What the reading rests on beside the order of fields: the year, the date, and so on.
    decided : frozenset of str
        Questions that evidence or an answer decided between readings that differ.
    answered : frozenset of str
        Questions that an answer decided, and not the file itself.
    reach : tuple of datetime, or None
        The first and the last wall time of all readings that are left where a question waits:
        rows stored of that time may decide.
    """

    wall: pl.Series
    offset_s: pl.Series | None = None
    grain: int = 1
    form: DateForm | None = None
    question: Question | None = None
    evidence: tuple[str, ...] = ()
    problem: pl.Series | None = None
    settled: Mapping[str, str] = field(default_factory=dict)
    decided: frozenset[str] = frozenset()
    answered: frozenset[str] = frozenset()
    reach: tuple[datetime, datetime] | None = None
