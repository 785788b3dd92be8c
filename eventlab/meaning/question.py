"""What is asked where two readings of a file survive all evidence."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer that a person may give.

    Parameters
    ----------
    value : str
        What is typed: ``--answer KEY=VALUE``.
    text : str
        What it means, in plain words.
    """

    value: str
    text: str


@dataclass(frozen=True, slots=True)
class Question:
    """One thing that a file leaves open and that changes the result.

    Parameters
    ----------
    key : str
        What is asked about: ``dates``, ``time-zone``, ``site``, ...
    text : str
        The question in plain words, with an example from the file.
    choices : tuple of Choice
        The readings that survive; empty where any text may be the answer.
    evidence : tuple of str
        What was looked at and did not decide.
    """

    key: str
    text: str
    choices: tuple[Choice, ...] = ()
    evidence: tuple[str, ...] = ()
