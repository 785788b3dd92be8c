"""Sentences about a rate that changed."""

from eventlab.report.said import Said
from eventlab.report.words import count, plain, ratio

_SEASON = 60
"""Nights from which on a higher rate may be a season."""


def rate_change(said: Said) -> str:
    """Say since when a point alarms more often, and what stands near that date.

    Parameters
    ----------
    said : Said
        What is to be said.

    Returns
    -------
    str
        Plain text.
    """
    figures = said.figures
    often = ratio(said.ratio, said.ratio_low, said.ratio_high) or "more often"
    unit = "nights" if figures.get("basis") == "armed" else "calendar nights"
    seen = (
        f"{count(said.get('days'), 'alarm night')} in {plain(said.get('nights'))} {unit}, "
        f"{plain(said.get('before_days'))} in the {plain(said.get('before_nights'))} others"
    )
    began = _between(str(figures.get("low")), str(figures.get("high")))
    if figures.get("stretch") and not said.standing:
        told = (
            f"Something moved at {said.subject} for a time: from {figures.get('first')} to "
            f"{figures.get('last')} it alarmed {often} as at other times ({seen})."
        )
    else:
        over = "" if said.standing else f" It has been quiet again since {figures.get('last')}."
        told = f"{said.subject} alarms {often} since {began}: {seen}.{over}"
    near = [str(one) for one in figures.get("near") or []]
    if near:
        told += f" Near that date: {near[0]}."
    if said.get("season_p") > 0.05:
        told += " A season could do the same."
    elif said.get("nights") >= _SEASON and not figures.get("other_year"):
        told += " The log holds no other year, so a season may be behind it."
    return told


def _between(low: str, high: str) -> str:
    if low == high:
        return low
    month, other = low.split(" ", 1), high.split(" ", 1)
    first = month[0] if month[1:] == other[1:] else low.rsplit(" ", 1)[0]
    first = low if low[-4:] != high[-4:] else first
    return f"some date between {first} and {high}"
