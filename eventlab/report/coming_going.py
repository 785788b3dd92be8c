"""Sentences of late and missed closings, odd openings, and nights that could not be armed."""

from collections.abc import Callable, Sequence

import polars as pl

from eventlab.report.said import Said
from eventlab.report.words import count, joined, percent, plain, span, times
from eventlab.schema import Pattern, Subject


def missed_closing(said: Said) -> str:
    """Say for how long a place stood unarmed though it is usually armed."""
    nights = said.get("nights")
    if said.standing:
        more = f"; {times(nights)} in all" if nights > 1 else ""
        return (
            f"{_where(said)} has not been armed since {said.figures.get('last')}, when it usually "
            f"is: {span(said.get('longest_h'))} unprotected up to the end of the log{more}."
        )
    if nights == 1:
        return (
            f"{_where(said)} stood unarmed from {said.figures.get('last')}, when it is usually "
            f"armed: {span(said.get('total_h'))} unprotected. {_share(said, 'closing')}."
        )
    return (
        f"{_where(said)} stood unarmed over {count(nights, 'night')} or closed days, last from "
        f"{said.figures.get('last')}: {span(said.get('total_h'))} unprotected in all, "
        f"{span(said.get('longest_h'))} at most. {_share(said, 'closing')}."
    )


def arm_refused(said: Said) -> str:
    """Say that the system could not be armed, and what caused it."""
    nights = said.get("nights")
    point = said.subject if said.subject_kind == Subject.ZONE else None
    if said.get("resets"):
        why = "a reset after an alarm was due" + (f", of {point}" if point else "")
    else:
        tries = count(said.get("tries"), "attempt")
        why = f"{tries} to arm failed" + (f", {point} not being ready" if point else "")
    held = (
        "and still is where the log ends"
        if said.standing
        else f"last from {said.figures.get('last')}"
    )
    return (
        f"{said.site} could not be armed over {count(nights, 'night')}, {held}: {why}. That is "
        f"{span(said.get('total_h'))} unprotected, by the system's refusal and nobody's neglect."
    )


def late_closing(said: Said) -> str:
    """Say how often, and how late, a place was closed."""
    return (
        f"{_where(said)} was closed late {times(said.get('n'))}, "
        f"{plain(said.get('middle_h'), 1)} h later than usual in the middle, "
        f"{plain(said.get('longest_h'), 1)} h at most, last on {said.figures.get('last')}. "
        f"{_share(said, 'closing')}."
    )


def odd_hours_opening(said: Said) -> str:
    """Say how often a place was opened at an hour at which it never is."""
    return (
        f"{_where(said)} was opened {times(said.get('n'))} at an hour at which it is closed on "
        f"every day of the week, last on {said.figures.get('last')}. {_share(said, 'opening')}; "
        "there may be a good reason for each."
    )


def once_in(noun: str, times_: float, of: float, low: float, high: float) -> str:
    """Say a rate as people do: ``3 in 212 closings, once in 71 (24 to 343)``.

    Parameters
    ----------
    noun : str
        ``closing`` or ``opening``.
    times_, of : float
        How often, of how many.
    low, high : float
        Limits of the share.
    """
    told = f"{plain(times_)} in {count(of, noun)}"
    if not times_ or not low:
        return told
    return f"{told}, once in {plain(of / times_)} ({plain(1 / high)} to {plain(1 / low)})"


def clock_words(hour: float) -> str:
    """Write hours after midnight as a time of day: ``18:05``, ``01:10 the next day``."""
    minutes = round(hour * 60)
    text = f"{minutes // 60 % 24:02}:{minutes % 60:02}"
    return f"{text} the next day" if minutes >= 24 * 60 else text


def hours_words(bands: Sequence[tuple[float, float]]) -> str:
    """Write bands of hours: ``08:50 to 09:10, or 13:55 to 14:05``."""
    told = [
        clock_words(low) if round(low * 60) == round(high * 60)
        else f"{clock_words(low)} to {clock_words(high)}"
        for low, high in bands
    ]  # fmt: skip
    return ", or ".join(told)


def hours_sentence(bands: pl.DataFrame, exceptions: int, hours: float, nights: int) -> str:
    """Say in short when a site is open, and how often it was otherwise.

    Parameters
    ----------
    bands : polars.DataFrame
        ``area``, ``weekday``, ``what``, ``middle_h``: the usual openings and closings.
    exceptions : int
        How many there are.
    hours : float
        Unprotected in nights unarmed [h].
    nights : int
        How many of them.
    """
    if bands.is_empty():
        return "This log is too short, or its hours too irregular, to show usual hours."
    days = bands.filter(pl.col("what") == "opening")["weekday"].unique().sort().to_list()
    told = joined([_DAYS[day - 1] for day in days]) if len(days) < len(_DAYS) else "all days"
    opens = bands.filter(pl.col("what") == "opening")["middle_h"].min()
    closes = bands.filter(pl.col("what") == "closing")["middle_h"].max()
    span_of = ""
    if isinstance(opens, float) and isinstance(closes, float):
        span_of = f", from about {clock_words(opens)} to {clock_words(closes)} at most"
    night = f", {span(hours)} unprotected over {count(nights, 'night')}" if nights else ""
    return (
        f"Usually opened on {told}{span_of}; {count(exceptions, 'exception')} in this log{night}."
    )


def hours_notes(
    *, recorded: bool, contradicted: bool, region: str | None, schedule: bool
) -> list[str]:
    """Say what is not known of the usual hours of a site.

    Parameters
    ----------
    recorded : bool
        Whether openings and closings are all told, and can be relied on.
    contradicted : bool
        Whether they are told, and alarms speak against them.
    region : str or None
        Country or region of its public holidays.
    schedule : bool
        Whether a schedule of opening hours was given.
    """
    if contradicted:
        return [_CONTRADICTED]
    if not recorded:
        return [_NOT_RECORDED]
    notes = []
    if region is None:
        notes.append(
            "No public holiday is assumed: the site list tells no country or region of this site."
        )
    else:
        notes.append(f"Public holidays are those of {region}.")
    if schedule:
        notes.append("Where the schedule of opening hours tells of a date, it decides.")
    return notes


_CONTRADICTED = (
    "Alarms at hours told as unarmed speak against the openings and closings of this log: nothing "
    "is said about habits."
)
_NOT_RECORDED = (
    "Openings and closings are not all told in this log, so nothing is said about habits: the "
    "panel's own log, or a centre that receives them, would tell."
)
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def _where(said: Said) -> str:
    return said.site if said.subject_kind == Subject.SITE else f"{said.subject} of {said.site}"


def _share(said: Said, noun: str) -> str:
    share = percent(said.get("share"))
    low, high = percent(said.get("share_low")), percent(said.get("share_high"))
    return (
        f"That is {plain(said.get('times'))} of {count(said.get('of'), noun)} "
        f"({share}, {low} to {high})"
    )


COMING_GOING: dict[str, Callable[[Said], str]] = {
    Pattern.MISSED_CLOSING: missed_closing,
    Pattern.ARM_REFUSED: arm_refused,
    Pattern.LATE_CLOSING: late_closing,
    Pattern.ODD_HOURS_OPENING: odd_hours_opening,
}
