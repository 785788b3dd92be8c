"""Headings of context files: which column of ours a heading means."""

import csv
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from eventlab.schema import Role

MEASURES: Mapping[str, str] = {
    "temperature_c": "temperature",
    "wind_m_s": "wind",
    "gust_m_s": "wind",
    "rain_mm": "rain",
    "cloud_oktas": "cloud",
    "ghi_w_m2": "sunlight",
}
"""What each column of weather measures: the key of the question about its unit."""


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
    text : str
        The heading as it stands.
    unit : str
        What stands behind the name of something measured; empty where nothing does.
    """

    place: int
    column: str
    folded: str
    text: str = ""
    unit: str = ""


def fold(text: str) -> str:
    """Reduce a heading or word to bare letters and digits, lower case, no accents; % is a word."""
    plain = unicodedata.normalize("NFKD", text).casefold().replace("%", "percent")
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
        column, unit = table.get((role, folded)), ""
        if column is None and role is Role.WEATHER:
            column, unit = _measured(folded)
        if column is not None and column not in found:
            found[column] = Heading(place, column, folded, text, unit)
    return found


def _measured(folded: str) -> tuple[str | None, str]:
    """Split a heading of weather into its name and its unit: ``windgustkmh``."""
    for end in range(len(folded) - 1, 0, -1):
        column = _table().get((Role.WEATHER, folded[:end]))
        if column is None or column not in MEASURES:
            continue
        if (MEASURES[column], folded[end:]) in units():
            return column, folded[end:]
    return None, ""


@cache
def units() -> dict[tuple[str, str], dict[str, str]]:
    """Return the table of units: what is measured and how the unit is written, to its row."""
    text = files("eventlab.context").joinpath("data/units.csv").read_text("utf-8")
    rows = csv.DictReader(text.splitlines())
    return {(row["measures"], row["written"]): row for row in rows}


@cache
def _table() -> dict[tuple[str, str], str]:
    text = files("eventlab.context").joinpath("data/headings.csv").read_text("utf-8")
    return {
        (row["role"], row["heading"]): row["column"] for row in csv.DictReader(text.splitlines())
    }


@cache
def words(name: str) -> dict[str, str]:
    """Return one list of cell words: folded word to what it means.

    Parameters
    ----------
    name : str
        ``use``, ``mode``, ``rule``, ``flag``, ``compass``, ``weekday`` or ``nothing``.

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
