"""What must be alive, in words: the name of each lane, how it stands, what would show it."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

import polars as pl

from eventlab.analysis.alive import Walked
from eventlab.report.heard import cell_sentence, rhythm_sentence
from eventlab.report.text import clean, wrapped
from eventlab.report.words import count, joined, span, times
from eventlab.schema import Health, Pattern, Witness

EXAMINE = "Have it examined by a licensed person, and treat every call from it as real until then."
STATES: Mapping[str, str] = {
    "on-test": "on test",
    "walk-test": "in walk test",
    "on-site-work": "in service mode",
    "log-gap": "not covered",
    "clock-off": "wrong",
    "clock-drift": "running away",
    "clock-reset": "time lost",
    "clock-set": "set",
    "clock-rule": "kept by another rule",
    "mains-loss": "lost",
    "system-battery-low": "low",
    "device-battery-low": "low",
    "comms-fail": "lost",
    "not-arrived": "alarms did not arrive",
    "report-missed": "no report",
    "radio-jam": "jammed",
    "tamper": "open",
    "tamper-alarm": "open",
    "masking": "masked",
    "supervision-loss": "not heard",
    "bypass": "bypassed",
    "shutdown": "shut out",
    "unseen": "not seen, though it usually is",
}
"""What was so while something was not alive; anything else was ``in fault``."""

_FAULT = "in fault"
_TITLES: Mapping[str, tuple[str, str]] = {
    "on-test": ("Test with the monitoring centre", ""),
    "work": ("Walk test and service mode", ""),
    "log": ("The log itself", ""),
    "panel": ("The panel's own log", ""),
    "centre": ("The centre's history", ""),
    "clock": ("Clocks", "Clock of the {}"),
    "mains": ("Mains", ""),
    "system-battery": ("Battery of the panel", "Battery of supply {}"),
    "path": ("Path to the centre", "Path {}"),
    "arrival": ("Alarms reaching the centre", ""),
    "reports": ("Test reports", "Test reports, {}"),
    "module": ("Modules", "Module {}"),
    "siren": ("Sirens", "Siren {}"),
    "system": ("The panel itself", "Device {} of the system"),
    "radio": ("Radio, jammed or not", "Radio receiver {}"),
    "tamper": ("Tamper, panel and lids", "Tamper, point {}"),
    "masking": ("Masking", "Masking, point {}"),
    "detector": ("Detector faults", "Fault, point {}"),
    "battery": ("Battery of devices", "Battery, point {}"),
    "supervision": ("Supervision of devices", "Supervision, point {}"),
    "point": ("Points", "Point {}"),
}
_TAILS: Mapping[str, str] = {
    "battery": ", battery",
    "supervision": ", supervision",
    "tamper": ", tamper",
    "masking": ", masking",
    "detector": ", fault",
}
_WITNESS = {
    "clock": {Witness.PANEL: "panel", Witness.RECEIVER: "monitoring centre"},
    "reports": {Witness.PANEL: "sent", Witness.RECEIVER: "received"},
}
_NEVER: Mapping[str, tuple[str, str]] = {
    "on-test": ("This log tells of no test with the centre", "the centre's own history"),
    "work": ("This log tells of no walk test and no service mode", "a walk test"),
    "clock": ("Only one clock is told here", "the centre's history beside this log"),
    "mains": ("This log tells of no mains loss", "a mains test at the next visit"),
    "system-battery": ("This log tells of no low battery of the panel", "a load test of it"),
    "path": ("This log names no path and tells of none lost", "a test signal over each path"),
    "arrival": (
        "Only the panel's log and the centre's history together tell it, with alarms in both",
        "the other log",
    ),
    "reports": ("This log tells of no test report", "the centre's history, or a test signal"),
    "module": ("This log tells of no module fault", "a test of each module at the next visit"),
    "siren": ("This log tells of no siren fault", "a siren test at the next visit"),
    "tamper": ("This log tells of no tamper", "opening a lid at the next visit"),
    "masking": ("This log tells of no masking", "a masking test, where detectors can tell it"),
    "battery": ("This log tells of no low battery of a device", "looking at each at a visit"),
    "supervision": ("This log tells of no device that was lost", "a signal-strength test"),
}
_DIPS = " Panels tell a mains loss late, by 15 to 60 minutes, so short dips are not seen."


def alive_in_words(lanes: pl.DataFrame) -> pl.DataFrame:
    """Name each lane and say how it stands.

    Parameters
    ----------
    lanes : polars.DataFrame
        As `analysis.alive.Lanes.lanes`, with ``what`` (of what stands, else of the last time),
        and ``since_wall``, ``last_wall`` (by the site's own clock).

    Returns
    -------
    polars.DataFrame
        With ``thing`` (its name), ``short`` (the same for a picture), ``now`` (a few words) and
        ``says`` (a sentence or two).
    """
    told = [_lane(row) for row in lanes.iter_rows(named=True)]
    schema = dict.fromkeys(("thing", "short", "now", "says"), pl.String)
    return lanes.hstack(pl.DataFrame(told, schema=schema, orient="row"))


def state_of(what: str | None) -> str:
    """Say what was so while something was not alive."""
    return STATES.get(what or "", _FAULT)


def _lane(row: Mapping[str, Any]) -> tuple[str, str, str, str]:
    family = row["family"]
    bare, numbered = _TITLES[family]
    own = row["zone"] or row["path"] or _WITNESS.get(family, {}).get(row["witness"])
    thing = numbered.format(own) if own and numbered else bare
    if row["zone"] and row["within"]:
        thing += f" of area {row['within']}"
    short = thing
    if row["name"]:
        # In a picture a point is known by its number and name; the names of lanes are cut there.
        short = f"{row['zone']} {row['name']}" + _TAILS.get(family, "")
        thing = f"{thing} ({row['name']})"
    says = _says(row)
    if row["life_safety"] and (row["health"] == Health.NOT_WELL or row["why"] == "untold"):
        says = f"{says} It is a life-safety point. {EXAMINE}"
    if family == "mains":
        says += _DIPS
    if family == "battery":
        says += cell_sentence(row)
    return thing, short, _now(row), says


def _now(row: Mapping[str, Any]) -> str:
    if row["why"] == "stands":
        return f"{state_of(row['what'])} since {_day(row['since_wall'])}"
    if row["why"] == "found":
        seen = f"not seen since {_day(row['last_wall'])}"
        return {Pattern.SILENT_ZONE: seen, Pattern.LOG_GAP: "overwritten"}.get(
            row["pattern"], "comes and goes"
        )
    return str(row["health"])


def _says(row: Mapping[str, Any]) -> str:
    why, family = row["why"], row["family"]
    state, last = state_of(row["what"]), row["last_wall"]
    if why == "stands":
        told = f"{_upper(state)} since {_moment(row['since_wall'])}"
        if row["stood_h"] is not None:
            told += f", for {span(row['stood_h'])}"
        end = "no end of it is told" if family == "on-test" else "still so when the log ends"
        return f"{told}; {end}.{_before(row)}"
    if why == "found" and row["pattern"] == Pattern.SILENT_ZONE:
        return (
            f"Last seen to detect on {_moment(last)}.{rhythm_sentence(row)} By its own rhythm it "
            "should have been seen since: a walk test would show whether it still detects."
        )
    if why == "found" and row["pattern"] == Pattern.LOG_GAP:
        return f"Its memory is full: older events are being overwritten.{_longest(row)}"
    if why == "found":
        return f"It was {state} {times(row['times'])}, and may be so again any time.{_longest(row)}"
    if why == "untold":
        return (
            f"{_upper(state)}, last told on {_day(last)}; this log tells no ends, so whether it "
            "is so still cannot be seen."
        )
    if why == "never":
        no, shows = _NEVER[family]
        return f"{no}, so it cannot be seen here. What would show it: {shows}."
    if family == "point":
        return _point(row)
    if why in {"clear", "ended"}:
        return _fine(row)
    return _not_here(row)


def _before(row: Mapping[str, Any]) -> str:
    earlier = row["times"] - 1
    return f" It was so {times(earlier)} before." if earlier > 0 else ""


def _longest(row: Mapping[str, Any]) -> str:
    if row["longest_h"] is None:
        return ""
    told = f" The longest lasted {span(row['longest_h'])}"
    if row["times"] > 1 and row["restore_h"] is not None:
        told += f"; usually it is over after {span(row['restore_h'])}"
    return f"{told}."


def _fine(row: Mapping[str, Any]) -> str:
    family, last = row["family"], row["last_wall"]
    if family == "log":
        gaps = f"; {count(row['times'], 'gap')} in it" if row["times"] else ", without a gap"
        longest = _longest(row) if row["times"] else ""
        return f"Its newest entry is of {_moment(last)}{gaps}.{longest}"
    if family in {"panel", "centre"}:
        return f"Its newest entry is of {_moment(last)}."
    if family == "reports":
        due = f"Reports are due every {span(row['period_h'])}"
        if not row["times"]:
            return f"{due}, and every one of them is in this log; the last on {_moment(last)}."
        return f"{due}; they failed to come {times(row['times'])}.{_longest(row)}"
    if family == "clock" and not row["times"]:
        return "It agrees with what else tells the time."
    if family == "arrival" and not row["times"]:
        return f"Alarms that should reach the centre did; the last on {_moment(last)}."
    if row["times"] == 1 and last is not None:
        longest = row["longest_h"]
        lasted = f"; it lasted {span(longest)}" if longest is not None else ""
        state = state_of(row["what"])
        once = f"Once {state}" if state.startswith("not ") else f"{_upper(state)} once"
        return f"{once}, told on {_day(last)}{lasted}."
    if row["times"]:
        on = f", the last time told on {_day(last)}" if last is not None else ""
        return f"{_upper(state_of(row['what']))} {times(row['times'])}{on}.{_longest(row)}"
    if family == "path":
        return f"Never told lost; something last came over it on {_moment(last)}."
    if last is not None and family in {"on-test", "work"}:
        return f"Last used on {_day(last)}, and ended."
    if last is not None:
        return f"Told in service time only, on {_day(last)}, and put right."
    return "Nothing was told of this one, though this log does tell of others."


def _point(row: Mapping[str, Any]) -> str:
    out = ""
    if row["times"]:
        out = f" It was out of service {times(row['times'])}.{_longest(row)}"
    if row["why"] == "life":
        return (
            "Of a life-safety point only lost protection is told here, and none stands in this "
            "log. That it is quiet shows nothing of it: it has to be tried at tests of its own."
            f"{out}"
        )
    last = row["last_wall"]
    seen = f"last seen to detect on {_moment(last)}" if last else "never seen to detect in this log"
    if row["why"] in {"seen", "unseen"}:
        doubt = "" if row["why"] == "seen" else " Whether it still does, a walk test would show."
        return f"{_upper(seen)}.{rhythm_sentence(row)}{doubt}{out}"
    if row["why"] == "no-movement":
        return (
            f"{_upper(seen)}. This log records no movement by day: whether it still does, a walk "
            f"test would show.{out}"
        )
    return f"{_not_here(row)}{out}"


def _not_here(row: Mapping[str, Any]) -> str:
    why, last = row["why"], row["last_wall"]
    if why == "few":
        return "Too few reports to know how often they are due."
    if why == "quiet":
        return f"Nothing came over it since {_moment(last)}; a test signal over it would show it."
    if why == "log-ended":
        return f"It ends on {_moment(last)}, before the other log does; ask for a newer export."
    if why == "stale":
        return "No log for long: nothing is known of it now."
    other = "monitoring centre's history" if row["family"] == "centre" else "panel's own log"
    return f"The {other} is not here; an export of it would show what it tells."


def alive_sentence(lanes: pl.DataFrame, *, stale_days: int | None = None) -> str:
    """Say in the lead how everything stands, what stands now first.

    Parameters
    ----------
    lanes : polars.DataFrame
        As `alive_in_words` gives them.
    stale_days : int, optional
        Age of the newest log [days] where it is too old for anything to be known.

    Returns
    -------
    str
        A few sentences.
    """
    if lanes.is_empty():
        return "There is no log of this site: nothing is known."
    many = {one: lanes.filter(pl.col("health") == one).height for one in Health}
    bad = lanes.filter(pl.col("health") == Health.NOT_WELL)
    told = []
    if stale_days is not None:
        told.append(f"Nothing is known of this site now: its newest log is {stale_days} days old.")
    if bad.height:
        first = [f"{_lower(row['thing'])}: {row['now']}" for row in bad.head(3).to_dicts()]
        more = f", and {bad.height - 3} more" if bad.height > 3 else ""
        when = " as it ended" if stale_days is not None else ""
        many_bad = count(bad.height, "thing is", "things are")
        told.append(f"{many_bad} not well{when}: {'; '.join(first)}{more}.")
    elif stale_days is None:
        told.append("This log shows nothing that is out of order now.")
    well = many[Health.WELL]
    parts = [f"{well} {'is' if well == 1 else 'are'} well as far as this log shows"]
    rest = {Health.NOT_RECORDED: "it does not record", Health.NOT_COVERED: "it does not cover"}
    parts += [f"{many[one]} {said}" for one, said in rest.items() if many[one]]
    told.append(f"Of {count(lanes.height, 'thing')} that must be alive {joined(parts)}.")
    return " ".join(told)


def walk_sentence(walked: Walked, today: date) -> str:
    """Say which points answered in the last walk test.

    Parameters
    ----------
    walked : Walked
        The last walk test of a site.
    today : date
        By the site's own clock.

    Returns
    -------
    str
        Such as ``Walk test today: 18 of 22 points answered; not seen: 7, 11, 12, 20.``
    """
    if walked.day is None:
        return (
            "No walk test stands in this log, so it cannot show that every point still detects. "
            "A walk test would show it."
        )
    when = "today" if walked.day == today else f"of {_day(walked.day)}"
    if walked.points.is_empty():
        return (
            f"Walk test {when}: this log does not tell which points answered. The next one would "
            "show it, with each point called out or ticked off a list."
        )
    name = "Walk test" if walked.by == "walk-test" else "Points seen in the service"
    if walked.by == "on-test":
        name = "Points seen in the test"
    told = f"{name} {when}: {walked.points.height - len(walked.missed)} of "
    told += f"{count(walked.points.height, 'point')} answered"
    told += f"; not seen: {', '.join(walked.missed)}." if walked.missed else "."
    if walked.missed and not walked.listed:
        told += " No zone list is here: asked are the points that this log ever told of."
    if not walked.told:
        told += " No row of a walk test names a point; movement and alarms in that time are taken."
    if walked.apart:
        noun = "point" if len(walked.apart) == 1 else "points"
        told += f" Tried apart, at tests of their own: {noun} {joined(walked.apart)}."
    return told


def alive_as_text(lanes: pl.DataFrame, *lead: str) -> str:
    """Write the lanes for a terminal, what stands first.

    Parameters
    ----------
    lanes : polars.DataFrame
        As `alive_in_words` gives them.
    lead : str
        What stands above them.

    Returns
    -------
    str
        Lanes of one health together.
    """
    if lanes.is_empty():
        return "There is no log of this site: nothing is known.\n"
    lines = [line for text in lead for line in wrapped(text, "", "")]
    for health in (Health.NOT_WELL, Health.WELL, Health.NOT_RECORDED, Health.NOT_COVERED):
        some = lanes.filter(pl.col("health") == health)
        if some.height:
            lines += ["", health.upper()]
            for row in some.iter_rows(named=True):
                lines += wrapped(clean(f"{row['thing']}: {row['says']}"), "  ", "    ")
    return "\n".join(lines) + "\n"


def _moment(value: datetime | None) -> str:
    return "a time not known" if value is None else f"{value:%-d %b %Y %H:%M}"


def _day(value: date | datetime | None) -> str:
    return "a day not known" if value is None else f"{value:%-d %b %Y}"


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
