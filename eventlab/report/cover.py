"""What a log covers and what it can show, in the sentence that opens every page."""

import polars as pl

from eventlab.analysis.log_gap import RINGS, overwritten
from eventlab.ground import Arming, Ground, Power, Restores, Told
from eventlab.report.words import count, joined, plain, span

_MINUTE_S = 60


def coverage_sentence(ground: Ground, site: str, *, rings: tuple[int, ...] = RINGS) -> str:
    """Say what the log of a site covers and what it records.

    Parameters
    ----------
    ground : Ground
        Coverage, powers and rows of the site.
    site : str
        Which site.
    rings : tuple of int, optional
        Numbers of rows at which an event memory is taken to be full.

    Returns
    -------
    str
        Such as ``This log covers 11 days (212 armed hours); it records alarms and arming, not
        movement by day; older events were overwritten.``
    """
    here = pl.col("site") == site
    row = ground.sites.filter(here)
    if row.is_empty():
        return "There is no log of this site: nothing is known."
    hours = float(row["covered_hours"][0] or 0)
    armed = float(row["armed_hours"][0] or 0)
    powers = ground.powers.filter(here)
    values = {
        str(power): set(powers.filter(pl.col("power") == power)["value"].to_list())
        for power in Power
    }
    arming = Arming.ALL in values[Power.ARMING]
    told = f" ({plain(armed)} armed hours)" if arming else ""
    parts = [f"This log covers {_covered(hours)}{told}", _records(values)]
    if arming and row["arming_reliable"][0] is False:
        parts.append("its arming contradicts its alarms, so nothing rests on it")
    grain = [int(float(value)) for value in values[Power.GRAIN] if value]
    if grain and max(grain) > _MINUTE_S:
        parts.append(f"its clock counts in steps of {plain(max(grain) / _MINUTE_S)} min")
    elif grain and max(grain) == _MINUTE_S:
        parts.append("its clock tells no seconds")
    if ground.clocks.filter(here & pl.col("shifted")).height:
        parts.append("its clock was wrong, and times are put right")
    gaps = ground.coverage.filter(here).height - 1
    if gaps > 0:
        parts.append(f"{count(gaps, 'gap')} in between {'is' if gaps == 1 else 'are'} not covered")
    if overwritten(ground.events.filter(here), rings).height:
        parts.append("older events were overwritten")
    return "; ".join(parts) + "."


def _covered(hours: float) -> str:
    return count(hours / 24, "day") if hours >= 48 else span(hours)


def _records(values: dict[str, set[str]]) -> str:
    seen, not_seen = ["alarms"], []
    arming = values[Power.ARMING]
    if Arming.ALL in arming:
        seen.append("arming")
    elif Arming.AFTER_ALARM in arming:
        not_seen.append("arming, except after an alarm")
    else:
        not_seen.append("arming")
    moving = Told.YES in values[Power.ACTIVATIONS]
    (seen if moving else not_seen).append("movement by day")
    if Told.NO in values[Power.ENDS] and Told.YES not in values[Power.ENDS]:
        not_seen.append("the end of anything")
    elif Restores.LIVE not in values[Power.RESTORES]:
        not_seen.append("when a point closes again")
    text = f"it records {joined(seen)}"
    return f"{text}, not {joined(not_seen, 'or')}" if not_seen else text
