"""Paths that do not carry alarms to the monitoring centre: told by it, or seen by both logs."""

import polars as pl

from eventlab.analysis.carried import eligible, runs
from eventlab.analysis.conditions import lasted, spells
from eventlab.analysis.found import (
    asof,
    count,
    evidence,
    figures,
    found,
    line,
    number,
    spoken,
    wall,
)
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Pattern, Phase, Subject, Witness
from eventlab.settings import Settings

_CENTRE_S_OWN = (Kind.HANDLING, Kind.ON_TEST, Kind.COMMS_FAIL)
_SOME = 8


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find sites whose alarms do not reach their monitoring centre.

    Either a path was told lost for long and nothing came over it since; or alarms that the panel
    logged, of kinds and points that the centre otherwise hears of, did not reach it several times
    running, on more than one day, which chance loss at this site's own rate does not bring.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``path_out_h`` [h], and those of ``carried``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site. A path that was lost for hours and came back is a record;
        an alarm that may have been aborted, held back, or never meant to be sent is none.
    """
    del context
    missed = _missed(ground, settings)
    down = _down(ground, settings)
    if missed.is_empty() and down.is_empty():
        return found(missed, Pattern.PATH_DOWN)
    both = missed.join(down, on="site", how="full", coalesce=True, suffix="_down").sort("site")
    by_run = pl.col("missed").is_not_null()
    both = both.with_columns(
        standing=pl.col("standing").fill_null(value=False)
        | pl.col("standing_down").fill_null(value=False),
        since=pl.min_horizontal("since", "since_down"),
        until=pl.max_horizontal("until", "until_down"),
        events=pl.col("missed").fill_null(0) + pl.col("outages").fill_null(0),
        ends_told=pl.col("ends_told").fill_null(value=True) | by_run,
    )
    nothing = pl.lit([], dtype=both.schema["alarms"])
    return found(
        both.with_columns(
            evidence(
                pl.col("alarms").fill_null(nothing),
                line(
                    "other alarms of these kinds and points that did reach the centre",
                    number(pl.col("carried")) + " of " + number(pl.col("others")),
                    "the path was expected to carry them",
                    when=by_run,
                ),
                line(
                    "openings and closings in that time that did reach it",
                    number(pl.col("acts_carried")) + " of " + number(pl.col("acts")),
                    "both logs",
                    when=by_run & (pl.col("acts") > 0),
                ),
                line(
                    "left out: aborted, disarmed soon, local by mode, on test, shut out, "
                    "unconfirmed, repeated, received late",
                    number(pl.col("left_out")),
                    "rules of the trade; such alarms need not reach a centre",
                    when=by_run & (pl.col("left_out") > 0),
                ),
                pl.col("spells").fill_null(pl.lit([], dtype=both.schema["spells"])),
            ),
            figures(
                {
                    "missed": pl.col("missed"),
                    "days": pl.col("days"),
                    "carried": pl.col("carried"),
                    "others": pl.col("others"),
                    "missed_standing": pl.col("standing"),
                    "open_h": pl.col("open_h"),
                    "longest_h": pl.col("longest_h"),
                    "outages": pl.col("outages"),
                    "path": pl.col("path"),
                    "centre": pl.col("centre"),
                    "ends_told": pl.col("ends_told"),
                }
            ),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
            area=pl.lit(None, dtype=pl.String),
        ),
        Pattern.PATH_DOWN,
    )


def _missed(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give, per site, the run of alarms that did not reach the centre."""
    alarms = eligible(ground, settings)
    told = runs(alarms.filter("counts"), settings)
    lines = (
        told.filter("in_run")
        .group_by("site", maintain_order=True)
        .agg(
            missed=pl.len().cast(pl.Int64),
            days=pl.col("night").n_unique().cast(pl.Int64),
            since=pl.col("placed").first(),
            last=pl.col("placed").last(),
            carried=pl.col("carried_else").first(),
            others=pl.col("others").first(),
            standing=pl.col("last_run").first(),
            next=pl.col("heard_next").first(),
            alarms=line(
                spoken(pl.col("kind")) + " of point " + pl.col("zone").fill_null("not told"),
                wall(pl.col("local")),
                "in the panel's log, not in the centre's history",
            ).head(_SOME),
        )
        .with_columns(until=pl.coalesce("next", "last"))
    )
    left = alarms.filter(~pl.col("counts") & pl.col("only_panel"))
    within = (
        left.join(lines.select("site", "since", "last"), on="site")
        .filter(pl.col("placed").is_between("since", "last"))
        .group_by("site")
        .agg(left_out=pl.len().cast(pl.Int64))
    )
    acts = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in([Kind.ARM, Kind.DISARM]))
        .select("site", "placed", "witnesses")
        .collect()
        .join(lines.select("site", "since", "last"), on="site")
        .filter(
            pl.col("placed").is_between("since", "last")
            & pl.col("witnesses").list.contains(str(Witness.PANEL))
        )
        .group_by("site")
        .agg(
            acts=pl.len().cast(pl.Int64),
            acts_carried=pl.col("witnesses")
            .list.contains(str(Witness.RECEIVER))
            .sum()
            .cast(pl.Int64),
        )
    )
    return (
        lines.drop("last", "next")
        .join(within, on="site", how="left", maintain_order="left")
        .join(acts, on="site", how="left", maintain_order="left")
        .with_columns(pl.col("left_out", "acts", "acts_carried").fill_null(0))
    )


