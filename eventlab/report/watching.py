"""Sentences of silent points, masked ones, open lids, faults, disturbed radio, gaps of a log."""

from eventlab.report.said import Said
from eventlab.report.words import count, joined, plain, span, times
from eventlab.schema import Subject


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


def tamper_open(said: Said) -> str:
    """Say that a lid was left open."""
    whose = _whose(said, "a lid")
    if said.number("open_h") is not None:
        return (
            f"{whose} has been open since {said.since}, {span(said.get('open_h'))} up to the end "
            f"of the log{doubt(said)}."
        )
    more = f", and {times(said.get('times'))} in all" if said.get("times") > 1 else ""
    return f"{whose} stood open for {span(said.get('longest_h'))} from {said.since}{more}."


def masked(said: Said) -> str:
    """Say that a detector is masked, and first who may have been in the room."""
    armed = ""
    if said.get("armed_h") >= 1:
        armed = f" It guarded nothing in {span(said.get('armed_h'))} of armed time."
    asked = ""
    if said.get("while_open"):
        asked = " It began while the place was open: who was in the room then?"
    if said.number("open_h") is not None:
        told = (
            f"{said.subject} has been masked since {said.since}, {span(said.get('open_h'))} up to "
            f"the end of the log{doubt(said)}, and a masked detector does not protect."
        )
    elif said.figures.get("repeats"):
        told = (
            f"{said.subject} was masked {times(said.get('times'))} between {said.since} and "
            f"{said.until}, {span(said.get('longest_h'))} at most; while it is, it does not "
            "protect."
        )
    else:
        told = (
            f"{said.subject} was masked for {span(said.get('longest_h'))} from {said.since}; while "
            "it is, it does not protect."
        )
    return told + asked + armed


def fault_standing(said: Said) -> str:
    """Say that a fault stands, or comes back."""
    whose = said.site if said.subject_kind == Subject.SITE else f"{said.subject} of {said.site}"
    what = said.figures.get("what") or "fault"
    siren = " Without its siren an alarm may be heard by nobody near." if _siren(said) else ""
    if said.number("open_h") is not None:
        return (
            f"A fault of {whose} ({what}) stands since {said.since}, {span(said.get('open_h'))} up "
            f"to the end of the log{doubt(said)}.{siren}"
        )
    if said.figures.get("repeats"):
        return (
            f"{whose} was in fault ({what}) {times(said.get('times'))} between {said.since} and "
            f"{said.until}, {span(said.get('longest_h'))} at most.{siren}"
        )
    return f"{whose} was in fault ({what}) for {span(said.get('longest_h'))} from {said.since}."


def radio_interference(said: Said) -> str:
    """Say that radio is disturbed, or its receiver fails: a log cannot tell which."""
    waves, jams = said.get("waves"), said.get("jams")
    parts = []
    if waves:
        at_once = f"{count(said.get('devices'), 'device')} lost at once"
        if waves > 1:
            at_once = f"up to {at_once}, {times(waves)}"
        now = f", {plain(said.get('lost_now'))} of them still" if said.get("lost_now") else ""
        parts.append(at_once + now)
    if jams:
        parts.append(f"jamming told {times(jams)}")
    told = joined(parts or ["devices lost at once"])
    last = "" if said.standing else f" to {said.until}"
    life = (
        f" {count(said.get('life_lost'), 'life-safety point')} among them."
        if said.get("life_lost")
        else ""
    )
    return (
        f"The radio of {said.site} is disturbed, or its receiver or the receiver's supply fails: "
        f"{told}, from {said.since}{last}{doubt(said)}.{life}"
    )


def log_gap(said: Said) -> str:
    """Say what a log does not cover."""
    parts = []
    if said.get("gaps"):
        gaps = count(said.get("gaps"), "gap")
        parts.append(
            f"The log of {said.site} has {gaps}, {span(said.get('gap_h'))} in all, from "
            f"{said.since} to {said.until}: what happened then is not known"
            if not said.get("rows") and not said.get("dead")
            else f"The log of {said.site} has {gaps}, {span(said.get('gap_h'))} in all"
        )
    if said.get("dead"):
        parts.append(
            f"The panel of {said.site} told nothing for up to {span(said.get('dead_h'))} before it "
            f"started again{'' if said.get('gaps') else ' on ' + said.until}: it may have been dead"
        )
    if said.get("rows"):
        parts.append(
            f"The memory of the panel at {said.site} holds {plain(said.get('rows'))} rows and "
            f"reaches back only {span(said.get('covers_h'))}: older events were overwritten"
        )
    told = ". ".join(parts) or f"The log of {said.site} has gaps"
    return told + ". No figure of this site counts time that is not covered."


def _siren(said: Said) -> bool:
    return bool(said.figures.get("siren"))


def _whose(said: Said, what: str) -> str:
    if said.subject_kind == Subject.SITE:
        return f"{what} of the system at {said.site}"
    return f"{what} of {said.subject}"


def doubt(said: Said) -> str:
    """Say that what stands may be over, where a log tells no ends."""
    told = said.figures.get("ends_told") is not False
    return "" if told else "; this log tells no end of anything, so it may be over"
