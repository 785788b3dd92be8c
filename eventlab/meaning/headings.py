"""What headings of logs say about their columns, in eight languages."""

import re
import unicodedata
from dataclasses import dataclass
from functools import cache

from eventlab.meaning.part import Part
from eventlab.meaning.tables import rows

OVER = "over"
"""In the table: a column that says whether a condition is over, so that yes ends it."""

_LETTERS = str.maketrans({"ß": "ss", "ø": "o", "ł": "l", "æ": "ae"})
_SEVERAL = (
    "zones",
    "points",
    "inputs",
    "detectors",
    "sensors",
    "users",
    "areas",
    "partitions",
    "zonen",
    "bereiche",
    "zones n",
    "utilisateurs",
    "zonas",
    "usuarios",
    "particiones",
    "utenti",
    "partizioni",
    "gebruikers",
    "gebieden",
    "uzytkownicy",
    "omraden",
)


@dataclass(frozen=True, slots=True)
class Heading:
    """What a heading says.

    Parameters
    ----------
    part : Part
        The part its column plays.
    level : int
        Of a member: how wide it is, a building 1; 0 where it is none.
    over : bool
        Whether yes means that a condition is over.
    several : bool
        Whether it speaks of several: ``Zones``.
    """

    part: Part
    level: int = 0
    over: bool = False
    several: bool = False


def fold(heading: str) -> str:
    """Write a heading as the table is looked up: lower case, bare letters, single blanks."""
    spread = unicodedata.normalize("NFKD", heading.casefold().translate(_LETTERS))
    bare = "".join(letter for letter in spread if not unicodedata.combining(letter))
    return re.sub(r"[\W_]+", " ", bare).strip()


@cache
def _headings() -> dict[str, Heading]:
    told = {}
    for row in rows("headings"):
        over = row["role"] == OVER
        part = Part.STATE if over else Part(row["role"])
        plain = fold(row["heading"])
        told[plain] = Heading(part, int(row["level"] or 0), over, plain in _SEVERAL)
    return told


def heading_of(heading: str) -> Heading | None:
    """Tell what a heading says; None where nobody knows it.

    A unit, a zone or a bracket behind the name changes nothing: ``Time (UTC)``, ``User #``.

    Parameters
    ----------
    heading : str
        As it stands.

    Returns
    -------
    Heading or None
        Known headings only.
    """
    bare = fold(re.sub(r"\(.*?\)|#", " ", heading))
    return _headings().get(fold(heading)) or _headings().get(bare)
