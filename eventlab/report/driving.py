"""What a point follows, said in one sentence."""

from collections.abc import Callable

from eventlab.analysis.drivers.naming import WORDS
from eventlab.report.said import Said
from eventlab.report.words import count, percent, plain, ratio
from eventlab.schema import FOLLOWS

_WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")

_DAYS = (
    *("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays"),
    "the first seven days of the month",
    "the 8th to the 14th of the month",
    "the 15th to the 21st of the month",
    "the 22nd to the 28th of the month",
    "the last days of the month",
)


def _at(minutes: float) -> str:
    return f"{int(minutes) // 60:02d}:{int(minutes) % 60:02d}"


def when(said: Said) -> str:
    """Say under what condition a point alarms."""
    low, high = said.get("from"), said.get("to")
    level = plain(said.get("level"), 1)
    driver = str(said.figures.get("driver"))
    if driver == "sun":
        middle = (low + ((high - low) % 360) / 2) % 360
        wind = _WINDS[round(middle / 45) % 8]
        stands = "stands" if said.figures.get("high") else "stands low"
        return f"when the sun {stands} in the {wind} ({plain(low)} to {plain(high)} degrees)"
    return {
        "clock": f"between {_at(low)} and {_at(high)}",
        "weekday": f"on {_DAYS[int(low) % len(_DAYS)]}",
        "dark": "after dark",
        "area": f"within {plain(high)} minutes after another area is "
        + ("closed" if low else "opened"),
        "arming": f"within {plain(high)} minutes after the point is armed",
        "hot": f"when it is {level} °C or warmer outside",
        "cold": f"when it is {level} °C or colder outside",
        "warming": f"when the air warms by {level} degrees or more in two hours",
        "cooling": f"when the air cools by {plain(abs(said.get('level')), 1)} degrees or more in "
        "two hours",
        "wind": f"in wind or gusts of {level} m/s and more",
        "rain": f"in rain ({level} mm in the hour and more)",
        "wet": f"after rain ({level} mm and more in the two days before)",
    }.get(driver, "under one condition")


def _often(said: Said) -> str | None:
    """Say how much more often; from few alarms no more than at least how much."""
    low, high = said.ratio_low, said.ratio_high
    if low is not None and low > 1 and (high is None or high > _WIDE * low):
        return f"at least {plain(low, 1 if low < 10 else 0)} times as often"
    return ratio(said.ratio, low, high)


_WIDE = 20
"""An interval wider than this tells no size."""


def _follows(said: Said) -> str:
    what = "is tampered with" if said.figures.get("tamper") else "alarms"
    days, hits = said.get("days"), said.get("hits")
    often = _often(said)
    per = f", {often} as at other times" if often else ""
    first = (
        f"{said.subject} {what} {when(said)}: on {plain(hits)} of "
        f"{count(days, 'day')} with an alarm, though that is {percent(said.get('share'))} of the "
        f"time it was at risk{per}."
    )
    if said.figures.get("open"):
        rival = WORDS.get(str(said.figures.get("rival")), "something else")
        told = said.figures.get("told_on")
        until = f" before about {told}" if told else " within a year at this rate"
        return f"{first} Whether it is that or {rival} cannot be told apart yet{until}."
    if said.figures.get("season"):
        return f"{first} It may be the season and not the weather of the day."
    return first


DRIVEN: dict[str, Callable[[Said], str]] = dict.fromkeys(FOLLOWS, _follows)
"""Sentences of the patterns that say what a point follows."""
