"""Sentences of how a place is used: timers, doors, supplies, forced armings, bypasses."""

from collections.abc import Callable

from eventlab.report.said import Said
from eventlab.report.words import count, percent, plain, seconds_told, span, times
from eventlab.schema import Pattern


def _span(seconds: float, grain: float) -> str:
    """Write a time that may be seconds or minutes, no finer than the clock."""
    return seconds_told(seconds, grain) if seconds < 120 else f"about {plain(seconds / 60)} min"


def armed_on_people(said: Said) -> str:
    """Say how often a timer armed while somebody was inside."""
    grain = said.number("grain") or 1
    return (
        f"At {said.site} the timer armed while somebody was inside on "
        f"{plain(said.get('n'))} of {count(said.get('armings'), 'timed arming')}: an interior "
        f"point alarmed, half of the times within {_span(said.get('half_s'), grain)} of the "
        f"arming, and a user disarmed, half of the times within {_span(said.get('off_s'), grain)}."
    )


def last_door(said: Said) -> str:
    """Say how often a final door opened by itself after closing."""
    grain = said.number("grain") or 1
    return (
        f"{said.subject} opened by itself after closing {times(said.get('n'))} and stood open "
        f"until someone came, half of the times {_span(said.get('half_s'), grain)} after arming "
        f"and for {span(said.get('stood_h'))}: it does not latch. The place stood open meanwhile; "
        "a possible intrusion that is told of such a night stays one."
    )


def off_when_closed(said: Said) -> str:
    """Say that mains or path are switched off with the lights."""
    what = "mains" if said.figures.get("what") == "mains" else "signalling path"
    return (
        f"The {what} of {said.site} is lost at closing and back at opening: "
        f"{times(said.get('n'))} since {said.since}, half of the times within "
        f"{count(max(1, said.get('half_min')), 'minute')} of the closing, "
        f"{span(said.get('hours'))} in all. Somebody seems to switch it off on leaving."
    )


def forced_arming(said: Said) -> str:
    """Say how often a place was armed by force, and what was left out."""
    worst, name = said.figures.get("worst"), said.figures.get("worst_name")
    out = "which points were left out is not recorded"
    if worst:
        named = f"point {worst}" + (f" ({name})" if name else "")
        others = said.get("points") - 1
        more = f", and {count(others, 'other point')}" if others else ""
        out = f"left out was {named} {times(said.get('worst_times'))}{more}"
    return (
        f"{said.site} was armed by force {times(said.get('n'))} of "
        f"{count(said.get('armings'), 'arming')} ({percent(said.get('share'))}, "
        f"{percent(said.get('share_low'))} to {percent(said.get('share_high'))}): {out}."
    )


def lasting_bypass(said: Said) -> str:
    """Say how long a point was left out, and whether the log shows it lifted."""
    nights = said.number("nights")
    long = count(nights, "armed night") if nights is not None else span(said.get("hours"))
    if said.standing:
        return (
            f"{said.subject} has been left out for {long} since {said.since}, and the log does "
            "not show it lifted: nothing it sees is told."
        )
    again = f", each night anew ({times(said.get('many'))})" if said.get("many") > 1 else ""
    return f"{said.subject} was left out for {long} from {said.since} to {said.until}{again}."


USED: dict[str, Callable[[Said], str]] = {
    Pattern.ARMED_ON_PEOPLE: armed_on_people,
    Pattern.LAST_DOOR_UNLATCHED: last_door,
    Pattern.OFF_WHEN_CLOSED: off_when_closed,
    Pattern.FORCED_ARMING: forced_arming,
    Pattern.LASTING_BYPASS: lasting_bypass,
}
