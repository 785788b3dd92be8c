"""Originals read again: answered at last, answered otherwise, or taken out."""

from collections.abc import Mapping
from dataclasses import dataclass

from eventlab.context import Context
from eventlab.intake import read_bytes
from eventlab.lab.result import FileResult
from eventlab.lab.taking import take_log
from eventlab.schema import Role
from eventlab.store import Store


@dataclass(frozen=True)
class Retaken:
    """What became of a retake: how many exports, sites and events it touched."""

    exports: int
    sites: int
    events: int


def waiting(store: Store, context: Context) -> list[FileResult]:
    """List the originals that wait, each with its questions.

    Parameters
    ----------
    store : Store
        Where the originals are.
    context : Context
        What is known of sites now: a new site list may have answered a question.

    Returns
    -------
    list of FileResult
        Without questions where an intake was only cut short.
    """
    found = []
    for export in store.waiting():
        sheet = read_bytes(store.original(export.sha256), name=export.name)
        blank = FileResult(path=export.name, role=Role.LOG)
        found.append(
            take_log(None, blank, sheet, b"", context, site=None, time_zone=None, answers={})
        )
    return found


def take_waiting(
    store: Store, context: Context, sha256: str, answers: Mapping[str, str]
) -> FileResult:
    """Take an original that waits, with the answers given; see ``Lab.answer``."""
    data = store.original(sha256)
    name = next((one.name for one in store.waiting() if one.sha256 == sha256), sha256[:12])
    sheet = read_bytes(data, name=name)
    said = dict(answers)
    blank = FileResult(path=name, role=Role.LOG)
    return take_log(
        store,
        blank,
        sheet,
        data,
        context,
        site=said.pop("site", None),
        time_zone=said.pop("time-zone", None),
        answers=said,
    )
