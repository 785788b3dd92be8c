"""When a site is usually opened and closed, and when it was not."""

from dataclasses import dataclass, field

import polars as pl

from eventlab.analysis.habits import CLOSED_DAY, bands, habits
from eventlab.context import Context
from eventlab.lab.standing import Standing
from eventlab.report import hours_notes, hours_sentence, hours_words, once_in
from eventlab.schema import UTC, WALL, Pattern, Schema, conform
from eventlab.settings import Settings

BANDS: Schema = {
    "area": pl.String(),
    "weekday": pl.Int8(),
    "what": pl.String(),
    "shift": pl.Int64(),
    "low_h": pl.Float64(),
    "middle_h": pl.Float64(),
    "high_h": pl.Float64(),
    "days": pl.Int64(),
    "of": pl.Int64(),
    "basis": pl.String(),
}
EXCEPTIONS: Schema = {
    "area": pl.String(),
    "date": pl.Date(),
    "at": UTC,
    "local": WALL,
    "what": pl.String(),
    "hours": pl.Float64(),
    "person": pl.String(),
    "who": pl.String(),
    "zone": pl.String(),
    "usual": pl.String(),
    "how_unusual": pl.String(),
    "times": pl.Int64(),
    "of": pl.Int64(),
    "rate": pl.Float64(),
    "rate_low": pl.Float64(),
    "rate_high": pl.Float64(),
    "basis": pl.String(),
}
NIGHTS: Schema = {
    "area": pl.String(),
    "date": pl.Date(),
    "since": WALL,
    "until": WALL,
    "hours": pl.Float64(),
    "standing": pl.Boolean(),
    "refused": pl.Boolean(),
    "why": pl.String(),
    "zone": pl.String(),
}


def _none(schema: Schema) -> pl.DataFrame:
    return pl.DataFrame(schema=schema)


@dataclass(frozen=True)
class UsualHours:
    """When a site is usually opened and closed, and when it was not.

    All times are wall times of the site. People are told by number, never by name; the timer, a
    key switch, a remote command and the system are no people and are told as what they are.

    Parameters
    ----------
    site, time_zone : str
        Whose hours; ``time_zone`` of the wall times (``UTC`` where the site's is not known).
    recorded : bool
        Whether this log tells all openings and closings; where not, all frames are empty and
        ``notes`` says what would be needed.
    bands : polars.DataFrame
        A row per area, weekday, ``what`` and shift, of the last weeks of the log: ``area`` (null
        where the site is one), ``weekday`` (1 Monday to 7 Sunday, the day on which the place was
        opened), ``what`` (``opening`` or ``closing``), ``shift`` (1, 2, … over the day),
        ``low_h``, ``middle_h``, ``high_h`` (hours after midnight of that day; above 24 on the next
        day; 9 in 10 of the usual ones lie between low and high), ``days`` (days with such an
        opening or closing) ``of`` (days of that weekday looked at), ``basis`` (``learned`` or
        ``schedule``). A weekday with no row is a day on which it usually stays closed.
    exceptions : polars.DataFrame
        A row per thing out of the usual, the newest first: ``area``, ``date`` (the day it belongs
        to), ``at`` (UTC), ``local``, ``what`` (``late-closing``, ``missed-closing``,
        ``arm-refused``, ``odd-hours-opening``, ``closed-day-opening``), ``hours`` (how late, how
        long unprotected, or how long it was open), ``person`` (number, null where nobody is told
        or it was no person), ``who`` (in words), ``zone`` (the point that kept the system from
        arming), ``usual`` (in words, such as ``18:05 to 18:30``; null where it is usually
        closed), ``how_unusual`` (in words, such as ``3 in 212 closings, once in 71 (24 to
        343)``), ``times``, ``of``, ``rate``, ``rate_low``, ``rate_high`` (the same as numbers: so
        many like it of all closings, or openings, with the exact interval), ``basis``
        (``learned`` or ``schedule``). Single ones are records; which of them make a finding is
        told by ``lab.findings``.
    nights : polars.DataFrame
        The nights (and closed days) that a place stood unarmed, the newest first: ``area``,
        ``date``, ``since`` (from when on it is usually armed), ``until`` (armed, or the end of
        the log), ``hours`` unprotected, ``standing`` (still so where the log ends), ``refused``
        (the system could not be armed: nobody's fault), ``why`` (in words, where refused),
        ``zone`` (the point that caused it).
    sentence : str
        What the page says first.
    notes : list of str
        What is not known: arming not recorded, no region for public holidays, too short a log.
    """

    site: str
    time_zone: str
    recorded: bool
    bands: pl.DataFrame = field(default_factory=lambda: _none(BANDS))
    exceptions: pl.DataFrame = field(default_factory=lambda: _none(EXCEPTIONS))
    nights: pl.DataFrame = field(default_factory=lambda: _none(NIGHTS))
    sentence: str = ""
    notes: list[str] = field(default_factory=list)


