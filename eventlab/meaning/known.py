"""What the reading of a log is given, and what it gives back."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

import polars as pl

from eventlab.meaning.date_stored import STORED
from eventlab.meaning.question import Question
from eventlab.schema import EVENT, SITE, TAUGHT, ZONE, Schema, empty

SAID_ZONES: Schema = {"site": pl.String(), "time_zone": pl.String()}

NOT_UNDERSTOOD: Schema = {"text": pl.String(), "problem": pl.String(), "count": pl.Int64()}


@dataclass(frozen=True)
class Known:
    """What is known from outside a log, all as values.

    Parameters
    ----------
    sites : polars.DataFrame
        The site list, columns of ``schema.SITE``.
    zones : polars.DataFrame
        The zone schedules, columns of ``schema.ZONE``.
    answers : mapping of str to str
        What a person answered to the questions of this file.
    site : str, optional
        The site that a person named for this file.
    time_zone : str, optional
        The IANA time zone that a person named for this file.
    said_zones : polars.DataFrame
        ``site`` and ``time_zone`` that a person named with earlier exports.
    stored : polars.DataFrame
        ``site`` and ``wall`` of rows that are stored already, where a reading asked for them.
    taught : polars.DataFrame
        What people said of wordings that no table knows, columns of ``schema.TAUGHT``.
    """

    sites: pl.DataFrame = field(default_factory=lambda: empty(SITE))
    zones: pl.DataFrame = field(default_factory=lambda: empty(ZONE))
    answers: Mapping[str, str] = field(default_factory=dict)
    site: str | None = None
    time_zone: str | None = None
    said_zones: pl.DataFrame = field(default_factory=lambda: empty(SAID_ZONES))
    taught: pl.DataFrame = field(default_factory=lambda: empty(TAUGHT))
    stored: pl.DataFrame = field(default_factory=lambda: empty(STORED))


@dataclass(frozen=True, slots=True)
class Wanted:
    """Rows stored already that may decide a question.

    Parameters
    ----------
    sites : tuple of str
        Of which sites.
    since, until : datetime
        Wall times, both ends included.
    """

    sites: tuple[str, ...]
    since: datetime
    until: datetime


@dataclass(frozen=True)
class Reading:
    """What a log says.

    Parameters
    ----------
    events : polars.DataFrame
        Columns of ``schema.EVENT`` in file order, unread rows inside; ``nth`` is still null.
        Empty while a question waits.
    questions : tuple of Question
        What must be answered first.
    read, unread, doubtful : int
        Rows read, rows unread, and read rows whose time cannot be trusted.
    sites : tuple of str
        Whose log it is.
    not_understood : polars.DataFrame
        ``text``, ``problem`` and ``count`` of what was not understood, most frequent first.
    evidence : tuple of str
        How it was read, in plain sentences.
    settled : mapping of str to str
        What the reading rests on, however it was found (``dates``, ``time-zone``, ``site``,
        ``witness``): with the bytes it is the identity of an intake.
    said_zones : polars.DataFrame
        ``site`` and ``time_zone`` where only a person's word tells a site's zone.
    look : str
        What exports of one program have in common; see ``look``.
    layout : str
        The same in words: what divides the cells, and what the columns are read as.
    answered : frozenset of str
        Questions that a person's answer decided.
    decided : frozenset of str
        Questions about dates that evidence or an answer decided between readings that differ.
    heads : int
        Rows of the table that only tell the date of those below them: no rows of the log.
    wanted : Wanted or None
        Rows that may decide a question that waits.
    """

    events: pl.DataFrame = field(default_factory=lambda: empty(EVENT))
    questions: tuple[Question, ...] = ()
    read: int = 0
    unread: int = 0
    doubtful: int = 0
    sites: tuple[str, ...] = ()
    not_understood: pl.DataFrame = field(default_factory=lambda: empty(NOT_UNDERSTOOD))
    evidence: tuple[str, ...] = ()
    settled: Mapping[str, str] = field(default_factory=dict)
    said_zones: pl.DataFrame = field(default_factory=lambda: empty(SAID_ZONES))
    look: str = ""
    layout: str = ""
    answered: frozenset[str] = frozenset()
    decided: frozenset[str] = frozenset()
    heads: int = 0
    wanted: Wanted | None = None
