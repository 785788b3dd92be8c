"""Run the analyses over simulated sites and judge every finding by the simulator's truth alone."""

from dataclasses import dataclass
from datetime import timedelta

import polars as pl

from eventlab.analysis import run
from eventlab.analysis.run import margin
from eventlab.ground import lay
from eventlab.schema import Pattern
from eventlab.settings import Settings
from eventlab.simulate import PATTERNS, Ordinary, ordinary
from eventlab.simulate.clock import END, utc
from eventlab.stats import share_interval

SLACK = timedelta(days=1)
"""A finding is about a planted trouble where their times meet within a day."""

_AT_CLOSING = (
    Pattern.ARMED_ON_PEOPLE,
    Pattern.LAST_DOOR_UNLATCHED,
    Pattern.OFF_WHEN_CLOSED,
    Pattern.FORCED_ARMING,
)
BATCH = 300
"""Sites laid at once; what is found at a site does not depend on the others."""


@dataclass(frozen=True)
class Judged:
    """What was found of what was planted.

    Parameters
    ----------
    found : polars.DataFrame
        The findings, with ``right``, and of the trouble they are right about ``true_since``,
        ``true_until``, ``true_standing``.
    planted : polars.DataFrame
        The troubles, with ``hit``: whether any finding is right about it.
    sites : polars.DataFrame
        The sites and how their logs tell.
    """

    found: pl.DataFrame
    planted: pl.DataFrame
    sites: pl.DataFrame


def prove(seed: int, *, sites: int, **how) -> Judged:
    """Simulate so many sites, analyse them, judge."""
    made = ordinary(seed, sites=sites, **how)
    return judge(made, analysed(made))


def analysed(made: Ordinary) -> pl.DataFrame:
    """Run the real path from events to findings."""
    settings = Settings()
    now = pl.Series([utc(END, 60)]).cast(pl.Int64)
    taken = pl.from_epoch(now, time_unit="s").dt.replace_time_zone("UTC")[0]
    names = made.sites["site"].to_list()
    parts = []
    for low in range(0, len(names), BATCH):
        here = pl.col("site").is_in(names[low : low + BATCH])
        ground = lay(made.events.filter(here), made.context, settings, now=taken)
        parts.append(run(ground, made.context, settings))
    return pl.concat(parts)


def judge(made: Ordinary, found: pl.DataFrame) -> Judged:
    """Say of each finding whether it is right, and of each trouble whether it was found."""
    ours = found.filter(pl.col("pattern").is_in(list(PATTERNS))).with_row_index("finding")
    planted = made.planted.with_row_index("planted")
    true = planted.select(
        "planted",
        "site",
        "pattern",
        true_kind="subject_kind",
        true_subject="subject",
        true_since="since",
        true_until="until",
        true_standing="standing",
    )
    # Where anything began at a point, the rate of its alarms changed.
    also = true.filter(pl.col("true_kind") == "zone", pl.col("pattern") != Pattern.RATE_CHANGE)
    nobody = pl.lit(None, true.schema["planted"])
    changed = also.with_columns(pattern=pl.lit(str(Pattern.RATE_CHANGE)), planted=nobody)
    true = pl.concat([true, changed])
    # A point that chatters trips again within one armed period as well.
    also = true.filter(pl.col("pattern") == Pattern.CHATTERING).with_columns(
        pattern=pl.lit(str(Pattern.SWINGER)), planted=pl.lit(None, true.schema["planted"])
    )
    true = pl.concat([true, also])
    # What people switch off at closing is lost all the same.
    also = true.filter(pl.col("pattern") == Pattern.OFF_WHEN_CLOSED)
    lost = [
        also.with_columns(pattern=pl.lit(str(one)), planted=nobody)
        for one in (Pattern.MAINS_OUT, Pattern.PATH_DOWN)
    ]
    true = pl.concat([true, *lost])
    # Who is late is a person; that people are late there is also true of the place.
    person = pl.col("true_kind") == "person"
    same = (pl.col("subject") == pl.col("true_subject")) | (
        person & pl.col("subject_kind").is_in(["site", "area"])
    )
    meets = (pl.col("since") <= pl.col("true_until") + SLACK) & (
        pl.col("until") >= pl.col("true_since") - SLACK
    )
    pairs = (
        ours.join(true, on=["site", "pattern"])
        .filter(same & meets)
        .unique("finding", keep="first", maintain_order=True)
    )
    # Reports that a lost path did not carry are told with the path: one outage, one finding.
    silent = true.filter(pl.col("pattern") == Pattern.REPORT_MISSED).drop("pattern")
    told = ours.filter(pl.col("pattern") == Pattern.PATH_DOWN).join(silent, on="site")
    hit = pl.concat([pairs["planted"], told.filter(meets)["planted"]])
    return Judged(
        ours.join(
            pairs.select("finding", "true_since", "true_until", "true_standing"),
            on="finding",
            how="left",
        )
        .with_columns(right=pl.col("true_since").is_not_null())
        .join(made.sites, on="site", how="left"),
        planted.with_columns(hit=pl.col("planted").is_in(hit.implode())).join(
            made.sites.drop("trip_limit"), on="site", how="left"
        ),
        made.sites,
    )


