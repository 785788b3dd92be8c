"""The sentence of doors and windows that alarmed by themselves."""

from eventlab.report.said import Said
from eventlab.report.words import count


def lone_opening(said: Said) -> str:
    """Say that a door or window alarmed alone, and that no log knows why."""
    nights, points, once = (said.get(name) for name in ("nights", "points", "once"))
    if nights == 1:
        when = f"on {said.since}"
    else:
        when = f"on {count(nights, 'night')} since {said.since}, last on {said.until},"
    rare = ""
    if once and points > 1:
        rare = f" {count(once, 'of the points', 'of the points')} did so only once in this log."
    which = "a door or window" if points == 1 else f"one of {count(points, 'doors and windows')}"
    return (
        f"At {said.site} {when} {which} alarmed by itself and nobody disarmed at once.{rare} "
        "No log can tell one that was forced and pulled to from one that rattled: look at it from "
        "outside before anything is set less sensitive."
    )
