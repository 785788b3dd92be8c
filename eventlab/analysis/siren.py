"""Points that alarm as the siren of their site stops, whoever set it off."""

import polars as pl

from eventlab.analysis.contact import POINT
from eventlab.analysis.core import trips
from eventlab.analysis.found import (
    days,
    ends,
    evidence,
    figures,
    found,
    line,
    number,
    seconds,
    told_s,
    wall,
)
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Pattern, Subject, Timing
from eventlab.settings import Settings
from eventlab.stats import binomial_tail, count_within

_SHOWN = 4
_FIGURES = ("followed", "nights", "shortest", "longest", "grain")


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find points whose alarms come the same few minutes after another point set off the siren.

    A siren begins with the first intrusion alarm of a site and sounds a set time. What its end
    sets off (a supply that jumps, a joint, a point that is taken in again) alarms that long after
    the first alarm, whichever point that was. What it sets off as it begins is told by
    `neighbours`: a point that alarms just after any other.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed: no list tells how long a siren sounds.
    settings : Settings
        ``siren_shortest_s``, ``siren_longest_s``, ``siren_same_s`` [s], ``siren_nights``,
        ``siren_share``, ``siren_hours``, ``siren_chance``, ``still_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per point; ``p_value`` the tail of the exact test, ``q_value`` that
        times ``looks``, the points of the site that were looked at.

    Notes
    -----
    The night is the unit. Given one of n nights, chance puts the delay of another into the same
    ``siren_same_s`` at most as often as were all delays crowded into a third of the time that a
    siren may sound (bursts crowd them to its beginning). So the nights beside it are at most
    binomial; each of the n may be the one that is given.
    """
    del context
    after = _after(ground, settings)
    told = _tested(_same(after, settings), settings)
    if told.is_empty():
        return found(told, Pattern.FOLLOWS_SIREN)
    grain = pl.col("grain")
    return found(
        told.join(ends(ground), on="site", how="left").with_columns(
            evidence(
                line(
                    pl.lit("its first alarm came this long after another point's"),
                    number(pl.col("followed"))
                    + " of "
                    + number(pl.col("nights"))
                    + " nights, "
                    + told_s(pl.col("shortest"), grain)
                    + " to "
                    + told_s(pl.col("longest"), grain),
                    "nights on which another point had alarmed before it, by no more than a siren "
                    "sounds",
                ),
                line(
                    "by chance so many",
                    pl.when(pl.col("q_value") < 1e-6)
                    .then(pl.lit("less than 1 in a million"))
                    .otherwise("about " + number(pl.col("q_value"), 6)),
                    "exact test with the night as the unit, for all points of the site",
                ),
                "nightly",
            ),
            figures({name: pl.col(name) for name in _FIGURES}),
            events=pl.col("followed"),
            standing=pl.col("end") - pl.col("until") <= days(settings.still_days),
            subject_kind=pl.lit(str(Subject.ZONE)),
            subject="zone",
        ),
        Pattern.FOLLOWS_SIREN,
    )


def _after(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give the first alarm of each point in each night that another point's siren came before."""
    rows = trips(ground, settings).filter(
        pl.col("point").is_not_null() & ~pl.col("warm") & (pl.col("timing") != Timing.DOUBTFUL)
    )
    longest = settings.siren_longest_s
    quiet = seconds(pl.col("at") - pl.col("at").shift(1).over("site")) > longest
    runs = rows.with_columns(run=quiet.fill_null(value=True).cum_sum())
    first = runs.select(
        *POINT, "point", "run", "night", "area", "at", "local", "grain",
        began=pl.col("at").first().over("run"),
        began_local=pl.col("local").first().over("run"),
        starter=pl.col("point").first().over("run"),
        silenced=pl.col("disarmed_at").first().over("run"),
    ).unique(["site", "run", "point"], keep="first", maintain_order=True)  # fmt: skip
    delay = seconds(pl.col("at") - pl.col("began"))
    return (
        first.with_columns(delay=delay)
        .filter(
            (pl.col("point") != pl.col("starter"))
            & pl.col("delay").is_between(settings.siren_shortest_s, longest)
            & (pl.col("silenced") >= pl.col("at")).fill_null(value=True)
        )
        .unique(["site", "point", "night"], keep="first", maintain_order=True)
        .filter(pl.len().over("site", "point") >= settings.siren_nights)
    )


def _same(after: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Count, of each point, the nights on which the delay was the same, at its commonest."""
    if after.is_empty():
        return pl.DataFrame(schema=dict.fromkeys((*POINT, "point"), pl.String))
    grain = pl.max_horizontal("grain", 1)
    laid = after.with_columns(
        series=pl.struct("site", "point").rank("dense"),
        wide=settings.siren_same_s + pl.when(grain > 1).then(2 * grain).otherwise(0),
        ms=(pl.col("delay") * 1000).cast(pl.Int64),
    )
    window = (laid["wide"] * 1000).cast(pl.Int64).to_numpy()
    counted = count_within(laid["ms"].to_numpy(), window, laid["series"].to_numpy())
    laid = laid.with_columns(together=pl.Series(counted))
    best = pl.col("ms").sort_by("together", "ms", descending=[True, False]).first().over("series")
    inside = pl.col("ms").is_between(best, best + pl.col("wide") * 1000)
    return (
        laid.with_columns(inside=inside)
        .sort("site", "at")
        .group_by(*POINT, "point", maintain_order=True)
        .agg(
            pl.col("area").drop_nulls().first(),
            pl.col("grain", "wide").max(),
            nights=pl.len().cast(pl.Int64),
            followed=pl.col("inside").sum().cast(pl.Int64),
            hours=pl.col("began_local").dt.hour().filter("inside").n_unique(),
            shortest=pl.col("delay").filter("inside").min(),
            longest=pl.col("delay").filter("inside").max(),
            since=pl.col("at").filter("inside").min(),
            until=pl.col("at").filter("inside").max(),
            nightly=line(
                pl.lit("on ") + wall(pl.col("local")),
                told_s(pl.col("delay"), pl.col("grain")) + " after the first alarm",
                "its first alarm of that night",
            )
            .filter("inside")
            .tail(_SHOWN),
        )
        .with_columns(looks=pl.len().over("site").cast(pl.Int64))
    )


def _tested(each: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Keep the points of which chance, or the time of day, is no explanation."""
    if each.is_empty():
        return each
    spread = (settings.siren_longest_s - settings.siren_shortest_s) / 3
    share = (each["wide"] / spread).clip(0, 1).to_numpy()
    beside, nights = each["followed"].to_numpy() - 1, each["nights"].to_numpy()
    tail = nights * binomial_tail(beside, nights - 1, share)
    return each.with_columns(p_value=pl.Series(tail).clip(0, 1)).with_columns(
        q_value=(pl.col("p_value") * pl.col("looks")).clip(0, 1)
    ).filter(
        (pl.col("followed") >= settings.siren_nights)
        & (pl.col("followed") >= settings.siren_share * pl.col("nights"))
        & (pl.col("hours") >= settings.siren_hours)
        & (pl.col("q_value") <= settings.siren_chance)
    )  # fmt: skip
