"""What is not understood and what was taught, as the page of logs asks for it."""

import hashlib
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from eventlab.errors import NotFound, UsageError
from eventlab.lab import Learned, Lesson

if TYPE_CHECKING:
    from dashboards.remember import Remembered

SHOWN = 20
"""Wordings that the page shows."""


@dataclass(frozen=True)
class Wording:
    """A wording that is not understood.

    Parameters
    ----------
    key : str
        Stands for it in the page.
    text, problem : str
        An example, and why it is not understood.
    rows : int
        How many rows have it, whatever their numbers.
    sites : tuple of str
        Where.
    life, numbered : bool
        Whether it may speak of life safety, and whether it holds a number.
    """

    key: str
    text: str
    problem: str
    rows: int
    sites: tuple[str, ...]
    life: bool
    numbered: bool


@dataclass(frozen=True)
class Taught:
    """What a person said of a wording."""

    key: str
    text: str
    kind: str
    phase: str
    number: str
    numbered: bool
    site: str | None
    on: date


def key_of(form: str, site: str | None = None) -> str:
    """Return what stands for a wording in the page: no text of a log is part of it."""
    return hashlib.sha256(f"{form}\x1f{site or ''}".encode()).hexdigest()[:12]


def _keyed(frame: pl.DataFrame) -> pl.DataFrame:
    keys = [key_of(form) for form in frame["form"].to_list()]
    return frame.with_columns(key=pl.Series(keys, dtype=pl.String))


def listed(lab: "Remembered") -> tuple[list[Wording], int]:
    """Return the wordings that the page shows, most rows first, and how many others there are."""
    found = lab.strangers(guess=False)
    told = [
        Wording(
            key=row["key"],
            text=row["wording"],
            problem=row["problem"],
            rows=row["rows"],
            sites=tuple(row["sites"]),
            life=bool(row["life_safety"]),
            numbered="#" in row["form"],
        )
        for row in _keyed(found.head(SHOWN)).iter_rows(named=True)
    ]
    return told, found.height - len(told)


def guessed(lab: "Remembered") -> pl.DataFrame:
    """Return ``key``, ``wording``, ``kind``, ``phase`` and ``probability`` of what is shown."""
    return _keyed(lab.strangers(guess=True).head(SHOWN))


def taught(lab: "Remembered") -> list[Taught]:
    """Return what people said, by wording."""
    return [
        Taught(
            key=key_of(row["form"], row["site"]),
            text=row["wording"],
            kind=row["kind"],
            phase=row["phase"],
            number=row["number"],
            numbered="#" in row["form"],
            site=row["site"],
            on=row["at"].date(),
        )
        for row in lab.taught().iter_rows(named=True)
    ]


def say(lab: "Remembered", key: str, means: str, number: str, site: str, *, sure: bool) -> Learned:
    """Keep what a person says of a wording.

    Parameters
    ----------
    lab : Remembered
        The open store.
    key : str
        Of the wording.
    means : str
        One of ``words.MEANINGS``.
    number, site : str
        What a number counts, and where it means that; empty for the usual and for everywhere.
    sure : bool
        Whether a word of life safety in it was looked into.

    Raises
    ------
    EventlabError
        Where it cannot be.
    """
    meaning = words.MEANINGS.get(" ".join(means.lower().split()))
    if meaning is None:
        raise UsageError(
            f"“{means}” is none of the things that a row can mean"
            if means
            else "nothing was chosen that it means",
            do="Choose one from the list under “It means”.",
        )
    kind, phase = meaning
    at = site.strip() or None
    if at is not None and not (lab.sites()["site"] == at).any():
        raise NotFound(f"there is no site {at}")
    lesson = Lesson(_of(lab, key), kind, phase, at, number or None, sure)
    try:
        return lab.teach(lesson)
    except UsageError as error:
        if "life safety" in error.found:
            do = "If it was looked into, use the other button."
            raise UsageError(error.found, do=do) from error
        raise


def accept(lab: "Remembered", key: str) -> Learned:
    """Keep that a wording means what was guessed of it."""
    row = guessed(lab).filter(pl.col("key") == key)
    if row.is_empty() or row["kind"][0] is None:
        raise NotFound("this wording is not listed any more")
    return lab.teach(Lesson(row["wording"][0], row["kind"][0], row["phase"][0]))


def take_back(lab: "Remembered", key: str) -> Learned:
    """Take back what was taught."""
    for one in taught(lab):
        if one.key == key:
            return lab.forget(one.text, site=one.site)
    raise NotFound("this was taken back already")


def _of(lab: "Remembered", key: str) -> str:
    for one in listed(lab)[0]:
        if one.key == key:
            return one.text
    raise NotFound("this wording is not listed any more")
