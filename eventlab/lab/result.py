"""What became of one file."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import polars as pl

from eventlab.errors import OtherAnswers
from eventlab.meaning import NOT_UNDERSTOOD, SAID_ZONES, Question
from eventlab.schema import Role, empty


@dataclass(frozen=True)
class FileResult:
    """What became of one file that was to be taken.

    Parameters
    ----------
    path : str
        The file as it was named.
    role : Role or None
        What it was recognised as.
    site : str or None
        The one site of a log; None where it holds several.
    sha256 : str
        The hash of its bytes.
    lines, rows, other : int
        Lines of text, rows of its table, and lines that are no rows.
    read, repeated, unread : int
        ``rows`` is their sum.
    events, doubtful, seam : int
        Events newly stored, rows of doubtful time, rows in a seam second.
    questions : tuple of Question
        What must be answered first; nothing was taken then.
    not_understood : polars.DataFrame
        ``text``, ``problem``, ``count``.
    evidence : tuple of str
        How it was read.
    notes : tuple of str
        What a person should know of it, such as headings that are not used.
    already : bool
        Whether the same bytes had been taken before.
    said_zones : polars.DataFrame
        Columns of ``SAID_ZONES``: time zones that only a person's word tells.
    error : str or None
        Why the file could not be taken.
    """

    path: str
    role: Role | None = None
    site: str | None = None
    sha256: str = ""
    lines: int = 0
    rows: int = 0
    other: int = 0
    read: int = 0
    repeated: int = 0
    unread: int = 0
    events: int = 0
    doubtful: int = 0
    seam: int = 0
    questions: tuple[Question, ...] = ()
    not_understood: pl.DataFrame = field(default_factory=lambda: empty(NOT_UNDERSTOOD))
    evidence: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    already: bool = False
    said_zones: pl.DataFrame = field(default_factory=lambda: empty(SAID_ZONES))
    error: str | None = None

    def as_dict(self) -> Mapping[str, Any]:
        """Return the public JSON form of the result."""
        shown: dict[str, Any] = {
            "path": self.path,
            "role": None if self.role is None else str(self.role),
            "site": self.site,
            "lines": self.lines,
            "rows": self.rows,
            "read": self.read,
            "events": self.events,
            "repeated": self.repeated,
            "unread": self.unread,
            "doubtful": self.doubtful,
            "seam": self.seam,
            "other": self.other,
            "questions": [
                {
                    "key": question.key,
                    "text": question.text,
                    "choices": [choice.value for choice in question.choices],
                }
                for question in self.questions
            ],
            "not_understood": self.not_understood.to_dicts(),
            "evidence": list(self.evidence),
            "notes": list(self.notes),
        }
        if self.error is not None:
            shown["error"] = self.error
        return shown


def refused(result: FileResult, error: OtherAnswers) -> FileResult:
    """Return the result of bytes that were taken before with other answers."""
    way = f"Correct them with 'eventlab retake --export {result.sha256[:12]} --answer KEY=VALUE'."
    told_so = str(OtherAnswers(error.found, where=error.where, do=way))
    return replace(result, error=told_so, read=0, unread=0, events=0, doubtful=0)