def usual_hours(standing: Standing, context: Context, settings: Settings, site: str) -> UsualHours:
    """Say when a site is usually opened and closed, and when it was not.

    Parameters
    ----------
    standing : Standing
        What was found out.
    context : Context
        What is known of sites from outside.
    settings : Settings
        As ``analysis.habits`` needs them.
    site : str
        Which site.

    Returns
    -------
    UsualHours
        Frames, a sentence, and what is not known.
    """
    ground = standing.ground.only([site])
    zone = str(ground.sites["time_zone"].first() or "UTC") if ground.sites.height else "UTC"
    recorded = ground.recorded.height > 0 and bool(ground.sites["arming_reliable"].first())
    notes = hours_notes(
        recorded=recorded,
        contradicted=ground.recorded.height > 0 and not recorded,
        region=_region(context, site),
        schedule=site in context.schedule["site"],
    )
    if not recorded:
        return UsualHours(site, zone, recorded=False, sentence=notes[0], notes=notes[1:])
    learned = habits(ground, context.only([site]), settings)
    usual = bands(learned, settings)
    cases = learned.cases
    exceptions = _exceptions(cases, usual)
    nights = _nights(cases)
    sentence = hours_sentence(usual, exceptions.height, float(nights["hours"].sum()), nights.height)
    return UsualHours(
        site, zone, True, conform(usual, BANDS), exceptions, nights, sentence, notes
    )  # fmt: skip


def _region(context: Context, site: str) -> str | None:
    told = context.sites.filter(pl.col("site") == site).select(pl.coalesce("region", "country"))
    return None if told.is_empty() else told.item(0, 0)


def _exceptions(cases: pl.DataFrame, usual: pl.DataFrame) -> pl.DataFrame:
    """Give what was out of the usual, the newest first, with the usual hours of that weekday."""
    opening = pl.col("what").is_in([str(Pattern.ODD_HOURS_OPENING), CLOSED_DAY])
    rows = cases.with_columns(
        at=pl.when(opening | pl.col("night")).then("since").otherwise("until"),
        local=pl.when(opening | pl.col("night")).then("since_w").otherwise("until_w"),
        weekday=pl.col("date").dt.weekday(),
        side=pl.when(opening).then(pl.lit("opening")).otherwise(pl.lit("closing")),
    )
    places = usual.group_by("area", "weekday", side="what").agg(
        pl.struct("low_h", "high_h").sort_by("low_h").alias("hours_usual")
    )
    rows = rows.with_columns(pl.col("weekday").cast(pl.Int8))
    joined = rows.join(places, on=["area", "weekday", "side"], how="left", nulls_equal=True)
    words = [
        None if hours is None else hours_words([(h["low_h"], h["high_h"]) for h in hours])
        for hours in joined["hours_usual"]
    ]
    unusual = [
        once_in("opening" if side == "opening" else "closing", *rest)
        for side, *rest in joined.select("side", "times", "of", "rate_low", "rate_high").iter_rows()
    ]
    told = joined.with_columns(
        usual=pl.Series(words, dtype=pl.String),
        how_unusual=pl.Series(unusual, dtype=pl.String),
        zone="refused_zone",
        person=pl.when(~pl.col("nobody") & pl.col("person").str.contains(r"^\d+$")).then("person"),
        basis=pl.when("by_schedule").then(pl.lit("schedule")).otherwise(pl.lit("learned")),
    )
    return conform(told, EXCEPTIONS).sort("at", descending=True)


def _nights(cases: pl.DataFrame) -> pl.DataFrame:
    """Give the nights unarmed, the newest first."""
    why = (
        pl.when(pl.col("refusal") == "reset")
        .then(pl.lit("a reset after an alarm was due"))
        .when(pl.col("refusal") == "failed")
        .then(pl.lit("arming failed"))
    )
    told = cases.filter("night").select(
        "area",
        "date",
        "hours",
        "standing",
        since="since_w",
        until="until_w",
        refused=pl.col("refusal").is_not_null(),
        why=why,
        zone="refused_zone",
    )
    return conform(told, NIGHTS).sort("since", descending=True)
