"""Radio that is disturbed: jamming told as such, and many devices lost at once."""

import polars as pl

from eventlab.analysis.conditions import lasted, spells
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
from eventlab.analysis.lasting import gathered
from eventlab.analysis.supervision import in_waves
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Pattern, Subject
from eventlab.settings import Settings


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find sites whose radio is disturbed, or whose receiver or its supply fails.

    Many devices lost at once, for long or again and again, or jamming told for long, or again and
    again. A log cannot tell interference from a receiver that fails: both are said. One device that
    is lost is that device, or its place (``supervision``).

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``radio_devices``, ``radio_waves``, ``radio_jam_h`` [h], ``unsupervised_h`` [h],
        ``unsupervised_days``, ``still_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site.
    """
    del context
    waves, jams = _waves(ground, settings), _jams(ground, settings)
    if waves.is_empty() and jams.is_empty():
        return found(waves, Pattern.RADIO_INTERFERENCE)
    both = waves.join(jams, on="site", how="full", coalesce=True, suffix="_jam").sort("site")
    nothing = pl.lit([], dtype=both.schema["lines"])
    counts = ("waves", "devices", "jams")
    return found(
        both.with_columns(
            pl.col(counts).fill_null(0),
            standing=pl.col("standing").fill_null(value=False)
            | pl.col("standing_jam").fill_null(value=False),
            since=pl.min_horizontal("since", "since_jam"),
            until=pl.max_horizontal("until", "until_jam"),
            ends_told=pl.coalesce("ends_told", "ends_told_jam"),
        ).with_columns(
            evidence(
                pl.col("lines").fill_null(nothing),
                pl.col("lines_jam").fill_null(nothing),
                line(
                    "what it may be",
                    pl.lit("interference, or the receiver or its supply"),
                    "a log cannot tell these apart; one device lost alone is the device",
                ),
            ),
            figures(
                {
                    **{name: pl.col(name) for name in counts},
                    "longest_h": pl.max_horizontal("longest_h", "longest_h_jam"),
                    "lost_now": pl.col("lost_now").fill_null(0),
                    "life_lost": pl.col("life_lost").fill_null(0),
                    "ends_told": pl.col("ends_told"),
                }
            ),
            events=pl.col("waves") + pl.col("jams"),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
        ),
        Pattern.RADIO_INTERFERENCE,
    )


def _waves(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the sites at which many devices were lost at once for long, or again and again."""
    told = in_waves(ground, settings).filter(pl.col("again") | pl.col("long"))
    each = told.group_by("site", "wave", maintain_order=True).agg(
        since=pl.col("since").first(),
        until=pl.col("until").max(),
        local=pl.col("local").first(),
        devices=pl.col("zone").n_unique().cast(pl.Int64),
        hours=pl.col("hours").median(),
        lost_now=pl.col("zone").filter("open").n_unique().cast(pl.Int64),
        life_lost=pl.col("zone").filter("life_safety").n_unique().cast(pl.Int64),
        ends_told=pl.col("ends_told").first(),
    )
    shown = (
        pl.when(pl.col("lost_now") > 0)
        .then(number(pl.col("lost_now")) + pl.lit(" still lost when the log ends"))
        .when(pl.col("hours").is_null())
        .then(pl.lit("their end is not told"))
        .otherwise(pl.lit("half of them for ") + number(pl.col("hours"), 1) + " h and more")
    )
    rows = each.group_by("site", maintain_order=True).agg(
        pl.col("since").first(),
        pl.col("until").max(),
        waves=pl.len().cast(pl.Int64),
        devices=pl.col("devices").max(),
        longest_h=pl.col("hours").max(),
        lost_now=pl.col("lost_now").last(),
        life_lost=pl.col("life_lost").max(),
        ends_told=pl.col("ends_told").first(),
        lines=line(
            count(pl.col("devices"), "device") + pl.lit(" lost at once ") + wall(pl.col("local")),
            shown,
            "supervision-loss rows within ten minutes",
        ).head(8),
    )
    lately = pl.col("end") - pl.col("until") <= days(settings.still_days)
    again = pl.col("waves") >= settings.radio_waves
    return (
        rows.join(ends(ground), on="site", how="left", maintain_order="left")
        .with_columns(standing=(pl.col("lost_now") > 0) | (again & lately))
        .drop("end")
    )


def _jams(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the sites at which jamming was told for long, or again and again.

    Of jamming that only a restart closes, or that is told to begin again a day and more before its
    first end, it is not known how long it lasted: an end got lost.
    """
    told = spells(ground, [Kind.RADIO_JAM], settings)
    twice = (pl.col("told") > 1) & (pl.col("hours") > 24)
    known = (pl.col("ended_by") != "restart").fill_null(value=True) & ~twice
    return gathered(
        told.with_columns(hours=pl.when(known).then("hours")),
        ground,
        settings,
        key=["site"],
        long_h=settings.radio_jam_h,
        repeats=settings.radio_waves,
        line=line(
            pl.lit("jamming told ") + wall(pl.col("local")),
            lasted("still told when the log ends"),
            "radio-jam rows",
        ),
    ).select(
        *("site", "standing", "since", "until", "longest_h", "ends_told", "lines"),
        jams="events",
    )
