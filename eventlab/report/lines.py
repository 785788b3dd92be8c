"""Events and episodes as text for a terminal, a line each."""

from collections.abc import Mapping

import polars as pl

from eventlab.report.text import clean, user
from eventlab.schema import Timing


def events_as_text(events: pl.DataFrame) -> str:
    """Write events a line each: when, where, what, who, and the wording as logged.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT columns.

    Returns
    -------
    str
        Times in UTC; one that cannot be trusted is marked.
    """
    if events.is_empty():
        return "No event is stored.\n"
    lines = []
    for row in events.iter_rows(named=True):
        when = f"{row['placed']:%Y-%m-%d %H:%M:%S}Z"
        sure = "" if row["timing"] in {Timing.SURE, Timing.BY_ORDER} else f" ({row['timing']})"
        what = " ".join(str(row[k]) for k in ("kind", "phase", "mode") if row[k])
        who = ", ".join(
            f"{name} {row[name]}" for name in ("area", "zone", "person") if row[name] is not None
        )
        said = row["raw"] if row["problem"] else row["text"] or row["code"] or ""
        parts = [f"{when}{sure}", row["site"], what, who, f"“{said}”" if said else ""]
        parts.append(row["problem"] or "")
        lines.append("  ".join(clean(part) for part in parts if part))
    return "\n".join(lines) + "\n"


def episodes_as_text(episodes: pl.DataFrame, basis: str | None = None) -> str:
    """Write episodes two lines each: when and where, and what may have caused them.

    Parameters
    ----------
    episodes : polars.DataFrame
        Episodes with ``causes``.
    basis : str, optional
        What the probabilities are from, as ``odds_from`` says it.

    Returns
    -------
    str
        Times in UTC.
    """
    if episodes.is_empty():
        return "No alarm is stored.\n"
    lines = []
    for row in episodes.iter_rows(named=True):
        points = ", ".join(str(p) for p in row["points"] or [] if p is not None)
        where = f"area {row['area']}" if row["area"] is not None else "no area told"
        alarms = f"{row['alarms']} alarm" + ("" if row["alarms"] == 1 else "s")
        lines.append(
            clean(
                f"{row['since']:%Y-%m-%d %H:%M:%S}Z  {row['site']}, {where}: {alarms}"
                + (f" of point {points}" if points else "")
                + _ended(row)
            )
        )
        lines.append(clean(f"    {_causes(row)}"))
    if basis:
        lines.append(f"Causes: {basis}.")
    return "\n".join(lines) + "\n"


def odds_from(calibration: pl.DataFrame) -> str:
    """Say what the probabilities of causes are from.

    Parameters
    ----------
    calibration : polars.DataFrame
        CALIBRATION columns: what recorded outcomes taught.

    Returns
    -------
    str
        Without a full stop.
    """
    if calibration.is_empty():
        return "from the table of common practice, no outcomes recorded"
    many = int(calibration["outcomes"][0])
    noun = "outcome" if many == 1 else "outcomes"
    return f"from {many} recorded {noun}; sites that were visited are no random sample"


def _ended(row: Mapping[str, object]) -> str:
    after = row["disarm_after_s"]
    if row["standing"]:
        return "; still open where the log ends"
    if not isinstance(after, float):
        return ""
    told = f"{after:.0f} s" if after < 600 else f"{after / 3600:.1f} h"
    who = f" by {user(row['disarmed_by'])}" if row["disarmed_by"] else ""
    return f"; disarmed {told} later{who}"


def _causes(row: Mapping[str, object]) -> str:
    if row["life_safety"]:
        return "life safety: have it examined by a licensed person; treat every call as real"
    causes = row["causes"]
    if row["aside"] or not isinstance(causes, list) or not causes:
        return "set aside: on test, in service or after a restart"
    ranked = sorted(causes, key=lambda one: -one["probability"])[:3]
    told = [f"{one['cause']} {100 * one['probability']:.0f} %" for one in ranked]
    if row.get("driver"):
        told[0] += f" ({row['driver']})"
    return ", ".join(told)