def healthy(judged: Judged) -> pl.DataFrame:
    """Count, by background, the sites with nothing wrong that show any finding, and which.

    That exports do not meet is no fault of a site: where it is told rightly it is no finding here.
    """
    quiet = judged.sites.filter(pl.col("trouble") == "nothing")
    rightly = (pl.col("pattern") == Pattern.LOG_GAP) & pl.col("right")
    told = judged.found.filter(~rightly).select("site", "pattern").unique()
    shown = quiet.join(told, on="site", how="left")
    return (
        shown.group_by("background")
        .agg(
            sites=pl.col("site").n_unique(),
            any=pl.col("site").filter(pl.col("pattern").is_not_null()).n_unique(),
            **{str(pattern): (pl.col("pattern") == pattern).sum() for pattern in PATTERNS},
        )
        .sort("background")
    )


def shares(judged: Judged, bands: dict[tuple[str, str], tuple[int, ...]]) -> pl.DataFrame:
    """Tabulate findings right and wrong by pattern, margin and band of events, with the limits."""
    keys = ["pattern", "margin"]
    edges = pl.DataFrame(
        [(*key, low) for key, lows in bands.items() for low in lows],
        schema={"pattern": pl.String(), "margin": pl.String(), "events_min": pl.Int64()},
        orient="row",
    )
    counted = (
        judged.found.with_columns(margin=margin(), events=pl.col("events").fill_null(0))
        .sort("events")
        .join_asof(
            edges.sort("events_min"),
            left_on="events",
            right_on="events_min",
            by=keys,
            check_sortedness=False,
        )
        .group_by(*keys, "events_min")
        .agg(cases=pl.len().cast(pl.Int64), right=pl.col("right").sum().cast(pl.Int64))
    )
    full = edges.join(counted, on=[*keys, "events_min"], how="left", maintain_order="left")
    full = full.with_columns(pl.col("cases", "right").fill_null(0))
    share = share_interval(full["right"].to_numpy(), full["cases"].to_numpy())
    return full.with_columns(
        share=pl.Series(share.estimate), low=pl.Series(share.low), high=pl.Series(share.high)
    )


def seen(judged: Judged) -> pl.DataFrame:
    """Tabulate, by pattern, how many of the planted troubles were found, and what hid the rest.

    ``hidden``: the log of that site cannot show it, whatever is made of it. A panel that shuts a
    point out after one or two trips never tells three in a minute, nor may a clock of minutes;
    who came in late is not known where no disarm is told, nor is an armed period; a trouble may
    stand in no row at all;
    without ends nobody knows how long a thing lasted.
    """
    pattern = pl.col("pattern")
    chatter = (pattern == Pattern.CHATTERING) & ((pl.col("trip_limit") < 3) | (pl.col("grain") > 1))
    entry = (pattern == Pattern.ENTRY_OVERRUN) & ~pl.col("arming")
    silent = (pattern != Pattern.REPORT_MISSED) & (pl.col("told") == 0)
    endless = pl.col("ends") == "none"
    swings = (pattern == Pattern.SWINGER) & ((pl.col("trip_limit") < 2) | ~pl.col("arming"))
    # Whether every opening closed again is not known where alarms have no ends of their own.
    storm = (pattern == Pattern.STORM_BURST) & (
        (pl.col("ends") != "all") | (pl.col("restores") == "at-disarm")
    )
    # Without arming nobody knows what began at a closing, or stood open through it.
    closing = pattern.is_in(_AT_CLOSING) & ~pl.col("arming")
    latch = (pattern == Pattern.LAST_DOOR_UNLATCHED) & (
        (pl.col("ends") != "all") | (pl.col("restores") == "at-disarm")
    )
    # What a path lost stands in the panel's log as sent; only the centre knows that it never came.
    unheard = (
        (pattern == Pattern.REPORT_MISSED)
        & (pl.col("trouble") == Pattern.PATH_DOWN)
        & ~pl.col("centre")
    )
    hidden = closing | latch | chatter | entry | silent | endless | swings | storm | unheard
    return (
        judged.planted.group_by("pattern")
        .agg(
            planted=pl.len(),
            found=pl.col("hit").sum(),
            missed=(~pl.col("hit") & ~hidden).sum(),
            hidden=(~pl.col("hit") & hidden).sum(),
        )
        .sort("pattern")
    )


def held(judged: Judged) -> pl.DataFrame:
    """Tabulate how many right findings say wrongly whether the trouble holds at the end."""
    return (
        judged.found.filter("right")
        .group_by("pattern")
        .agg(right=pl.len(), wrong=(pl.col("standing") != pl.col("true_standing")).sum())
        .sort("pattern")
    )
