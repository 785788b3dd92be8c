"""What the page of one point shows."""

from dataclasses import dataclass
from typing import Any

import polars as pl

from eventlab.advice import WhatIf
from eventlab.analysis.drivers import Profile, profile
from eventlab.errors import NotFound
from eventlab.lab.standing import Standing
from eventlab.lab.trying import replay, usual
from eventlab.lab.views import points_of
from eventlab.meaning.clock import to_wall
from eventlab.report import (
    Tried,
    chart_sentences,
    coverage_sentence,
    of_hours,
    point_limits,
    point_sentence,
    trial_sentences,
)
from eventlab.schema import Subject
from eventlab.settings import Settings

_LIMIT = "trip-limit"
"""Ends with the armed period by itself: nobody took the point out."""


@dataclass(frozen=True)
class PointView:
    """What stands on the page of one point.

    Parameters
    ----------
    site, site_name, time_zone : str
        Its site.
    point : dict
        Its row: ``zone, within, name, use, detector, area, life_safety, alarms, nights, hours,
        rate_30d, last`` and what else is known of it.
    sentence : str
        How often it alarms, over which hours.
    covers : str
        What the log of its site covers and records.
    limits : list of str
        What that log cannot show of it.
    findings : polars.DataFrame
        Columns of ``schema.FINDING``: those about this point.
    out : polars.DataFrame
        ``since``, ``until`` (wall clock of the site), ``reason``, ``hours``: when it was bypassed
        or shut out, the newest first.
    profile : Profile or None
        Its alarm days against each driver; None for a life-safety point, which is never explained.
    of_hours : str
        What the hours of the profile are.
    says : dict of str to str
        What each chart of the profile shows, what leads first.
    trials : WhatIf or None
        What its past alarms would have come to under other rules; None for a life-safety point
        and where there was no alarm.
    tried : list of Tried
        Each trial in words.
    """

    site: str
    site_name: str
    time_zone: str
    point: dict[str, Any]
    sentence: str
    covers: str
    limits: list[str]
    findings: pl.DataFrame
    out: pl.DataFrame
    profile: Profile | None
    of_hours: str
    says: dict[str, str]
    trials: WhatIf | None
    tried: list[Tried]


def point_of(standing: Standing, site: str, zone: str, within: str | None) -> dict[str, Any]:
    """Find one point of a site.

    Parameters
    ----------
    standing : Standing
        What was found out.
    site, zone : str
        Which point.
    within : str or None
        The area that is part of its name; may be left out where one point only has the number.

    Returns
    -------
    dict
        Its row of ``SiteView.points``, with ``left_out_h``.

    Raises
    ------
    NotFound
        Where there is none, or several and no area was said.
    """
    rows = points_of(standing, site).filter(pl.col("zone") == zone)
    same = rows.filter(pl.col("within").eq_missing(pl.lit(within, pl.String)))
    if same.is_empty() and within is None and rows.height == 1:
        same = rows
    if same.is_empty():
        areas = ", ".join(rows["within"].drop_nulls())
        way = f"Say of which area: {areas}." if areas else "Look it up among the site's points."
        raise NotFound(f"there is no point {zone!r} at site {site!r}", do=way)
    return same.row(0, named=True)


def point_view(
    standing: Standing, settings: Settings, site: str, zone: str, within: str | None
) -> PointView:
    """Put together what the page of one point shows.

    Parameters
    ----------
    standing : Standing
        What was found out.
    settings : Settings
        The settings in force.
    site, zone : str
        Which point.
    within : str or None
        As in ``point_of``.

    Returns
    -------
    PointView
        Without any driver where it is a life-safety point.
    """
    point = point_of(standing, site, zone, within)
    within = point["within"]
    ground = standing.ground
    here = ground.sites.filter(pl.col("site") == site)
    named = standing.context.sites.filter(pl.col("site") == site)["name"].drop_nulls().to_list()
    life = bool(point["life_safety"])
    told = None
    if not life:
        told = profile(ground, standing.context, settings, site, zone, within)
    trials = None
    if not life and point["alarms"]:
        trials = replay(standing, settings, site, zone, usual(), within)
    about = (
        (pl.col("site") == site)
        & (pl.col("subject_kind") == Subject.ZONE)
        & (pl.col("subject") == zone)
    )
    if within is not None:
        about &= pl.col("area") == within
    return PointView(
        site=site,
        site_name=named[0] if named else site,
        time_zone=(here["time_zone"].to_list() or [None])[0] or "UTC",
        point=point,
        sentence=point_sentence(point, told),
        covers=coverage_sentence(ground, site),
        limits=point_limits(ground, site, point, told),
        findings=standing.findings.filter(about),
        out=_out(standing, site, point),
        profile=told,
        of_hours=of_hours(told) if told is not None else "",
        says=chart_sentences(told) if told is not None else {},
        trials=trials,
        tried=trial_sentences(trials) if trials is not None else [],
    )


def _out(standing: Standing, site: str, point: dict[str, Any]) -> pl.DataFrame:
    ground = standing.ground
    same = [pl.col(c).eq_missing(pl.lit(point[c], pl.String)) for c in ("zone", "within")]
    spans = ground.removed.filter(pl.col("site") == site, *same, pl.col("reason") != _LIMIT)
    zones = ground.sites.select("site", pl.col("time_zone").fill_null("UTC"))
    full = spans.join(zones, on="site", how="left", maintain_order="left").with_columns(
        hours=(pl.col("until") - pl.col("since")).dt.total_seconds() / 3600
    )
    wall = to_wall(to_wall(full, "since", "time_zone", "begun"), "until", "time_zone", "ended")
    return wall.select(since="begun", until="ended", reason="reason", hours="hours").sort(
        "since", descending=True
    )
