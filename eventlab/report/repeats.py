"""Sentences of points that trip again, follow another, or that a storm sets off."""

from eventlab.report.said import Said
from eventlab.report.words import count, plain, ratio, seconds_told, times

_BASIS = {"armed": "armed", "calendar": "calendar"}


def chattering(said: Said) -> str:
    """Say that a point comes and goes, and by which rule that was seen."""
    bursts = said.get("bursts")
    nights = count(said.get("nights"), "night")
    if said.figures.get("rule") == "floor":
        shortest = seconds_told(said.get("floor_s"), said.number("grain") or 1)
        runs = count(bursts, "run")
        return (
            f"{said.subject} trips again and again, each time as soon as it can tell it "
            f"({shortest} after the one before, the shortest spacing it shows): up to "
            f"{plain(said.get('most'))} alarms in a row, {runs} on {nights}{_against(said)}."
            f"{_rides(said)}"
        )
    return (
        f"{said.subject} chatters: up to {plain(said.get('most'))} times in a minute, "
        f"{count(bursts, 'burst')} on {nights}{_against(said)}.{_rides(said)}"
    )


def swinger(said: Said) -> str:
    """Say that a point trips again within one armed period, and what hides how often."""
    half = seconds_told(said.get("half_s"), said.number("grain") or 1)
    if said.get("half_s") >= 120:
        half = f"about {plain(said.get('half_s') / 60)} min"
    limit = said.number("limit")
    seen = "" if said.figures.get("limit_basis") == "listed" else " as far as this log shows"
    hidden = ""
    if limit is not None:
        hidden = (
            f" It is out after {count(limit, 'alarm')} of an armed period{seen}, so how often it "
            "would have tripped is not known."
        )
    return (
        f"{said.subject} trips again within one armed period: in {plain(said.get('swinging'))} of "
        f"the {count(said.get('tripped'), 'armed period')} in which it alarmed, half of them "
        f"within {half}, {times(said.get('most'))} at most{_against(said)}.{hidden}{_rides(said)}"
    )


def follows_point(said: Said) -> str:
    """Say that a point alarms only just after another."""
    leader, name = said.figures.get("leader"), said.figures.get("leader_name")
    other = "any other point of the site"
    if leader:
        other = f"point {leader}" + (f" ({name})" if name else "")
    within = seconds_told(said.get("longest_s"), said.number("grain") or 1)
    return (
        f"{said.subject} hardly alarms but just after {other}: on {plain(said.get('followed'))} of "
        f"{count(said.get('nights'), 'night')} its first alarm came within {within} of it. "
        "A shared supply, or cables side by side, does that; a possible intrusion stays one."
    )


def follows_siren(said: Said) -> str:
    """Say that a point alarms as the siren stops, whoever set it off."""
    shortest, longest = (said.get(name) for name in ("shortest", "longest"))
    grain = said.number("grain") or 1
    about = f"{plain((shortest + longest) / 120)} min"
    return (
        f"{said.subject} alarms as the siren stops: on {plain(said.get('followed'))} of "
        f"{count(said.get('nights'), 'night')} on which it alarmed after another point, its first "
        f"alarm came about {about} after the alarm that set the siren off, by no more than "
        f"{seconds_told(longest - shortest, grain)} sooner or later. What the end of a siren sets "
        "off is not seen in any log itself; a possible intrusion stays one."
    )


def after_visit(said: Said) -> str:
    """Say after how many visits a point alarmed, and how usual that is."""
    nights = count(said.get("wide"), "night")
    return (
        f"{said.subject} alarms after visits: after {plain(said.get('followed'))} of "
        f"{count(said.get('visits'), 'visit')} it alarmed within {nights} at risk; after any "
        f"night it does so {plain(100 * said.get('share'))} times in 100. Something that the work "
        "touched, moved or left loose does that."
    )


def storm_burst(said: Said) -> str:
    """Say in what weather several points tripped together."""
    gust, rain = said.number("gust"), said.number("rain")
    weather = []
    if gust is not None:
        weather.append(f"gusts up to {plain(gust, 1)} m/s")
    if rain:
        weather.append(f"up to {plain(rain, 1)} mm of rain in the hour")
    if said.get("shared"):
        weather.append(f"other sites near by had the same on {count(said.get('shared'), 'night')}")
    what = f" ({', '.join(weather)})" if weather else ""
    return (
        f"On {count(said.get('nights'), 'night')} up to {plain(said.get('points'))} points of "
        f"{said.site} alarmed within seconds of each other in a storm{what}, and every "
        "opening closed again. That is the weather of those hours only: "
        "it takes no possible intrusion away."
    )


def _against(said: Said) -> str:
    """Say how many alarms in how many hours, and how that stands against the other points."""
    hours = said.get("hours")
    if hours <= 0:
        return ""
    kind = _BASIS.get(str(said.figures.get("basis")), "covered")
    often = ratio(said.ratio, said.ratio_low, said.ratio_high)
    against = (
        f", on {often.replace('times as often', 'times as many nights')} as the other points"
        if often
        else ""
    )
    return f": {count(said.get('alarms'), 'alarm')} in {plain(hours)} {kind} hours{against}"


def _rides(said: Said) -> str:
    """Say on what most of its alarms ride."""
    what = said.figures.get("rides")
    if not what:
        return ""
    return (
        f" Most of its alarms ({plain(said.get('rides_n'))} of {plain(said.get('rides_of'))}) come "
        f"within minutes of {what}: look at that first."
    )
