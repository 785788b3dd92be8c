"""Answers remembered: what other exports that look the same tell about an open question."""

from collections.abc import Mapping, Sequence

from eventlab.lab.layouts import KEYS, Layout
from eventlab.meaning import Reading
from eventlab.store import Export


def recall(layout: Layout, sha256: str, reading: Reading) -> tuple[dict[str, str], list[str]]:
    """Answer the open questions of an export by what is known of others that look the same.

    Exports of the same site decide, however theirs was decided; else those that a person answered
    for. Where two of them differ nothing is recalled, and neither is what the file speaks against.

    Parameters
    ----------
    layout : Layout
        What is known of exports that look the same.
    sha256 : str
        The export itself, which tells nothing about itself.
    reading : Reading
        With questions that wait, or without.

    Returns
    -------
    tuple of dict and list
        Answer by question key; and a sentence for each remembered answer that cannot be here.
    """
    others = [(export, sites) for export, sites in layout.exports if export.sha256 != sha256]
    site = reading.settled.get("site")
    found, against = {}, []
    for question in reading.questions:
        key = question.key
        if key not in KEYS:
            continue
        own = [export for export, sites in others if site and sites == (site,)]
        answer = _agreed(own, key) or layout.answers.get(key)
        if answer is None:
            continue
        if question.choices and answer not in {choice.value for choice in question.choices}:
            against.append(cannot(key, answer))
        else:
            found[key] = answer
    asked = {question.key for question in reading.questions}
    for key in KEYS:
        said, is_so = layout.answers.get(key), reading.settled.get(key)
        if said and is_so and key not in asked and said != is_so and key not in reading.answered:
            against.append(
                f"{_called(key)} {is_so} by its own evidence, though {said} was answered for "
                "exports that look the same"
            )
    return found, against


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


def _agreed(exports: Sequence[Export], key: str) -> str | None:
    answers = {export.answers[key] for export in exports if export.answers.get(key)}
    return answers.pop() if len(answers) == 1 else None
