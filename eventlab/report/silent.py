"""Sentences of what must be alive: silent points, gaps of a log, faults that stand."""

from eventlab.report.said import Said
from eventlab.report.words import count, plain


def silent_zone(said: Said) -> str:
    """Say that a point should have been seen by now."""
    one_in = said.get("one_in")
    rare = f"{one_in:,.0f}" if one_in < 1_000_000 else "a million"
    return (
        f"{said.subject} has not been seen since {said.since}, on {count(said.get('days'), 'day')} "
        f"on which others were: before, it was seen on {plain(said.get('seen_days'))} of "
        f"{plain(said.get('of_days'))} such days, and its longest silence was "
        f"{count(said.get('longest'), 'day')}. Chance does that in fewer than 1 in {rare} such "
        "logs. Until it is walk-tested nobody knows whether it detects."
    )
