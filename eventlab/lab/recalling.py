"""Answers remembered: what other exports that look the same tell about an open question."""

from collections.abc import Mapping

from eventlab.lab.identity import ANSWERED, DECIDED, LOOK
from eventlab.meaning import COLUMN_KEYS, Reading
from eventlab.store import Export, Store

KEYS = ("dates", "row-order", "midnight", "time-zone", *COLUMN_KEYS)
"""Questions whose answer holds for exports that look the same."""


def recall(
    store: Store | None, sha256: str, reading: Reading, beside: Mapping[str, frozenset[str]]
) -> dict[str, str]:
    """Answer the open questions of an export by what is known of others that look the same.

    Exports of the same site and of the same intake decide, however theirs was decided; else those
    that a person answered for. Where two of them differ nothing is recalled.

    Parameters
    ----------
    store : Store or None
        Where the others are.
    sha256 : str
        The export itself, which tells nothing about itself.
    reading : Reading
        With questions that wait.
    beside : mapping of str to frozenset of str
        By look, how the dates of other exports of this intake are read.

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
        for export, sites in (store.takings() if store is not None else ())
        if export.notes.get(LOOK) == reading.look and export.sha256 != sha256
    ]
    site = reading.settled.get("site")
    found = {}
    for key in asked:
        near = _answers(
            [e for e, sites in alike if site and sites == (site,) and _tells(e, key)], key
        )
        if key == "dates":
            near |= beside.get(reading.look, frozenset())
        said = near or _answers([e for e, _ in alike if _noted(e, ANSWERED, key)], key)
        if len(said) == 1:
            (found[key],) = said
    return found


def _tells(export: Export, key: str) -> bool:
    """Tell whether an export of the site itself tells; dates that read alike both ways do not."""
    dated = key in {"dates", "row-order", "midnight"}
    return not dated or _noted(export, DECIDED, key) or _noted(export, ANSWERED, key)


def _noted(export: Export, note: str, key: str) -> bool:
    return key in export.notes.get(note, "").split()


def _answers(exports: list[Export], key: str) -> set[str]:
    return {export.answers[key] for export in exports if export.answers.get(key)}


def told(recalled: Mapping[str, str]) -> tuple[str, ...]:
    """Return a sentence for each answer that was recalled."""
    return tuple(
        f"{key.replace('-', ' ')}: {value}, as for other exports that look the same"
        for key, value in recalled.items()
    )
