"""What past alarms would have come to, as text for a terminal."""

import textwrap
from typing import NamedTuple

from eventlab.advice import COUNT, HOLD_OFF, WhatIf
from eventlab.report.text import clean
from eventlab.report.words import count, plain

_WIDTH = 96
_DATE = "%-d %b %Y"
_NIGHTS_SHOWN = 6


def what_if_as_text(told: WhatIf) -> str:
    """Write trials for a terminal: what holds already, each trial, what to mind.

    Parameters
    ----------
    told : WhatIf
        As `advice.what_if` gives it.

    Returns
    -------
    str
        Plain text; control characters of logged text are shown as marks.
    """
    name = f" ({told.name})" if told.name else ""
    lines = _wrapped(f"Point {told.zone}{name} of site {told.site}: its past alarms, replayed.", "")
    if told.refused:
        return "\n".join([*lines, "", *_wrapped(told.refused, "")]) + "\n"
    lines += ["", "In force already (the log holds only what passed it):"]
    lines += [part for text in told.in_force for part in _wrapped(text, "  - ")]
    for one in trial_sentences(told):
        lines += ["", *_wrapped(one.sentence, "", "  ")]
        if one.suspected:
            lines += _wrapped(one.suspected, "  ! ")
    lines += ["", *(part for text in told.cautions for part in _wrapped(f"Mind: {text}", "", "  "))]
    return "\n".join(lines) + "\n"


class Tried(NamedTuple):
    """What one trial would have come to, in words.

    ``rule`` is what was tried, ``why_not`` why it was not replayed, else None and ``sentence`` and
    the three short cells say it; ``suspected`` is of alarms that may have been a real intrusion.
    """

    rule: str
    why_not: str | None
    sentence: str
    removed: str
    lost: str
    late: str
    suspected: str | None


def trial_sentences(told: WhatIf) -> list[Tried]:
    """Say each trial in words.

    Parameters
    ----------
    told : WhatIf
        As `advice.what_if` gives it.

    Returns
    -------
    list of Tried
        In the order of the trials.
    """
    return [_tried(row) for row in told.trials.iter_rows(named=True)]


def _tried(row: dict[str, object]) -> Tried:
    seconds = f"{row['seconds']:g} s"
    if row["trial"] == HOLD_OFF:
        what = f"A hold-off of {seconds} (it must stay tripped so long)"
    elif row["trial"] == COUNT:
        what = f"A count of two within {seconds}"
    else:
        what = f"Only together with point {row['other']}, within {seconds} of it"
    if row["told"] is not None:
        why = str(row["told"])
        return Tried(what, why, f"{what}: not replayed: {why}.", "", "", "", None)
    removed, alarms = _whole(row["removed"]), _whole(row["alarms"])
    lost, late = _whole(row["first_lost"]), _whole(row["first_late"])
    periods = _whole(row["periods"])
    first = f"Of the first alarms of {count(periods, 'armed period')} {lost or 'none'} would"
    first += " have been lost"
    most = plain(_number(row["late_most_s"]))
    if late:
        half = plain(_number(row["late_half_s"]))
        first += f", {late} would have come late, by {most} s at most, half by {half} s or less"
    return Tried(
        what,
        None,
        f"{what}: {removed} of {count(alarms, 'alarm')} would not have been raised. {first}.",
        f"{removed} of {alarms}",
        f"{lost or 'none'} of {periods}",
        f"{late}, by {most} s at most" if late else "none",
        _suspected(row) if row["suspected"] else None,
    )


def _suspected(row: dict[str, object]) -> str:
    lost, late = _whole(row["suspected_lost"]), _whole(row["suspected_late"])
    many = count(_whole(row["suspected"]), "night")
    if not lost and not late:
        return (
            f"Of {many} with an alarm of it that may have been a real intrusion none would have "
            "been lost or late."
        )
    told = row["suspected_nights"]
    nights = list(told) if isinstance(told, list) else []
    shown = ", ".join(night.strftime(_DATE) for night in nights[:_NIGHTS_SHOWN])
    more = f" and {len(nights) - _NIGHTS_SHOWN} more" if len(nights) > _NIGHTS_SHOWN else ""
    return (
        f"Of {many} with an alarm of it that may have been a real intrusion {lost} would have had "
        f"none from this point, {late} a late one: {shown}{more}."
    )


def _whole(value: object) -> int:
    return int(value) if isinstance(value, int | float) else 0


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) else 0.0


def _wrapped(text: str, first: str, rest: str | None = None) -> list[str]:
    return textwrap.wrap(
        clean(text),
        width=_WIDTH,
        initial_indent=first,
        subsequent_indent=" " * len(first) if rest is None else rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