def _down(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give, per site, the outages of a path that were long, or still stand."""
    lost = lost_paths(ground, settings)
    long = lost.filter(
        (pl.col("hours") > settings.path_out_h) & (pl.col("ended_by").ne_missing("heard"))
    )
    return long.group_by("site", maintain_order=True).agg(
        since=pl.coalesce(
            pl.col("since").filter("open").first(),
            pl.col("since").sort_by("hours").last(),
        ),
        until=pl.col("until").max(),
        standing=pl.col("open").any(),
        open_h=pl.col("hours").filter("open").max(),
        longest_h=pl.col("hours").max(),
        outages=pl.len().cast(pl.Int64),
        path=pl.col("path").drop_nulls().last(),
        centre=pl.col("centre").any(),
        ends_told=pl.col("ends_told").first(),
        spells=line(
            pl.lit("path lost ") + wall(pl.col("local")),
            lasted(pl.lit("still lost when the log ends, after ") + count(pl.col("hours"), "hour")),
            "comms-fail rows",
        ).head(_SOME),
    )


def lost_paths(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return each time that a path was told lost.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        As in `conditions.spells`.

    Returns
    -------
    polars.DataFrame
        As `conditions.spells`, each path by itself, with ``path`` (null where it has no name) and
        ``centre`` (the monitoring centre told it); ``ended_by`` is ``heard`` where something came
        over it later.
    """
    whole = spells(ground, [Kind.COMMS_FAIL], settings)
    if whole.is_empty():
        return whole.with_columns(path=pl.lit(None, pl.String), centre=pl.lit(None, pl.Boolean))
    # Each path has outages of its own.
    lost = spells(ground, [Kind.COMMS_FAIL], settings, signs=_heard(ground), within="path")
    centre = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.COMMS_FAIL)
        .select(
            *("site", "zone"),
            within="path",
            since="placed",
            centre=pl.col("witnesses").list.contains(str(Witness.RECEIVER)),
        )
        .collect()
    )
    key = ["site", "zone", "within", "since"]
    return lost.join(
        centre.unique(key, keep="first"), on=key, how="left", nulls_equal=True,
        maintain_order="left",
    ).with_columns(path="within", within=pl.lit(None, dtype=pl.String))  # fmt: skip


def _heard(ground: Ground) -> pl.DataFrame:
    """Give, of each begin, when something came over the path again: whatever speaks is not lost.

    Where no path is named, anything that the centre received from the site counts. Its own end may
    have gone untold, or stand in a gap between exports: how long it lasted is not known then. The
    rows themselves are asked, since what repeats a standing condition is no occurrence.
    """
    begins = (
        ground.events.lazy()
        .filter((pl.col("kind") == Kind.COMMS_FAIL) & (pl.col("phase") == Phase.BEGIN))
        .select("site", "kind", "zone", "placed", within="path", local="wall")
        .collect()
    )
    spoke = (
        ground.events.lazy()
        .filter(
            (pl.col("witness") == Witness.RECEIVER) & ~pl.col("kind").is_in(list(_CENTRE_S_OWN))
        )
        .select("site", heard="placed", by="path", heard_local="wall")
        .join(begins.lazy().select("site"), on="site", how="semi", maintain_order="left")
        .collect()
    )
    told = begins.with_columns(
        pl.col("zone").fill_null("").alias("at_zone"),
        pl.col("within").fill_null("").alias("over"),
        later=pl.col("placed") + pl.duration(hours=1),
    )
    named = pl.col("within").is_not_null()
    parts = (
        asof(told.filter(named), spoke.drop_nulls("by").rename({"by": "over"}), "later", "heard",
             by=["site", "over"], strategy="forward", strict=True),
        asof(told.filter(~named), spoke.drop("by"), "later", "heard", strategy="forward",
             strict=True),
    )  # fmt: skip
    key = ["site", "at_zone", "over"]
    heard = pl.concat([one.select(*told.columns, "heard", "heard_local") for one in parts])
    heard = heard.drop_nulls("heard").drop("placed", "local", "later")
    again = asof(heard, told.select(*key, "placed", "local"), "heard", "placed", by=key,
                 strategy="forward", strict=True).drop_nulls("placed")  # fmt: skip
    columns = ("site", "kind", "zone", "within", "placed", "local")
    ended = heard.rename({"heard": "placed", "heard_local": "local"}).select(columns)
    return pl.concat(
        [
            ended.with_columns(act=pl.lit("heard")),
            again.select(columns).with_columns(act=pl.lit(str(Phase.BEGIN))),
        ]
    ).unique(maintain_order=True)
