"""When a site is usually opened and closed, and when it was not."""

from dataclasses import dataclass, field

import polars as pl

from eventlab.context import Context
from eventlab.lab.standing import Standing
from eventlab.schema import UTC, WALL, Schema
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
    zone = ground.sites["time_zone"].first() or "UTC"
    if ground.recorded.is_empty():
        return UsualHours(site, str(zone), recorded=False)
    return UsualHours(site, str(zone), recorded=True)
