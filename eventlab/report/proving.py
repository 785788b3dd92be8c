"""Proof in words: what changed, what it comes to, what would settle it."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import polars as pl

from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.meaning.clock import to_wall
from eventlab.report.text import clean, wrapped
from eventlab.report.words import count, joined, plain
from eventlab.schema import Verdict

BAD_MONTH, BAD_NIGHTS = 1.5, 3
"""A month with so many times the usual alarm nights, and so many of them, was a bad one."""
WAIT = 730
"""Nobody waits longer than so many nights to settle anything."""
TWO_YEARS = 550
"""Nights from which on a log holds most of the year twice."""


def proof_in_words(proof: pl.DataFrame, ground: Ground, context: Context) -> pl.DataFrame:
    """Say what each proof comes to.

    Parameters
    ----------
    proof : polars.DataFrame
        Columns of ``advice.PROOF``, and any others.
    ground : Ground
        Names of points, time zones.
    context : Context
        Names of sites.

    Returns
    -------
    polars.DataFrame
        With ``day`` (the site's own date), ``subject``, ``statement`` (before and after),
        ``verdict_told`` (what it comes to and why), ``settles`` and ``regression`` (null where
        there is nothing to say).
    """
    names = context.sites.select("site", site_name="name").unique("site", keep="first")
    zones = ground.sites.select("site", home=pl.col("time_zone").fill_null("UTC"))
    points = (
        ground.points.filter(pl.col("zone").is_not_null())
        .select("site", "zone", "name")
        .unique(["site", "zone"], keep="first", maintain_order=True)
    )
    dressed = (
        proof.join(names, on="site", how="left", maintain_order="left")
        .join(zones, on="site", how="left", maintain_order="left")
        .join(points, on=["site", "zone"], how="left", maintain_order="left")
        .with_columns(pl.col("home").fill_null("UTC"))
    )
    wall = to_wall(to_wall(dressed, "at", "home", "wall"), "proven_at", "home", "proven_wall")
    said = [_said(row) for row in wall.iter_rows(named=True)]
    schema = {"day": pl.String(), "subject": pl.String(), "statement": pl.String(),
              "verdict_told": pl.String(), "settles": pl.String(),
              "regression": pl.String()}  # fmt: skip
    return proof.hstack(pl.DataFrame(said, schema=schema, orient="row"))


def proof_as_text(told: pl.DataFrame) -> str:
    """Write proofs for a terminal.

    Parameters
    ----------
    told : polars.DataFrame
        As `proof_in_words` gives it; ``work`` where a visit tells it.

    Returns
    -------
    str
        A block for each.
    """
    if told.is_empty():
        return "No visit to this site is on file; name a date with --at.\n"
    blocks = []
    for row in told.iter_rows(named=True):
        visit = f"visit {row['visit']}: " if row.get("visit") is not None else ""
        work = f" ({row['work']})" if row.get("work") else ""
        body = [
            row["verdict"].upper(),
            row["statement"],
            row["verdict_told"],
            row["settles"],
            row["regression"],
            _figures(row),
        ]
        lines = [clean(f"{visit}{row['subject']}, {row['day']}{work}")]
        lines += [line for one in body if one for line in wrapped(one, "  ", "  ")]
        blocks.append("\n".join(lines))
    caution = " ".join(dict.fromkeys(told["caution"]))
    return "\n\n".join([*blocks, "\n".join(wrapped(f"Mind: {caution}", "", ""))]) + "\n"


def _figures(row: Mapping[str, Any]) -> str:
    if row["p_exact"] is None or not row["before_days"] + row["after_days"]:
        return ""
    return (
        f"rate after over before {_between(row)}; p = {row['p_exact']:.3g} exact, "
        f"{row['p_mid']:.3g} mid-p, given the sum"
    )


def _between(row: Mapping[str, Any]) -> str:
    low = _two(row["ratio_low"])
    if row["ratio"] is None:
        return f"at least {low}"
    top = "more" if row["ratio_high"] is None else _two(row["ratio_high"])
    return f"{_two(row['ratio'])} ({low} to {top})"


def _two(value: float) -> str:
    return plain(value, 2 if value < 1 else 1 if value < 10 else 0)


def _said(row: Mapping[str, Any]) -> tuple[str | None, ...]:
    site = row["site_name"] or f"site {row['site']}"
    name = f" ({row['name']})" if row["name"] else ""
    subject = site if row["zone"] is None else f"point {row['zone']}{name}"
    day = _day(row["wall"])
    if row["life_safety"]:
        return (day, subject, _life(subject, day), _service(row, subject), None, None)
    return (
        day,
        subject,
        _statement(row, subject, day),
        _verdict(row),
        _settles(row),
        _regression(row),
    )


def _day(wall: datetime | None) -> str:
    return "a date not known" if wall is None else f"{wall.day} {wall:%b %Y}"


def _life(subject: str, day: str) -> str:
    return (
        f"{_upper(subject)} is a life-safety point: nothing is said of how often it alarms before "
        f"or after {day}, only whether it is in service. Have it examined by a licensed person, "
        "and treat every call from it as real until then."
    )


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _side(row: Mapping[str, Any], side: str) -> str:
    nights = row[f"{side}_nights"]
    if not nights:
        return "no night at risk"
    days = row[f"{side}_days"]
    alarms = f" ({count(row[f'{side}_alarms'], 'alarm')})" if row[f"{side}_alarms"] > days else ""
    return f"{count(days, 'alarm night')}{alarms} in {_time(row, nights, row[f'{side}_hours'])}"


def _time(row: Mapping[str, Any], nights: float, hours: float) -> str:
    if row["basis"] == "calendar":
        return count(nights, "calendar day")
    unit = "armed" if row["basis"] == "armed" else "covered"
    return f"{plain(nights)} {unit} {'night' if nights == 1 else 'nights'} ({plain(hours)} h)"


def _statement(row: Mapping[str, Any], subject: str, day: str) -> str:
    since = ""
    if row["rose"] is not None:
        since = f" from {row['rose'].day} {row['rose']:%b %Y}, when its alarms became more frequent"
    return (
        f"{_upper(subject)}: {_side(row, 'before')} before {day}{since}; "
        f"{_side(row, 'after')} after."
    )


def _service(row: Mapping[str, Any], subject: str) -> str:
    if row["verdict"] == Verdict.OUT:
        return f"Not in service where the log ends: {row['in_force']}."
    if row["verdict"] == Verdict.IN:
        return f"In service: {_proven(row)}."
    return f"Nothing in this log shows yet that {subject} still detects: have it tested."


def _proven(row: Mapping[str, Any]) -> str:
    return f"it was seen to detect since ({row['proven_by']}, {_day(row['proven_wall'])})"


def _verdict(row: Mapping[str, Any]) -> str:
    verdict = row["verdict"]
    if verdict == Verdict.OUT:
        return (
            f"Not in service where the log ends ({row['in_force']}): quiet proves nothing until "
            "that is lifted."
        )
    if verdict == Verdict.BETTER:
        whole = row["zone"] is None
        still = "every point that had alarmed was seen to detect since" if whole else _proven(row)
        return f"Better: fewer alarm nights than chance would bring, and {still}.{_season(row)}"
    if verdict == Verdict.QUIET:
        points = row["unproven"] or []
        who = f" of {'point' if len(points) == 1 else 'points'} {joined(points[:6])}"
        which = who if row["zone"] is None and points else ""
        return (
            "Quiet, not yet proven to detect: fewer alarm nights than chance would bring, but no "
            f"walk test, movement or alarm{which} since. A dead detector is quiet too: "
            f"walk-test it.{_season(row)}"
        )
    if verdict == Verdict.WORSE:
        return f"Worse: more alarm nights than chance would bring.{_season(row)}"
    for side in ("before", "after"):
        if not row[f"{side}_hours"]:
            return f"No evidence yet: this log covers no time at risk {side} that date."
    if not row["before_days"] and not row["after_days"]:
        return "No evidence yet: no alarm before and none after, so this log cannot show a change."
    return "No evidence yet: chance alone brings such a difference often enough."


def _season(row: Mapping[str, Any]) -> str:
    """Say that a season may do the same, where no other year tells."""
    if row["before_nights"] + row["after_nights"] >= TWO_YEARS:
        return ""
    return " The log holds no other year, so a season may be behind it."


def _settles(row: Mapping[str, Any]) -> str | None:
    more = row["more_nights"]
    if more is None:
        return None
    what = "calendar day" if row["basis"] == "calendar" else "armed night"
    if row["basis"] == "always":
        what = "night"
    hours = "" if row["basis"] == "calendar" else f" ({plain(row['more_hours'])} h)"
    if more > WAIT:
        return "Too few alarms came before for any quiet that somebody would wait for to settle it."
    test = "" if row["proven_at"] is not None else ", together with a walk test"
    return f"{_upper(count(more, f'more quiet {what}'))}{hours} would settle it{test}."


def _regression(row: Mapping[str, Any]) -> str | None:
    month, nights = row["month_days"], row["month_nights"]
    usual, expected = row["usual_30"], row["expected_30"]
    if month is None or month < BAD_NIGHTS or row["rose"] is not None:
        return None
    if row["verdict"] == Verdict.WORSE or month / nights * 30 < BAD_MONTH * usual:
        return None
    return (
        f"The last {count(nights, 'night')} before it were a bad time: "
        f"{count(month, 'alarm night')}, where {plain(usual, 1)} in 30 are usual here. After "
        f"such a time about {plain(expected, 1)} in 30 would follow without any work."
    )
