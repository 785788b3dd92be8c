"""Headings of context files: which column of ours a heading means."""

import csv
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from eventlab.schema import Role


@dataclass(frozen=True)
class Heading:
    """One heading of a file and what it stands for.

    Parameters
    ----------
    place : int
        Position of the cell column, from 0.
    column : str
        Our column.
    folded : str
        The heading without case, blanks and signs.
    scale, offset : float
        Our value = scale x the cell + offset; 1 and 0 where the unit is ours.
    """

    place: int
    column: str
    folded: str
    scale: float = 1.0
    offset: float = 0.0


def fold(text: str) -> str:
    """Reduce a heading or word to its bare letters and digits, lower case, no accents."""
    plain = unicodedata.normalize("NFKD", text).casefold()
    return "".join(letter for letter in plain if letter.isalnum())


def understood(role: Role, header: Sequence[str]) -> dict[str, Heading]:
    """Match the headings of a file to the columns of a role.

    Parameters
    ----------
    role : Role
        What the file is taken to be.
    header : sequence of str
        The headings as they stand.

    Returns
    -------
    dict
        Our column to its heading; where two headings mean the same column the first counts.
    """
    table = _table()
    found: dict[str, Heading] = {}
    for place, text in enumerate(header):
        folded = fold(text or "")
        known = table.get((role, folded))
        if known is not None and known[0] not in found:
            column, scale, offset = known
            found[column] = Heading(place, column, folded, scale, offset)
    return found


@cache
def _table() -> dict[tuple[str, str], tuple[str, float, float]]:
    text = files("eventlab.context").joinpath("data/headings.csv").read_text("utf-8")
    return {
        (row["role"], row["heading"]): (row["column"], float(row["scale"]), float(row["offset"]))
        for row in csv.DictReader(text.splitlines())
    }


@cache
def words(name: str) -> dict[str, str]:
    """Return one list of cell words: folded word to what it means.

    Parameters
    ----------
    name : str
        ``use``, ``mode``, ``rule``, ``flag``, ``compass`` or ``nothing``.

    Returns
    -------
    dict
        Folded word to meaning.
    """
    text = files("eventlab.context").joinpath("data/words.csv").read_text("utf-8")
    return {
        row["word"]: row["means"]
        for row in csv.DictReader(text.splitlines())
        if row["list"] == name
    }
