"""What the page shows that asks whether a site is still listening."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

import polars as pl

from eventlab.analysis.alive import Walked, lanes, walked
from eventlab.analysis.alive.spells import SUBJECT
from eventlab.analysis.availability import shares
from eventlab.analysis.rhythm import weekly as by_week
from eventlab.ground import Ground, Power, Told
from eventlab.lab.standing import Standing
from eventlab.meaning.clock import to_wall
from eventlab.report import (
    alive_in_words,
    alive_sentence,
    coverage_sentence,
    heard_in_words,
    state_of,
    walk_sentence,
)
from eventlab.schema import Health
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
    first, last, covered, now : datetime or None
        The first and the last row of the site's log, up to when it covers, and the present
        moment (its own clock).
    lanes : polars.DataFrame
        One row for each thing, what stands first: ``lane`` (its number from 0), the columns of
        `analysis.alive.Lanes.lanes`, ``since_wall`` and ``last_wall`` (the site's own clock), and
        in words ``thing``, ``short``, ``now``, ``says``.
    spells : polars.DataFrame
        ``lane``, ``what``, ``state`` (in words), ``since``, ``until`` (the site's own clock),
        ``standing``, ``hours`` (null where no end is told), ``ended_by``, ``aside``; of points
        also the weeks in which they were not seen though their own rhythm says they should
        (``what`` is ``unseen``), which count among no times above.
    beats : polars.DataFrame
        ``lane``, ``day``, ``what``, ``many``: the days on which something was heard of.
    heard : polars.DataFrame
        One row for each series of test reports: as `analysis.availability.overall`, with
        ``series`` (its number from 0), ``name`` and ``says``.
    weeks : polars.DataFrame
        ``series``, ``week`` (its Monday), ``due``, ``on_time``, ``late``, ``missed``, ``share``,
        ``low``, ``high``, ``wanted``.
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
    covered: datetime | None
    now: datetime | None
    lanes: pl.DataFrame
    spells: pl.DataFrame
    beats: pl.DataFrame
    heard: pl.DataFrame
    weeks: pl.DataFrame


def alive_view(
    standing: Standing,
    settings: Settings,
    site: str,
    now: datetime,
    *,
    fleet: Callable[[], pl.DataFrame] | None = None,
) -> AliveView:
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
    fleet : callable, optional
        Gives the cells of all sites of a store, as `battery_life.remaining` takes them; asked only
        where a device has a cell of its own. Where left out this site alone tells how long cells
        last.

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
    own = standing.context.only([site])
    told = lanes(ground, own, settings, standing.findings.filter(here), now, fleet)
    weekly, overall = shares(ground, settings)
    heard = heard_in_words(overall).with_row_index("series")
    walls = to_wall(
        to_wall(told.lanes.with_columns(home=pl.lit(zone)), "since", "home", "since_wall"),
        *("last", "home", "last_wall"),
    )
    spoken = alive_in_words(walls).with_row_index("lane")
    newest: datetime | None = row.get("last")
    known = newest is not None and now - newest <= timedelta(days=settings.unknown_after_days)
    stale = None if known or newest is None else (now - newest).days
    walk = walked(ground, settings, site)
    covered = ground.coverage.sort("until")["until"].to_list()[-1:] or [newest]
    first, last, until, present = _walls([row.get("first"), newest, *covered, now], zone)
    return AliveView(
        site=site,
        site_name=named[0] if named else site,
        time_zone=zone,
        covers=coverage_sentence(standing.ground, site),
        sentence=alive_sentence(spoken, stale_days=stale),
        known=known,
        walk=walk_sentence(walk, (present or now).date()),
        walked=walk,
        first=first,
        last=last,
        covered=until,
        now=present,
        lanes=spoken.drop("home"),
        spells=pl.concat(
            [_of_lanes(told.spells, spoken, zone), _unseen(ground, settings, spoken)]
        ).sort("lane", "since"),
        beats=_numbered(told.beats, spoken).select("lane", "day", "what", "many"),
        heard=heard,
        weeks=_weeks(weekly, heard),
    )


def _numbered(frame: pl.DataFrame, spoken: pl.DataFrame) -> pl.DataFrame:
    """Give rows the number of their lane; a lane that is not there has none."""
    key = list(SUBJECT)
    numbers = spoken.select("lane", *key)
    return frame.join(numbers, on=key, how="inner", nulls_equal=True, maintain_order="left")


def _weeks(weeks: pl.DataFrame, heard: pl.DataFrame) -> pl.DataFrame:
    key = ["site", "witness", "path"]
    return (
        weeks.join(heard.select(*key, "series"), on=key, how="left", nulls_equal=True)
        .select(*("series", "week", "due", "on_time", "late", "missed"),
                *("share", "low", "high", "wanted"))
        .sort("series", "week")
    )  # fmt: skip


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


def _unseen(ground: Ground, settings: Settings, spoken: pl.DataFrame) -> pl.DataFrame:
    """Give the weeks in which a point was silent against its own rhythm; no life-safety point."""
    moves = (pl.col("power") == Power.ACTIVATIONS) & (pl.col("value") == Told.YES)
    if ground.powers.filter(moves).is_empty():
        return _UNSEEN.clear()
    weeks = by_week(ground, settings).filter(pl.col("health") == Health.NOT_WELL)
    points = spoken.filter(pl.col("family") == "point").select("lane", "zone", "within")
    begun = pl.col("week").cast(pl.Datetime("us"))
    return weeks.join(points, on=["zone", "within"], nulls_equal=True).select(
        "lane",
        what=pl.lit("unseen"),
        state=pl.lit(state_of("unseen")),
        since=begun,
        until=begun + pl.duration(days=7),
        standing=pl.lit(value=False),
        hours=pl.lit(168.0),
        ended_by=pl.lit("end"),
        aside=pl.lit(value=False),
    )


_UNSEEN = pl.DataFrame(
    schema={
        "lane": pl.UInt32,
        **dict.fromkeys(("what", "state"), pl.String),
        **dict.fromkeys(("since", "until"), pl.Datetime("us")),
        "standing": pl.Boolean,
        "hours": pl.Float64,
        "ended_by": pl.String,
        "aside": pl.Boolean,
    }
)


def _walls(moments: list[datetime | None], zone: str) -> list[datetime | None]:
    frame = pl.DataFrame({"at": moments}, schema={"at": pl.Datetime("us", "UTC")})
    wall = to_wall(frame.with_columns(home=pl.lit(zone)), "at", "home", "wall")
    return wall["wall"].to_list()
