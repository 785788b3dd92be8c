"""From what is alive at a site to the small frames that are drawn, listed and taken away."""

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.marks import MOST_MARKS
from eventlab.schema import Health

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from eventlab.lab import AliveView

POINT = "point"
LONG_AGO = 0.3
"""A picture runs on to the present unless that takes more of it than this [share of the log]."""

ORDER = (Health.NOT_WELL, Health.WELL, Health.NOT_RECORDED, Health.NOT_COVERED)
STEPS = {"1d": "a day", "1w": "a week", "4w": "four weeks", "12w": "twelve weeks"}
"""What a mark of a sign of life may stand for."""

_SPELLS = MOST_MARKS // 4
"""Each takes two marks: a bar, and a mark where it began."""


def ends(view: "AliveView") -> tuple[datetime, datetime] | None:
    """Return from when to when the pictures run, by the site's own clock.

    Parameters
    ----------
    view : AliveView
        What is alive at a site.

    Returns
    -------
    tuple of datetime or None
        None where there is no log.
    """
    if view.first is None or view.last is None:
        return None
    told = view.covered or view.last
    log = max(told - view.first, timedelta(days=1))
    return view.first, max(told, min(view.now or told, told + LONG_AGO * log))


def lanes(view: "AliveView", *, points: bool) -> pl.DataFrame:
    """Return the lanes of one picture with ``row``, their place in it from the top.

    Parameters
    ----------
    view : AliveView
        What is alive at a site.
    points : bool
        Those of the points, or all others.
    """
    of_points = pl.col("family") == POINT
    some = view.lanes.filter(of_points if points else ~of_points)
    return some.with_row_index("row")


def spells(view: "AliveView", some: pl.DataFrame) -> pl.DataFrame:
    """Return the times to draw, brought together by days where they are too many.

    Parameters
    ----------
    view : AliveView
        What is alive at a site.
    some : polars.DataFrame
        As ``lanes`` gives them.

    Returns
    -------
    polars.DataFrame
        ``row``, ``short``, ``what``, ``state``, ``since``, ``until``, ``standing``, ``aside``,
        ``hours``, ``many``.
    """
    rows = view.spells.join(some.select("lane", "row", "short"), on="lane").with_columns(
        many=pl.lit(1, pl.Int64)
    )
    for step in ("1d", "1w", "4w", "12w"):
        if rows.height <= _SPELLS:
            break
        rows = (
            rows.group_by(
                "row",
                "short",
                "what",
                "standing",
                "aside",
                pl.col("since").dt.truncate(step).alias("bin"),
            )
            .agg(
                pl.col("state").first(),
                pl.col("since").min(),
                pl.col("until").max(),
                pl.col("hours").max(),
                pl.col("many").sum(),
            )
            .drop("bin")
        )
    return rows.select(
        "row", "short", "what", "state", "since", "until", "standing", "aside", "hours", "many"
    ).sort("row", "since")


def beats(view: "AliveView", some: pl.DataFrame, *, beside: int) -> pl.DataFrame:
    """Return the signs of life to draw, by day, or by weeks where they are too many.

    Parameters
    ----------
    view : AliveView
        What is alive at a site.
    some : polars.DataFrame
        As ``lanes`` gives them.
    beside : int
        Spells that are drawn in the same picture.

    Returns
    -------
    polars.DataFrame
        ``row``, ``short``, ``what``, ``day``, ``many``, ``step`` (what a mark stands for).
    """
    rows = view.beats.join(some.select("lane", "row", "short"), on="lane")
    told = rows.with_columns(step=pl.lit("1d"))
    for step in ("1w", "4w", "12w"):
        if told.height <= MOST_MARKS - 2 * beside:
            break
        told = rows.group_by("row", "short", "what", pl.col("day").dt.truncate(step)).agg(
            pl.col("many").sum(), step=pl.lit(step)
        )
    return told.select("row", "short", "what", "day", "many", "step").sort("row", "what", "day")


def gaps(view: "AliveView") -> list[tuple[datetime, datetime]]:
    """Return the stretches that no log covers, the time since the newest row among them."""
    between = view.spells.filter(pl.col("what") == "log-gap").select("since", "until").rows()
    reach = ends(view)
    told = view.covered or view.last
    if reach is not None and told is not None and reach[1] > told:
        between.append((told, reach[1]))
    return between


def shows(lanes: pl.DataFrame, beats: pl.DataFrame, *, points: bool) -> str:
    """Say what a picture shows.

    Parameters
    ----------
    lanes, beats : polars.DataFrame
        What is drawn, as the functions above give it.
    points : bool
        Whether the lanes are those of the points.

    Returns
    -------
    str
        How many lanes have which word, and what a mark stands for.
    """
    many = counts(lanes)
    told = [f"{many[one]} {one}" for one in ORDER if many[one]]
    of = words.count(lanes.height, "point" if points else "thing")
    text = f"Of {of}{'' if points else ', the points apart'}: {', '.join(told)}."
    steps = beats["step"].unique().to_list()
    if steps and steps != ["1d"]:
        text += f" Each thin mark stands for {STEPS[steps[0]]}."
    if points and "no-movement" in lanes["why"].to_list():
        text += (
            " This log records no movement by day, so no point is told silent or alive: a walk "
            "test would show it."
        )
    return text


def counts(lanes: pl.DataFrame) -> dict[Health, int]:
    """Count the lanes of each word."""
    return {one: lanes.filter(pl.col("health") == one).height for one in Health}


def lanes_table(view: "AliveView") -> pl.DataFrame:
    """Return the lanes as a table to take away."""
    moment = "%Y-%m-%d %H:%M:%S"
    return view.lanes.select(
        thing="thing",
        health="health",
        now="now",
        since=pl.col("since_wall").dt.strftime(moment),
        times="times",
        longest_h=pl.col("longest_h").round(2),
        usual_time_to_restore_h=pl.col("restore_h").round(2),
        last_told=pl.col("last_wall").dt.strftime(moment),
        says="says",
    )


def spells_table(view: "AliveView") -> pl.DataFrame:
    """Return the times in which something was not alive as a table to take away."""
    moment = "%Y-%m-%d %H:%M:%S"
    return view.spells.join(view.lanes.select("lane", "thing"), on="lane").select(
        thing="thing",
        what="state",
        since=pl.col("since").dt.strftime(moment),
        until=pl.when(pl.col("hours").is_not_null()).then(pl.col("until").dt.strftime(moment)),
        stands="standing",
        hours=pl.col("hours").round(2),
        in_service="aside",
    )


def weeks(view: "AliveView") -> pl.DataFrame:
    """Return the reports by week with the name of their series."""
    return view.weeks.join(view.heard.select("series", "name"), on="series", how="left")


def weeks_table(view: "AliveView") -> pl.DataFrame:
    """Return the reports by week as a table to take away."""
    shares = pl.col("share", "low", "high", "wanted").round(4)
    return weeks(view).select(
        pl.col("week").dt.to_string("%Y-%m-%d"), "name", "due", "on_time", "late", "missed", shares
    )


TABLES: "Mapping[str, Callable[[AliveView], pl.DataFrame]]" = {
    "lanes": lanes_table,
    "spells": spells_table,
    "weeks": weeks_table,
}
"""What can be taken away, by file name."""
