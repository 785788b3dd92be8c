"""Taking what is known of sites from outside their logs."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import polars as pl

from eventlab.context import (
    Context,
    Parsed,
    is_climate,
    nearest_stations,
    outcome_cause,
    parse,
    parse_climate,
    recognise,
)
from eventlab.intake import Sheet
from eventlab.lab.result import FileResult
from eventlab.lab.working import SAME_ROW, TABLES, joined_in
from eventlab.schema import Role
from eventlab.settings import Settings
from eventlab.store import Store

_FIRST_LINES = 8192
_SHOWN = 8
_USUAL = ("user error", "door not shut", "weather", "faulty contact", "mains failure", "burglary",
          "no cause found")  # fmt: skip


def take_context(
    store: Store | None,
    blank: FileResult,
    sheet: Sheet,
    original: Path | bytes,
    context: Context,
    answers: Mapping[str, str],
) -> tuple[FileResult, Context]:
    """Take a site list, zone schedule, weather, visits, outcomes or opening hours.

    Parameters
    ----------
    store : Store or None
        Where to; with None it is read and nothing is kept.
    blank : FileResult
        What is known of the file before.
    sheet : Sheet
        The file.
    original : Path or bytes
        Its bytes; they are kept while a question waits.
    context : Context
        What is known of sites before.
    answers : mapping of str to str
        What a person said.

    Returns
    -------
    tuple of FileResult and Context
        What became of the file, and what is known now.
    """
    role = blank.role or Role.SITES
    parsed, rows = _parsed(role, sheet, original, context, answers)
    bad = parsed.problems["row"].n_unique()
    result = replace(
        blank,
        sha256=sheet.sha256,
        lines=sheet.lines,
        rows=rows,
        other=sheet.lines - rows,
        read=rows - bad,
        unread=bad,
        questions=parsed.questions,
        evidence=sheet.evidence,
        notes=parsed.notes,
        not_understood=parsed.problems.group_by(text="raw", problem="problem")
        .len("count")
        .cast({"count": int}),
    )
    if parsed.questions:
        if store is not None:
            store.keep(original, sha256=sheet.sha256, name=sheet.name)
        return result, context
    name, _, key = TABLES[role]
    if store is not None and parsed.frame.height:
        store.put(name, parsed.frame, key=SAME_ROW.get(role, key), replaces=key)
    if store is not None:
        store.let_go(sheet.sha256)
    known = joined_in(context, role, parsed.frame)
    if role is Role.WEATHER:
        result = replace(result, notes=(*result.notes, *_whose(known)))
    if role is Role.OUTCOMES:
        result = replace(result, notes=(*result.notes, *_unknown_outcomes(parsed.frame)))
    return result, known


def _unknown_outcomes(outcomes: pl.DataFrame) -> list[str]:
    """Tell the outcomes whose words name no cause, or more than one."""
    said = outcomes.drop_nulls("outcome")
    unknown = (
        said.filter(outcome_cause(pl.col("outcome")).is_null())
        .group_by("outcome")
        .len("rows")
        .sort("rows", "outcome", descending=[True, False])
    )
    if unknown.is_empty():
        return []
    shown = ", ".join(f"“{text}” ({rows})" for text, rows in unknown.head(_SHOWN).iter_rows())
    more = f" and {unknown.height - _SHOWN} more" if unknown.height > _SHOWN else ""
    told = f"outcomes whose words name no one cause, kept and not learned from: {shown}{more}"
    return [f"{told}; usual words: {', '.join(_USUAL)}"]


def context_role(data: bytes, sheet: Sheet) -> Role | None:
    """Tell what kind of context file it is; None where it is none.

    Parameters
    ----------
    data : bytes
        The file, or its start.
    sheet : Sheet
        The same, opened.
    """
    return Role.WEATHER if is_climate(data[:_FIRST_LINES]) else recognise(sheet.header)


def _parsed(
    role: Role,
    sheet: Sheet,
    original: Path | bytes,
    context: Context,
    answers: Mapping[str, str],
) -> tuple[Parsed, int]:
    """Return what the file says, and how many rows it has."""
    if role is Role.WEATHER:
        data = original if isinstance(original, bytes) else original.read_bytes()
        if is_climate(data[:_FIRST_LINES]):
            parsed = parse_climate(data, name=sheet.name, answers=answers)
            return parsed, parsed.frame.height
    parsed = parse(role, sheet, sites=context.sites, answers=answers)
    return parsed, sheet.rows - (parsed.units_row is not None)


def _whose(context: Context) -> list[str]:
    """Tell which sites the stations of the weather are near to."""
    within = Settings().weather_within_km
    sites = context.sites.select("site", "latitude", "longitude")
    if sites.is_empty() or context.weather["latitude"].null_count() == context.weather.height:
        return []
    nearest = nearest_stations(sites, context.weather, within_km=within)
    of = nearest.drop_nulls("station").group_by("station").agg(pl.len(), pl.max("distance_km"))
    told = [
        f"weather of {station}: the nearest for {sites} of the sites, up to {far:.0f} km away"
        for station, sites, far in of.sort("station").iter_rows()
    ]
    without = nearest["station"].null_count()
    if without:
        told.append(
            f"no weather station within {within:.0f} km, or no place told: {without} of the sites"
        )
    return told
