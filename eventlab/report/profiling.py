"""What is seen of one point: its own sentence, one for each chart, and what its log cannot show."""

from collections.abc import Mapping

import numpy as np
import polars as pl

from eventlab.analysis.drivers import CHARTS, LEAST_DAYS, Profile
from eventlab.analysis.drivers.naming import WORDS
from eventlab.ground import Basis, Ground, Power, Restores, Told
from eventlab.report.driving import when
from eventlab.report.said import Said
from eventlab.report.words import count, percent, plain, span
from eventlab.schema import Health
from eventlab.stats import rate_interval

MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July", "August", "September"),
    *("October", "November", "December"),
)

_CHANCE = {
    "sun": "No difference by sun or darkness that chance would not make",
    "clock": "No time of day stands out beyond chance",
    "weekday": "No day of the week and no week of the month stands out beyond chance",
    "temperature": "Held to the same hours of other days, neither heat nor cold makes a difference "
    "that chance would not make",
    "wind": "Held to the same hours of other days, not more often in strong wind than chance "
    "has it",
    "rain": "Held to the same hours of other days, not more often in rain or after it than chance "
    "has it",
    "arming": "Not more often within two hours of arming than chance has it; what comes later is "
    "told by the clock and the sun",
    "area": "Not more often within an hour of another area's opening or closing than chance has it",
}
"""What was asked of each chart, where the answer is no."""
PROVEN = ("leads", "rival", "follows")
"""Places of what is seen beyond chance, the strongest first."""

_MISSING = {
    "arming": f"{Health.NOT_RECORDED}: this log does not tell when the point was armed, so there "
    "are no hours to hold its alarms against.",
    "always": "This point watches at all hours; arming plays no part.",
    "alone": "No other area here is opened or closed in this log, so none can play a part.",
    "place": f"{Health.NOT_RECORDED}: where the site stands. A latitude and a longitude in the "
    "list of sites would show the sun.",
    "weather": f"{Health.NOT_RECORDED}: the weather here. A file of hourly weather would show it.",
    "measure": f"{Health.NOT_RECORDED}: the weather that was brought in does not tell it.",
    "uncovered": f"{Health.NOT_COVERED}: the weather that was brought in tells no hour in which "
    "this point could alarm.",
}
_TAMPERS = "tamper day"
_ALARMS = "alarm day"


def of_hours(profile: Profile) -> str:
    """Name the hours at risk of a point: ``armed hours``, ``covered hours``."""
    armed = profile.basis == Basis.ARMED and profile.family == "alarm"
    return "armed hours" if armed else "covered hours"


def point_sentence(point: Mapping[str, object], profile: Profile | None) -> str:
    """Say of one point how often it alarms, over which hours.

    Parameters
    ----------
    point : mapping
        Its ``zone``, ``within``, ``name``, ``life_safety``.
    profile : Profile or None
        As ``analysis.drivers.profile`` gives it.

    Returns
    -------
    str
        With its interval; of a life-safety point, that none of its calls is explained.
    """
    who = f"Point {point['zone']}"
    if point.get("within"):
        who += f" of area {point['within']}"
    if point.get("name"):
        who += f" ({point['name']})"
    if point.get("life_safety") or profile is None:
        return (
            f"{who} is a life-safety point: every call from it is treated as real, and none is "
            "explained away here. Have it examined by a licensed person."
        )
    if not profile.hours:
        return f"{who} has no rate: this log does not tell when it was armed."
    hours = f"{plain(profile.hours)} {of_hours(profile)}"
    rate = rate_interval(profile.alarms, profile.hours / 100)
    low, high = float(rate.low), float(rate.high)
    day = _TAMPERS if profile.family == "tamper" else _ALARMS
    told = "that nothing ordinary accounts for"
    if not profile.alarms:
        return f"{who} had no {day} {told} in {hours}: at most {_two(high)} in 100 of them."
    return (
        f"{who} had {count(profile.alarms, day)} {told} in {hours}: {_two(float(rate.estimate))} "
        f"in 100 of them ({_two(low)} to {_two(high)})."
    )


def chart_sentences(profile: Profile) -> dict[str, str]:
    """Say of each chart of a point what it shows.

    Parameters
    ----------
    profile : Profile
        As ``analysis.drivers.profile`` gives it.

    Returns
    -------
    dict of str to str
        By chart: ``sun``, those of ``CHARTS``, ``gaps``. What leads comes first, then what else is
        proven, then the rest.
    """
    verdicts = {row["chart"]: row for row in profile.verdicts.iter_rows(named=True)}
    leads = next((row for row in verdicts.values() if row["place"] == "leads"), None)
    rival = next((row for row in verdicts.values() if row["place"] == "rival"), None)
    every = [chart for chart in ("sun", *CHARTS) if chart not in profile.missing]
    first = [c for place in PROVEN for c in every if verdicts.get(c, {}).get("place") == place]
    rest = [c for c in every if c not in first]
    told = {c: _chart(profile, verdicts.get(c), leads, rival) for c in (*first, *rest)}
    told["gaps"] = _gaps(profile)
    return told | {c: _MISSING[why] for c, why in profile.missing.items()}


