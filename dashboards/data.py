"""From a question to the small frames that answer it, through the lab and nothing else."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any

import polars as pl

from dashboards import question
from dashboards.marks import MOST_MARKS, bins, hours, say, with_family
from dashboards.marks import spans as shades
from dashboards.palette import FAMILIES
from dashboards.question import Order, Show
from eventlab.errors import NotFound

if TYPE_CHECKING:
    from dashboards.remember import Remembered
    from eventlab.lab import Raster

USUAL_NIGHTS = 366
"""A longer log shows its last year first."""

PAGE_ROWS = 50
ALIKE = 3
"""Sites of one trade with a rate, from which on they are told beside each other."""

SORTABLE = {
    "name": "name",
    "alarms_26w": "alarms_26w",
    "rate_30d": "rate_30d",
    "newest": "newest",
}
"""Columns that a table may ask to be sorted by; any other wish is left out."""

_ORDERS: dict[Order, tuple[str, bool]] = {
    Order.ALARMS: ("alarms_26w", True),
    Order.RATE: ("rate_30d", True),
    Order.NEWEST: ("newest", True),
    Order.OLDEST: ("newest", False),
    Order.NAME: ("name", False),
}


@dataclass(frozen=True)
class Tally:
    """How many sites there are of each sort, and how many files wait for an answer."""

    sites: int
    missing: int
    test: int
    alarms: int
    unknown: int
    waiting: int


@dataclass(frozen=True)
class Picture:
    """What the day raster of one question shows.

    Parameters
    ----------
    marks : polars.DataFrame
        All marks asked for, by time: the lab's columns and ``family``, ``say``.
    drawn : polars.DataFrame
        What is drawn: the same, or binned with ``many``.
    spans, sun : polars.DataFrame
        As ``figures.raster.draw`` wants them.
    first, last : date
        The nights at both ends.
    log : tuple of date
        The first and the last night of which the log tells anything.
    binned : bool
        Whether ``drawn`` is binned.
    counts : dict of str to int
        Marks in this time by family, whether left out or not.
    armed_hours : float
        Armed time shown [h]; overlapping areas count once each.
    """

    marks: pl.DataFrame
    drawn: pl.DataFrame
    spans: pl.DataFrame
    sun: pl.DataFrame
    first: date
    last: date
    log: tuple[date, date]
    binned: bool
    counts: dict[str, int]
    armed_hours: float


def overview(lab: "Remembered") -> pl.DataFrame:
    """Return all sites with ``missing`` and the ``mark`` that says how each stands.

    Parameters
    ----------
    lab : Remembered
        The open store.

    Returns
    -------
    polars.DataFrame
        The lab's overview, and ``missing`` Boolean, ``mark`` String, ``alarms_26w`` Int64,
        ``point_rate`` (``rate_30d`` for each point) and ``trade_rate`` (its median over the sites
        of the trade) Float64.
    """
    # A test that was left on is lost protection too; it has a word of its own.
    missing = pl.col("standing_lost") - pl.col("on_test").cast(pl.Int64) > 0
    point_rate = pl.when("known", pl.col("points") > 0).then(pl.col("rate_30d") / pl.col("points"))
    alike = pl.when(pl.col("trade").is_not_null()).then(point_rate.count().over("trade"))
    return lab.sites().with_columns(
        missing=missing,
        alarms_26w=pl.col("trend").list.sum().fill_null(0),
        point_rate=point_rate,
        trade_rate=pl.when(alike >= ALIKE).then(point_rate.median().over("trade")),
        mark=pl.when("on_test")
        .then(pl.lit("test"))
        .when(missing)
        .then(pl.lit("missing"))
        .when(~pl.col("known"))
        .then(pl.lit("unknown"))
        .otherwise(pl.lit("plain")),
    )


def tally(sites: pl.DataFrame, lab: "Remembered") -> Tally:
    """Count the sites of each sort over the whole store."""
    return Tally(
        sites=sites.height,
        missing=int(sites["missing"].sum()),
        test=int(sites["on_test"].sum()),
        alarms=int((sites["alarms_26w"] > 0).sum()),
        unknown=int((~sites["known"]).sum()),
        waiting=len(lab.waiting()),
    )


def chosen(
    sites: pl.DataFrame, asked: question.Home, sort: list[dict[str, Any]] | None = None
) -> pl.DataFrame:
    """Filter and sort the list of sites.

    Parameters
    ----------
    sites : polars.DataFrame
        As ``overview`` gives it.
    asked : question.Home
        What is asked.
    sort : list of dict, optional
        What the table's headers ask for, ``colId`` and ``sort``; comes before ``asked.order``.

    Returns
    -------
    polars.DataFrame
        Protection missing now and anything left on test first, unless another order is asked for.
    """
    rows = sites
    if asked.find:
        found = pl.concat_str("name", "site", separator=" ", ignore_nulls=True)
        rows = rows.filter(found.str.to_lowercase().str.contains(asked.find.lower(), literal=True))
    if asked.trade:
        rows = rows.filter(pl.col("trade") == asked.trade)
    wanted = {
        Show.MISSING: pl.col("missing"),
        Show.TEST: pl.col("on_test"),
        Show.ALARMS: pl.col("alarms_26w") > 0,
        Show.UNKNOWN: ~pl.col("known"),
    }.get(asked.show)
    if wanted is not None:
        rows = rows.filter(wanted)
    keys = [
        (SORTABLE[one["colId"]], one.get("sort") == "desc")
        for one in sort or []
        if one.get("colId") in SORTABLE
    ]
    if not keys and asked.order in _ORDERS:
        keys = [_ORDERS[asked.order]]
    if not keys:
        return rows.sort(
            pl.col("missing") | pl.col("on_test"),
            "on_test",
            "standing_lost",
            ~pl.col("known"),
            "intrusion",
            "alarms_26w",
            "name",
            descending=[True, True, True, True, True, True, False],
            nulls_last=True,
        )
    by, down = zip(*keys, ("name", False), strict=True)
    return rows.sort(by, descending=list(down), nulls_last=True)


def exists(lab: "Remembered", site: str) -> bool:
    """Tell whether the store knows a site."""
    return bool((lab.sites()["site"] == site).any())


def has_point(lab: "Remembered", asked: question.Point) -> bool:
    """Tell whether the store knows a point of a site that it knows."""
    try:
        lab.point(asked.site, asked.zone, asked.within)
    except NotFound:
        return False
    return True


def raster(lab: "Remembered", asked: question.Site) -> "Raster":
    """Get the nights of the site that is asked about, or of the point."""
    if isinstance(asked, question.Point):
        return lab.raster(asked.site, zone=asked.zone, within=asked.within)
    return lab.raster(asked.site)


def findings(lab: "Remembered", asked: question.Site) -> pl.DataFrame:
    """Get the findings of the site that is asked about, or those about the point."""
    if isinstance(asked, question.Point):
        return lab.point(asked.site, asked.zone, asked.within).findings
    return lab.site(asked.site).findings


def picture(lab: "Remembered", asked: question.Site) -> Picture:
    """Get what the day raster of a question shows.

    Parameters
    ----------
    lab : Remembered
        The open store.
    asked : question.Site
        The site or the point, the nights, the families left out.

    Returns
    -------
    Picture
        With at most ``MOST_MARKS`` marks to draw.
    """
    whole = raster(lab, asked)
    log = span(whole)
    first, last = nights(asked, log)
    marks = with_family(whole.marks).filter(pl.col("night").is_between(first, last))
    counts = dict(marks.group_by("family").len().iter_rows())
    marks = marks.filter(~pl.col("family").is_in(sorted(asked.without)))
    marks = marks.with_columns(say=say()).sort("local", "id")
    binned = marks.height > MOST_MARKS
    spans = shades(whole).filter(pl.col("night").is_between(first, last))
    armed = spans.filter(pl.col("what").is_in(["armed", "part"]))
    return Picture(
        marks=marks,
        drawn=bins(marks) if binned else marks,
        spans=spans,
        sun=whole.sun.filter(pl.col("night").is_between(first, last)).sort("night"),
        first=first,
        last=last,
        log=log,
        binned=binned,
        counts={family.key: counts.get(family.key, 0) for family in FAMILIES},
        armed_hours=hours(armed),
    )


def nights(asked: question.Site, log: tuple[date, date]) -> tuple[date, date]:
    """Say which nights are shown: those asked for, else the last year of the log."""
    first, last = log
    until = asked.until or last
    since = asked.since or max(first, until - timedelta(days=USUAL_NIGHTS - 1))
    return min(since, until), until


def span(raster: "Raster") -> tuple[date, date]:
    """Return the first and the last night of which a raster tells anything."""
    told = [frame["night"] for frame in (raster.marks, raster.armed, raster.aside) if frame.height]
    told = told or [night for night in (raster.sun["night"],) if night.len()]
    if not told:
        today = datetime.now(UTC).date()
        return today, today
    return min(night.min() for night in told), max(night.max() for night in told)
