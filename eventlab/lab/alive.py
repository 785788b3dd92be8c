"""What the page shows that asks whether a site is still listening."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import polars as pl

from eventlab.analysis.alive import Walked, lanes, walked
from eventlab.analysis.alive.spells import SUBJECT
from eventlab.lab.standing import Standing
from eventlab.meaning.clock import to_wall
from eventlab.report import (
    alive_in_words,
    alive_sentence,
    coverage_sentence,
    state_of,
    walk_sentence,
)
from eventlab.settings import Settings


@dataclass(frozen=True)
class AliveView:
    """What of a site must be alive, and how it stands.

    Parameters
    ----------
    site, site_name, time_zone : str
        Which site.
    covers : str
        What its log covers and records.
    sentence : str
        How everything stands, what stands now first.
    known : bool
        Whether its newest log is new enough for anything to be known.
    walk : str
        The last walk test in a sentence.
    walked : Walked
        The last walk test.
    first, last : datetime or None
        Between which moments the log of the site lies (its own clock).
    lanes : polars.DataFrame
        One row for each thing, what stands first: ``lane`` (its number from 0), the columns of
        `analysis.alive.Lanes.lanes`, ``since_wall`` and ``last_wall`` (the site's own clock), and
        in words ``thing``, ``short``, ``now``, ``says``.
    spells : polars.DataFrame
        ``lane``, ``what``, ``state`` (in words), ``since``, ``until`` (the site's own clock),
        ``standing``, ``hours`` (null where no end is told), ``ended_by``, ``aside``.
    beats : polars.DataFrame
        ``lane``, ``day``, ``what``, ``many``: the days on which something was heard of.
    """

    site: str
    site_name: str
    time_zone: str
    covers: str
    sentence: str
    known: bool
    walk: str
    walked: Walked
    first: datetime | None
    last: datetime | None
    lanes: pl.DataFrame
    spells: pl.DataFrame
    beats: pl.DataFrame


def alive_view(standing: Standing, settings: Settings, site: str, now: datetime) -> AliveView:
    """Put together what must be alive at a site.

    Parameters
    ----------
    standing : Standing
        What was found out.
    settings : Settings
        The settings in force.
    site : str
        Which site.
    now : datetime
        The time as of which is told, UTC.

    Returns
    -------
    AliveView
        Without lanes where there is no log.
    """
    here = pl.col("site") == site
    ground = standing.ground.only([site])
    named = standing.context.sites.filter(here)["name"].drop_nulls().to_list()
    row = ground.sites.row(0, named=True) if ground.sites.height else {}
    zone = row.get("time_zone") or "UTC"
    told = lanes(
        ground, standing.context.only([site]), settings, standing.findings.filter(here), now
    )
    walls = to_wall(
        to_wall(told.lanes.with_columns(home=pl.lit(zone)), "since", "home", "since_wall"),
        *("last", "home", "last_wall"),
    )
    spoken = alive_in_words(walls).with_row_index("lane")
    newest: datetime | None = row.get("last")
    known = newest is not None and now - newest <= timedelta(days=settings.unknown_after_days)
    stale = None if known or newest is None else (now - newest).days
    walk = walked(ground, settings, site)
    ends = _walls([row.get("first"), newest], zone)
    return AliveView(
        site=site,
        site_name=named[0] if named else site,
        time_zone=zone,
        covers=coverage_sentence(standing.ground, site),
        sentence=alive_sentence(spoken, stale_days=stale),
        known=known,
        walk=walk_sentence(walk, _today(now, zone)),
        walked=walk,
        first=ends[0],
        last=ends[1],
        lanes=spoken.drop("home"),
        spells=_of_lanes(told.spells, spoken, zone),
        beats=_numbered(told.beats, spoken).select("lane", "day", "what", "many"),
    )


def _numbered(frame: pl.DataFrame, spoken: pl.DataFrame) -> pl.DataFrame:
    """Give rows the number of their lane; a lane that is not there has none."""
    key = list(SUBJECT)
    numbers = spoken.select("lane", *key)
    return frame.join(numbers, on=key, how="inner", nulls_equal=True, maintain_order="left")


def _of_lanes(spells: pl.DataFrame, spoken: pl.DataFrame, zone: str) -> pl.DataFrame:
    full = _numbered(spells, spoken).with_columns(home=pl.lit(zone))
    wall = to_wall(to_wall(full, "since", "home", "begun"), "until", "home", "ended")
    words = {what: state_of(what) for what in wall["what"].unique()}
    return wall.select(
        "lane",
        "what",
        state=pl.col("what").replace_strict(words, default="", return_dtype=pl.String),
        since="begun",
        until="ended",
        standing="standing",
        hours="hours",
        ended_by="ended_by",
        aside=pl.col("aside").fill_null(value=False),
    ).sort("lane", "since")


def _walls(moments: list[datetime | None], zone: str) -> list[datetime | None]:
    frame = pl.DataFrame({"at": moments}, schema={"at": pl.Datetime("us", "UTC")})
    wall = to_wall(frame.with_columns(home=pl.lit(zone)), "at", "home", "wall")
    return wall["wall"].to_list()


def _today(now: datetime, zone: str) -> date:
    wall = _walls([now], zone)[0]
    return (wall or now).date()