def _chart(
    profile: Profile,
    row: dict[str, object] | None,
    leads: dict[str, object] | None,
    rival: dict[str, object] | None,
) -> str:
    day = _TAMPERS if profile.family == "tamper" else _ALARMS
    if not profile.alarms:
        return f"No {day}: nothing to tell yet."
    if row is None or row["place"] == "few":
        return (
            f"{count(profile.alarms, day)}: fewer than {LEAST_DAYS} can prove nothing, so nothing "
            "is said of them."
        )
    hits, days, share = (float(str(row[name])) for name in ("hits", "days", "share"))
    of = f"{percent(share)} of the {of_hours(profile)}"
    count_of = f"{plain(hits)} of {count(days, day)}"
    if row["place"] == "beside":
        return "No month stands out beyond chance."
    if row["place"] == "apart":
        name = MONTHS[int(float(str(row["from"]))) - 1]
        return (
            f"{name} holds {count_of} in {of}. That is a hint only: months are not screened, and "
            "bad spells make such a difference too."
        )
    if row["place"] == "chance":
        return f"{_CHANCE[str(row['chart'])]}."
    figures = {"driver": row["driver"], "from": row["from"], "to": row["to"]}
    figures |= {"level": row["level"], "high": row["high"]}
    condition = when(Said("", "", "", standing=False, since="", until="", figures=figures))
    verb = "falls" if hits == 1 else "fall"
    said = f"{count_of} {verb} {condition}; that is {of}."
    other = rival if row["place"] == "leads" else leads
    if other is None:
        return said
    name = WORDS[str(other["driver"])]
    if row["place"] == "follows":
        return f"{said} But {name} tells these days better, and the two go together here."
    return f"{said} Whether it is that or {name} cannot be told apart yet."


def _gaps(profile: Profile) -> str:
    if profile.gaps.is_empty():
        return "Fewer than two alarms or activations with a sure time: there is no gap to tell."
    many = profile.gaps["many"].to_numpy()
    total = int(many.sum())
    half = int(np.searchsorted(np.cumsum(many), total / 2))
    low = float(profile.gaps["low_s"][half])
    short = int(profile.gaps.filter(pl.col("high_s") <= _BURST_S)["many"].sum())
    of = f"Of {count(total, 'gap')} from one alarm or activation to the next, {short} "
    least = f"half are {span(low / 3600)} or longer" if low else "half are shorter than that"
    told = f"{of}{'is' if short == 1 else 'are'} shorter than {span(_BURST_S / 3600)}"
    return f"{told}; {least}." if total >= _FEW_GAPS else f"{told}."


_BURST_S = 600
_FEW_GAPS = 8


def point_limits(
    ground: Ground, site: str, point: Mapping[str, object], profile: Profile | None
) -> list[str]:
    """Say what the log of a site cannot show of one of its points.

    Parameters
    ----------
    ground : Ground
        Powers and exposure.
    site : str
        Which site.
    point : mapping
        Its ``zone``, ``within``, ``detector``, ``left_out_h``.
    profile : Profile or None
        As ``analysis.drivers.profile`` gives it.

    Returns
    -------
    list of str
        One sentence each; empty where nothing is missing.
    """
    powers = ground.powers.filter(pl.col("site") == site)
    has = {
        power: set(powers.filter(pl.col("power") == power)["value"].to_list()) for power in Power
    }
    told = []
    if Told.YES not in has[Power.ACTIVATIONS]:
        told.append("Movement and opening while not armed are not recorded.")
    if Told.NO in has[Power.ENDS] and Told.YES not in has[Power.ENDS]:
        told.append("The end of nothing is recorded, so it is not known how long it stayed open.")
    elif has[Power.RESTORES] and Restores.LIVE not in has[Power.RESTORES]:
        told.append("When it closed again is not recorded.")
    if profile is None:
        return told
    if profile.grain_s >= 60:
        told.append(f"Times are told in steps of {span(profile.grain_s / 3600)}.")
    left_out = float(str(point.get("left_out_h") or 0))
    if left_out >= 1:
        told.append(
            f"{plain(left_out)} hours of part arming are left out: whether it counts then is not "
            "known."
        )
    sun = profile.verdicts.filter(pl.col("chart") == "sun", pl.col("place").is_in(PROVEN))
    if profile.facing is None and sun.height:
        told.append("Which way it faces is not listed; with it the sun could be told more surely.")
    return told


def _two(value: float) -> str:
    """Write a rate with two figures."""
    if value >= 10:
        return plain(value)
    return plain(value, 1 if value >= 1 else 2)
