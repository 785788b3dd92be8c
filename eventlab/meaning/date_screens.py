"""Whether a text may hold a date or a time of day at all: cheap looks that are never wrongly no.

Most columns of a log hold neither, and trying all ways to write one costs much more than seeing
that no figures stand where they would have to.
"""

import re
import unicodedata
from functools import cache

from eventlab.meaning.date_words import names

EDGE = " \t\u00a0\u202f,;@|'\""
"""Signs around a text that say nothing."""
SUFFIXES = ("st", "nd", "rd", "th", "er", "o", "a", "e")
"""Letters behind the number of a day: ``1st``, ``1er``."""
FILLERS = r"\b(?:of|the|de|del|den|le|el|il|on|dnia)\b\.?\s*"  # 3 de marzo de 2025, den 3. mars
ATS = "at|um|om|a|a las|alle|alle ore|ore|kl|o|o godz|godz"  # 3. Marz 2025 um
BEFORE_CLOCK = r"at|um|om|a|a las|alle|alle ore|ore|kl\.?|o godz\.?|godz\.?"
BEGINS_AS_CLOCK = rf"^(?:(?:{BEFORE_CLOCK})\s+)?t?[0-9]{{1,2}}[:.h]?[0-9]{{2}}|1899|1900"
"""What a bared text begins with that is a time of day; spreadsheets put day nought before one."""


def may_be_date(text: str) -> bool:
    """Tell whether all words of a bared text may be those of a date; never wrongly no."""
    return _FIGURE.search(text) is not None and all(
        word in _known() or any(word.removeprefix(one) in _known() for one in SUFFIXES)
        for word in _LETTERS.findall(text)
    )


def may_hold_date(cell: str) -> bool:
    """Tell whether a date may stand in a cell, cheaply: never wrongly no.

    Parameters
    ----------
    cell : str
        As it stands.

    Returns
    -------
    bool
        False where no part of it can be a date, with a year or without.
    """
    text = _plainly(cell)
    if _FIGURE.search(text) is None:
        return False
    months = names("month")
    return _TWO_NUMBERS.search(_FILLER.sub(" ", text)) is not None or any(
        word in months or any(word.removeprefix(one) in months for one in SUFFIXES)
        for word in _LETTERS.findall(text)
    )


def may_be_clock(cell: str) -> bool:
    """Tell whether a cell may be a time of day, cheaply: never wrongly no."""
    return _CLOCK_FIRST.search(_plainly(cell).strip(EDGE)) is not None


def _plainly(cell: str) -> str:
    if cell.isascii():
        return cell.lower()
    apart = unicodedata.normalize("NFKD", cell.lower()).replace("ł", "l")
    return "".join(c for c in apart if unicodedata.category(c)[0] != "M")


_FIGURE, _LETTERS, _FILLER = re.compile("[0-9]"), re.compile("[a-z]+"), re.compile(FILLERS)
_TWO_NUMBERS = re.compile(r"[0-9][-/.,\s]{1,3}[0-9]|(?:19|20)[0-9]{6}")
_CLOCK_FIRST = re.compile(BEGINS_AS_CLOCK)


@cache
def _known() -> frozenset[str]:
    beside = re.findall("[a-z]+", f"{FILLERS[2:]} {ATS} r roku")
    return frozenset({*names("month"), *names("weekday"), *SUFFIXES, *beside})
