"""Answers as a person gives them, checked before anything is read with them."""

from collections.abc import Mapping
from datetime import date

from eventlab.errors import UsageError
from eventlab.ground import ClockRule
from eventlab.meaning import COLUMN_KEYS, DATE_ANSWERS, known_zone
from eventlab.schema import Witness
from eventlab.store import DOUBLED

CHOICES: Mapping[str, tuple[str, ...]] = {
    "clock": tuple(str(rule) for rule in ClockRule if rule is not ClockRule.OPEN),
    **DATE_ANSWERS,
    "witness": tuple(str(one) for one in Witness),
    DOUBLED: ("yes", "no"),
    "temperature": ("c", "f", "k"),
    "wind": ("m/s", "km/h", "mph", "knots"),
    "rain": ("mm", "cm", "in"),
    "cloud": ("okta", "%", "tenth", "share"),
    "sunlight": ("w/m2", "kj/m2", "j/cm2"),
    "weather-clock": ("site", "utc", "standard"),
    "weather-year": ("measured", "typical"),
}
"""What each question may be answered with; ``site``, ``time-zone``, the questions about columns and
those without an answer here take any text, or a year or date that is looked at."""

KEYS = ("dates", "site", "time-zone", *COLUMN_KEYS, *(key for key in CHOICES if key != "dates"))


def checked(answers: Mapping[str, str] | None, time_zone: str | None = None) -> dict[str, str]:
    """Return the answers, or say what is wrong with them.

    Parameters
    ----------
    answers : mapping of str to str or None
        Answer by question key.
    time_zone : str or None
        A time zone that was named for all files.

    Returns
    -------
    dict of str to str
        The same.

    Raises
    ------
    UsageError
        Where there is no such question, or no such answer to it.
    """
    found = dict(answers or {})
    for key, value in found.items():
        if key not in KEYS:
            raise UsageError(
                f"there is no question {key!r}", do=f"Questions are: {', '.join(KEYS)}."
            )
        choices = CHOICES.get(key)
        if not value or (choices and value not in choices):
            told = f"one of: {', '.join(choices)}" if choices else "something"
            raise UsageError(f"{value!r} is no answer to {key!r}", do=f"Answer {told}.")
        if key in {"year", "first-year"} and not (value.isdecimal() and len(value) == 4):
            raise UsageError(f"{value!r} is no year", do="Answer a year such as 2025.")
        if key == "date":
            _check_date(value)
    for zone in (time_zone, found.get("time-zone")):
        if zone is not None and not known_zone(zone):
            raise UsageError(
                f"no time zone is called {zone!r}",
                do="Give an IANA name such as Europe/London or Australia/Sydney.",
            )
    return found


def _check_date(value: str) -> None:
    try:
        good = len(date.fromisoformat(value).isoformat()) == len(value)
    except ValueError:
        good = False
    if not good:
        raise UsageError(f"{value!r} is no date", do="Give it as 2025-03-31.")
