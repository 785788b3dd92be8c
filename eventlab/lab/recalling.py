"""Answers remembered: what other exports that look the same tell about an open question."""

from collections.abc import Mapping

from eventlab.lab.identity import ANSWERED, DECIDED
from eventlab.lab.layouts import KEYS, Layout
from eventlab.meaning import Reading
from eventlab.store import Export


def recall(
    layout: Layout | None, sha256: str, reading: Reading, beside: Mapping[str, frozenset[str]]
) -> tuple[dict[str, str], list[str]]:
    """Answer the open questions of an export by what is known of others that look the same.

    Exports of the same site and of the same intake decide, however theirs was decided; else those
    that a person answered for. Where two of them differ nothing is recalled, and neither is what
    the file speaks against.

    Parameters
    ----------
    layout : Layout or None
        What is known of exports that look the same.
    sha256 : str
        The export itself, which tells nothing about itself.
    reading : Reading
        With questions that wait, or without.
    beside : mapping of str to frozenset of str
        By look, how the dates of other exports of this intake are read.

    Returns
    -------
    tuple of dict and list
        Answer by question key; and a sentence for each remembered answer that cannot be here.
    """
    others = layout.exports if layout is not None else ()
    answers = layout.answers if layout is not None else {}
    site = reading.settled.get("site")
    own = [e for e, sites in others if e.sha256 != sha256 and site and sites == (site,)]
    found, against = {}, []
    for question in reading.questions:
        key = question.key
        if key not in KEYS:
            continue
        near = {e.answers[key] for e in own if e.answers.get(key) and _tells(e, key)}
        if key == "dates" and reading.look:
            near |= beside.get(reading.look, frozenset())
        said = near or ({answers[key]} if key in answers else set())
        if len(said) != 1:
            continue
        (answer,) = said
        if question.choices and answer not in {choice.value for choice in question.choices}:
            against.append(cannot(key, answer))
        else:
            found[key] = answer
    asked = {question.key for question in reading.questions}
    for key in KEYS:
        told_so, is_so = answers.get(key), reading.settled.get(key)
        if not told_so or not is_so or key in asked or key in reading.answered:
            continue
        if told_so != is_so:
            against.append(
                f"{_called(key)} {is_so} by its own evidence, though {told_so} was answered for "
                "exports that look the same"
            )
    return found, against


def _tells(export: Export, key: str) -> bool:
    """Tell whether an export of the site itself tells; dates that read alike both ways do not."""
    dated = key in {"dates", "row-order", "midnight"}
    return not dated or _noted(export, DECIDED, key) or _noted(export, ANSWERED, key)


def _noted(export: Export, note: str, key: str) -> bool:
    return key in export.notes.get(note, "").split()


def told(recalled: Mapping[str, str]) -> tuple[str, ...]:
    """Return a sentence for each answer that was recalled, as evidence."""
    return tuple(
        f"{_called(key)}: {value}, as for other exports that look the same"
        for key, value in recalled.items()
    )


def cannot(key: str, answer: str) -> str:
    """Say that an answer that was remembered is not used."""
    return (
        f"{_called(key)} {answer}, as was answered for exports that look the same, cannot be here: "
        "it is asked again"
    )


def _called(key: str) -> str:
    return key.replace("-", " ")
