"""Answers remembered: what other exports that look the same tell about an open question."""

from collections.abc import Mapping

from eventlab.lab.identity import ANSWERED, LOOK
from eventlab.meaning import COLUMN_KEYS, Reading
from eventlab.store import Export, Store

KEYS = ("dates", "time-zone", *COLUMN_KEYS)
"""Questions whose answer holds for exports that look the same."""


def recall(store: Store, sha256: str, reading: Reading) -> dict[str, str]:
    """Answer the open questions of an export by what is known of others that look the same.

    Exports of the same site decide, however theirs was decided; else those that a person answered
    for. Where two of them differ nothing is recalled.

    Parameters
    ----------
    store : Store
        Where the others are.
    sha256 : str
        The export itself, which tells nothing about itself.
    reading : Reading
        With questions that wait.

    Returns
    -------
    dict of str to str
        Answer by question key; empty where nothing is known.
    """
    asked = [question.key for question in reading.questions if question.key in KEYS]
    if not asked or not reading.look:
        return {}
    alike = [
        (export, sites)
        for export, sites in store.takings()
        if export.notes.get(LOOK) == reading.look and export.sha256 != sha256
    ]
    site = reading.settled.get("site")
    found = {}
    for key in asked:
        answer = _agreed([e for e, sites in alike if site and sites == (site,)], key)
        answer = answer or _agreed(
            [e for e, _ in alike if key in e.notes.get(ANSWERED, "").split()], key
        )
        if answer:
            found[key] = answer
    return found


def told(recalled: Mapping[str, str]) -> tuple[str, ...]:
    """Return a sentence for each answer that was recalled."""
    return tuple(
        f"{key.replace('-', ' ')}: {value}, as for other exports that look the same"
        for key, value in recalled.items()
    )


def _agreed(exports: list[Export], key: str) -> str | None:
    answers = {export.answers[key] for export in exports if export.answers.get(key)}
    return answers.pop() if len(answers) == 1 else None
