"""Rows to events: what, when, where and who each row of a log says."""

from eventlab.meaning.clock import known_zone, to_wall, tz_version
from eventlab.meaning.date_rows import DATE_ANSWERS
from eventlab.meaning.date_stored import STORED
from eventlab.meaning.known import NOT_UNDERSTOOD, SAID_ZONES, Known, Reading, Wanted
from eventlab.meaning.question import Choice, Question
from eventlab.meaning.read import as_log, read_log
from eventlab.meaning.roles import Roles
from eventlab.meaning.settling import KEYS as COLUMN_KEYS
from eventlab.meaning.version import READER

__all__ = [
    "COLUMN_KEYS",
    "DATE_ANSWERS",
    "NOT_UNDERSTOOD",
    "READER",
    "SAID_ZONES",
    "STORED",
    "Choice",
    "Known",
    "Question",
    "Reading",
    "Roles",
    "Wanted",
    "as_log",
    "known_zone",
    "read_log",
    "to_wall",
    "tz_version",
]
