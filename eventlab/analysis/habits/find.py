"""Findings about openings and closings."""

import polars as pl

from eventlab.analysis.conditions import most_within
from eventlab.analysis.found import (
    count,
    days,
    ends,
    evidence,
    figures,
    found,
    line,
    number,
    wall,
)
from eventlab.analysis.habits.cases import habits
from eventlab.analysis.habits.refusal import RESET
from eventlab.analysis.habits.rhythm import CLOSED_DAY
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import FOUND, Pattern, Subject, empty
from eventlab.settings import Settings

_SHOWN = 5
_AT_RANDOM = 3
"""Of waiting times without memory one in twenty is longer than so many times their mean."""


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find late and missed closings, openings at odd hours, and nights the system refused to arm.

    What is usual is learned from each place itself, weekday by weekday, in local wall time, from
    the weeks around (`habits`); a schedule of opening hours stands above it. A night unarmed is
    lost protection and told once; late closings and odd openings must repeat. Needed is a log
    that tells all openings and closings; without one nothing is said.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Site list (country and region, for public holidays), schedule.
    settings : Settings
        As `habits` needs them; ``late_closing_min`` in ``late_closing_days``,
        ``odd_opening_min`` in ``odd_opening_days``, ``still_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns: per site, or area where it concerns one of several; ``arm-refused`` per
        point that caused it, where one is told. ``rate``: of all closings, or openings.

    Notes
    -----
    Shares have the interval of Clopper and Pearson. People are told by number.
    """
    if ground.recorded.is_empty():
        return empty(FOUND)
    told = habits(ground, context, settings)
    if told.cases.is_empty():
        return empty(FOUND)
    counted = told.cases.filter("counted").join(ends(ground), on="site", how="left")
    regions = context.sites.filter(
        pl.col("country").is_not_null() | pl.col("region").is_not_null()
    ).select("site", region=pl.lit(value=True))
    counted = counted.join(regions, on="site", how="left").with_columns(
        pl.col("region").fill_null(value=False)
    )
    beside = told.cases.filter(pl.col("what") == CLOSED_DAY).group_by("site").agg(
        closed_days=pl.len().cast(pl.Int64)
    )  # fmt: skip
    life = ground.points.filter("life_safety").select(
        "site", refused_zone="zone", life_safety=pl.lit(value=True)
    ).drop_nulls().unique()  # fmt: skip
    counted = counted.join(beside, on="site", how="left").join(
        life, on=["site", "refused_zone"], how="left"
    )
    return pl.concat(
        [
            _nights(_of(counted, Pattern.MISSED_CLOSING), Pattern.MISSED_CLOSING),
            _nights(_of(counted, Pattern.ARM_REFUSED), Pattern.ARM_REFUSED),
            _acts(
                _of(counted, Pattern.LATE_CLOSING),
                Pattern.LATE_CLOSING,
                settings.late_closing_min,
                settings.late_closing_days,
                settings,
            ),
            _acts(
                _of(counted, Pattern.ODD_HOURS_OPENING),
                Pattern.ODD_HOURS_OPENING,
                settings.odd_opening_min,
                settings.odd_opening_days,
                settings,
            ),
        ]
    )


def _of(cases: pl.DataFrame, pattern: Pattern) -> pl.DataFrame:
    return cases.filter(pl.col("what") == str(pattern))


def _place(cases: pl.DataFrame) -> pl.DataFrame:
    """Name the subject: the area where it is one of several, else the site."""
    area = pl.col("area").is_not_null()
    return cases.with_columns(
        subject_kind=pl.when(area)
        .then(pl.lit(str(Subject.AREA)))
        .otherwise(pl.lit(str(Subject.SITE))),
        subject=pl.coalesce("area", "site"),
    )


def _nights(cases: pl.DataFrame, pattern: Pattern) -> pl.DataFrame:
    """Gather nights unarmed: by place, and by the point that caused a refusal."""
    if cases.is_empty():
        return empty(FOUND)
    refusal = pattern == Pattern.ARM_REFUSED
    named = _place(cases)
    if refusal:
        zone = pl.col("refused_zone").is_not_null()
        named = named.with_columns(
            subject_kind=pl.when(zone).then(pl.lit(str(Subject.ZONE))).otherwise("subject_kind"),
            subject=pl.coalesce("refused_zone", "subject"),
        )
    key = ["site", "area", "subject_kind", "subject"]
    why = (
        pl.when(pl.col("refusal") == RESET)
        .then(pl.lit("; a reset was due"))
        .when(pl.col("tries") > 0)
        .then(pl.lit("; arming failed ") + count(pl.col("tries"), "time"))
        .otherwise(pl.lit(""))
    )
    # Movement does not show that somebody watched, but that it may not have been empty.
    moved = (
        pl.when(pl.col("moves") > 0)
        .then(pl.lit("; movement told ") + count(pl.col("moves"), "time"))
        .otherwise(pl.lit(""))
    )
    until = pl.when("standing").then(pl.lit("the end of the log")).otherwise(
        wall(pl.col("until_w"))
    )  # fmt: skip
    one = line(
        pl.lit("unarmed from ") + wall(pl.col("since_w")),
        number(pl.col("hours"), 1) + " h, to " + until + why + moved,
        pl.when("by_schedule")
        .then(pl.lit("against the schedule of opening hours"))
        .otherwise(pl.lit("hours at which it is armed on at least 3 of 4 comparable days")),
    )
    gathered = (
        named.sort(*key, "since")
        .group_by(key, maintain_order=True)
        .agg(
            pl.col("since").first(),
            pl.col("until").last(),
            pl.col("standing").any(),
            pl.col("region").first(),
            pl.col("life_safety").any(),
            *_rate(),
            nights=one.sort_by("since").tail(_SHOWN),
            events=pl.len().cast(pl.Int64),
            total_h=pl.col("hours").sum(),
            longest_h=pl.col("hours").max(),
            last_w=wall(pl.col("since_w")).last(),
            first_w=wall(pl.col("since_w")).first(),
            schedule=pl.col("by_schedule").any(),
            tries=pl.col("tries").sum(),
            resets=(pl.col("refusal") == RESET).sum().cast(pl.Int64),
            also=pl.col("also").explode().drop_nulls().unique().sort().str.join(", "),
        )
    )
    return found(
        gathered.with_columns(
            evidence("nights", *_common("closings")),
            figures(
                {
                    "nights": pl.col("events"),
                    "total_h": pl.col("total_h"),
                    "longest_h": pl.col("longest_h"),
                    "last": pl.col("last_w"),
                    "first": pl.col("first_w"),
                    "schedule": pl.col("schedule"),
                    "tries": pl.col("tries"),
                    "resets": pl.col("resets"),
                    "life_safety": pl.col("life_safety").fill_null(value=False),
                    **_rates(),
                }
            ),
        ),
        pattern,
    )


def _acts(
    cases: pl.DataFrame, pattern: Pattern, least: float, window: float, settings: Settings
) -> pl.DataFrame:
    """Gather late closings or odd openings that repeat."""
    if cases.is_empty():
        return empty(FOUND)
    late = pattern == Pattern.LATE_CLOSING
    named = _place(cases)
    key = ["site", "area", "subject_kind", "subject"]
    named = named.with_columns(most=most_within(named, key, window * 86400, at="since"))
    at = pl.col("until_w") if late else pl.col("since_w")
    figure = (
        pl.col("who") + ", " + number(pl.col("hours"), 1) + " h later than usual"
        if late
        else pl.col("who") + ", open for " + number(pl.col("hours"), 1) + " h"
    )
    alike = (
        pl.lit("on ")
        + number(pl.col("alike"))
        + " of "
        + number(pl.col("n"))
        + " comparable days it was open then too"
    )
    one = line(
        pl.lit("closed " if late else "opened ") + wall(at),
        figure,
        pl.when("by_schedule")
        .then(pl.lit("against the schedule of opening hours"))
        .otherwise(alike),
    )
    busy = pl.col("who").unique_counts().max()
    gathered = (
        named.sort(*key, "since")
        .group_by(key, maintain_order=True)
        .agg(
            pl.col("since").first(),
            pl.col("until").last(),
            pl.col("region", "end", "closed_days").first(),
            pl.col("most").max(),
            *_rate(),
            acts=one.sort_by("since").tail(_SHOWN),
            events=pl.len().cast(pl.Int64),
            middle_h=pl.col("hours").median(),
            longest_h=pl.col("hours").max(),
            last_w=wall(at).last(),
            schedule=pl.col("by_schedule").any(),
            who=pl.col("who").mode().sort().first() + ": " + number(busy),
            also=pl.col("also").explode().drop_nulls().unique().sort().str.join(", "),
        )
        .filter(pl.col("most") >= least)
    )
    if gathered.is_empty():
        return empty(FOUND)
    quiet = pl.col("end") - pl.col("until")
    usual = (pl.col("until") - pl.col("since")) / (pl.col("events") - 1).clip(1)
    return found(
        gathered.with_columns(
            evidence(
                "acts",
                *_common("closings" if late else "openings"),
                line(
                    "who", pl.col("who"), "numbers in the log; a number is no proof of who it was"
                ),
                line(
                    "opened on usually closed days",
                    count(pl.col("closed_days"), "time"),
                    "by day; records, not counted here",
                    when=pl.lit(not late) & (pl.col("closed_days") > 0),
                ),
            ),
            figures(
                {
                    "n": pl.col("events"),
                    "within": pl.col("most"),
                    "window_days": pl.lit(window),
                    "middle_h": pl.col("middle_h"),
                    "longest_h": pl.col("longest_h"),
                    "last": pl.col("last_w"),
                    "who": pl.col("who"),
                    "schedule": pl.col("schedule"),
                    **_rates(),
                }
            ),
            standing=(quiet <= days(settings.still_days)) | (quiet <= _AT_RANDOM * usual),
        ),
        pattern,
    )


def _rate() -> list[pl.Expr]:
    return [pl.col("rate", "rate_low", "rate_high", "times", "of").max()]


def _rates() -> dict[str, pl.Expr]:
    return {
        "times": pl.col("times"),
        "of": pl.col("of"),
        "share": pl.col("rate"),
        "share_low": pl.col("rate_low"),
        "share_high": pl.col("rate_high"),
    }


def _common(noun: str) -> list[pl.Expr]:
    """Say how unusual it was, in which areas, and what is known of public holidays."""
    return [
        line(
            "how unusual",
            number(pl.col("times"))
            + " of "
            + number(pl.col("of"))
            + f" {noun} ("
            + _percent(pl.col("rate"))
            + ", "
            + _percent(pl.col("rate_low"))
            + " to "
            + _percent(pl.col("rate_high"))
            + ")",
            "all of this log; exact interval, 95 in 100",
        ),
        line("areas", pl.col("also"), "areas of this site", when=pl.col("area").is_not_null()),
        line(
            "public holidays",
            "none is assumed",
            "the site list tells no country or region of this site",
            when=~pl.col("region"),
        ),
    ]


def _percent(share: pl.Expr) -> pl.Expr:
    return number(100 * share, 1) + " %"
