"""Rows to events: what, when, where and who each row of a log says."""

from eventlab.meaning.clock import known_zone, to_wall, tz_version
from eventlab.meaning.date_rows import DATE_ANSWERS
from eventlab.meaning.date_stored import STORED
from eventlab.meaning.known import NOT_UNDERSTOOD, SAID_ZONES, Known, Reading, Wanted
from eventlab.meaning.life_words import speaks_of_life
from eventlab.meaning.question import Choice, Question
from eventlab.meaning.read import as_log, read_log
from eventlab.meaning.roles import Roles
from eventlab.meaning.settling import KEYS as COLUMN_KEYS
from eventlab.meaning.taught import BESIDE_LIFE, NUMBERS, counted_by, forms, in_force, matched
from eventlab.meaning.told import GENERIC
from eventlab.meaning.version import READER
from eventlab.meaning.wording import understand_words

__all__ = [
    "BESIDE_LIFE",
    "COLUMN_KEYS",
    "DATE_ANSWERS",
    "GENERIC",
    "NOT_UNDERSTOOD",
    "NUMBERS",
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
    "counted_by",
    "forms",
    "in_force",
    "known_zone",
    "matched",
    "read_log",
    "speaks_of_life",
    "to_wall",
    "tz_version",
    "understand_words",
]
