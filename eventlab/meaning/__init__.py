"""Rows to events: what, when, where and who each row of a log says."""

from eventlab.meaning.clock import to_wall, tz_version
from eventlab.meaning.known import NOT_UNDERSTOOD, Known, Reading
from eventlab.meaning.question import Choice, Question
from eventlab.meaning.read import as_log, read_log
from eventlab.meaning.roles import Roles
from eventlab.meaning.version import READER

__all__ = [
    "NOT_UNDERSTOOD",
    "READER",
    "Choice",
    "Known",
    "Question",
    "Reading",
    "Roles",
    "as_log",
    "read_log",
    "to_wall",
    "tz_version",
]
