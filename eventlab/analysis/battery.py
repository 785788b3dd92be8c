"""Batteries that stand low, or come and go."""

import polars as pl

from eventlab.analysis.conditions import lasted, most_within, spells
from eventlab.analysis.found import days, ends, evidence, figures, found, hours, line, number, wall
from eventlab.analysis.mains import outages
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Pattern, Phase, Subject
from eventlab.settings import Settings

_DEVICE = ("site", "zone", "within")
_KEY = ("site", "kind", "zone", "within")


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find system and device batteries that are weak.

    A battery is weak where its low stood longer than ``battery_days``; where it came and went
    ``battery_repeats`` times within ``battery_window_days``; or, for the system's own, where it
    was told in an outage shorter than ``mains_out_h`` that no other outage stood shortly before.
    One that was low and soon replaced is a record.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        The bars above, ``recharge_h`` [h] and ``still_days`` [days].

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per battery; life-safety points too.
    """
    del context
    low = lows(ground, settings)
    if low.is_empty():
        return found(low, Pattern.BATTERY_WEAK)
    low = low.join(_in_outages(ground, settings), on=["site", "since"], how="left")
    long = pl.col("hours") > settings.battery_days * 24
    counts = low.filter(~pl.col("aside") | long)
    counts = counts.with_columns(
        most=most_within(counts, _KEY, settings.battery_window_days * 86400, at="since")
    )
    ended = ~pl.col("ended_by").is_in(["silent", "untold"]) & ~pl.col("open")
    lasting = pl.col("hours").filter(ended).max()
    weak = (
        counts.join(ends(ground), on="site", how="left")
        .group_by(_KEY, maintain_order=True)
        .agg(
            pl.col("area").drop_nulls().first(),
            pl.col("end").first(),
            since=pl.col("since").first(),
            until=pl.col("until").last(),
            open_since=pl.col("since").filter(pl.col("open")).last(),
            open_h=pl.col("hours").filter(pl.col("open")).last(),
            longest=pl.col("hours").filter(ended).max(),
            longest_since=pl.col("since").filter(ended & (pl.col("hours") == lasting)).first(),
            times=pl.len().cast(pl.Int64),
            most=pl.col("most").max(),
            low_after_h=pl.col("short_low_h").drop_nulls().last(),
            short_since=pl.col("since").filter(pl.col("short_low_h").is_not_null()).last(),
            borne=pl.col("borne").drop_nulls().last().fill_null(value=False),
            life_safety=pl.col("life_safety").any(),
            ends_told=pl.col("ends_told").first(),
            lows=line(
                pl.lit("battery low ") + wall(pl.col("local")),
                pl.when(pl.col("ended_by") == "silent")
                .then(pl.lit("never restored, no longer told"))
                .otherwise(
                    lasted(pl.lit("not restored when the log ends, told ") + _times(pl.col("told")))
                ),
                "battery-low rows",
            ).head(8),
        )
    )
    overlong = pl.col("open_h").fill_null(0) > settings.battery_days * 24
    stands = pl.col("open_since").is_not_null()
    repeats = pl.col("most") >= settings.battery_repeats
    short = pl.col("low_after_h").is_not_null()
    recent = pl.col("end") - pl.col("until") <= days(settings.still_days)
    overdue = (pl.col("longest") > settings.battery_days * 24).fill_null(value=False)
    weak = weak.filter(overlong | repeats | short | overdue).with_columns(
        # A battery that gave out soon stays weak until an outage shows the contrary.
        standing=stands | (repeats & recent) | (short & ~pl.col("borne")),
        subject_kind=pl.when(pl.col("zone").is_null())
        .then(pl.lit(str(Subject.SITE)))
        .otherwise(pl.lit(str(Subject.ZONE))),
        subject=pl.coalesce("zone", "site"),
        events=pl.col("times"),
        since=pl.when(repeats)
        .then("since")
        .otherwise(pl.coalesce("open_since", "short_since", "longest_since")),
    )
    return found(
        weak.with_columns(
            evidence(
                "lows",
                line(
                    "low soon after the mains was lost",
                    number(pl.col("low_after_h") * 60) + " min",
                    "system-battery-low within a short mains loss, no other outage shortly before",
                    when=short,
                ),
            ),
            figures(
                {
                    "system": pl.col("kind") == Kind.SYSTEM_BATTERY_LOW,
                    "days": (pl.col("open_h") / 24).round(3),
                    "longest_days": pl.when(overdue).then((pl.col("longest") / 24).round(3)),
                    "times": pl.col("times"),
                    "within": pl.col("most"),
                    "repeats": repeats,
                    "window_days": pl.lit(settings.battery_window_days),
                    "low_after_min": (pl.col("low_after_h") * 60).round(2),
                    "life_safety": pl.col("life_safety"),
                    "ends_told": pl.col("ends_told"),
                }
            ),
        ),
        Pattern.BATTERY_WEAK,
    )


def lows(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return each time that a battery was low.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        As in `conditions.spells`.

    Returns
    -------
    polars.DataFrame
        As `conditions.spells`; ``ended_by`` is ``silent`` where a low that was told again and
        again is no longer told, though the log goes on.
    """
    low = spells(ground, [Kind.SYSTEM_BATTERY_LOW, Kind.DEVICE_BATTERY_LOW], settings)
    return low if low.is_empty() else _no_longer_told(low, ground, settings)


def _times(told: pl.Expr) -> pl.Expr:
    return pl.when(told == 1).then(pl.lit("once")).otherwise(number(told) + " times")


def _no_longer_told(low: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Close lows that were told again and again and then no more, though the log goes on.

    A device that is no longer heard at all keeps its low.
    """
    lost = spells(ground, [Kind.SUPERVISION_LOSS], settings).filter("open").select(_DEVICE)
    gone = lost.unique().with_columns(lost=pl.lit(value=True))
    rows = (
        ground.events.lazy()
        .filter(
            pl.col("kind").is_in([Kind.SYSTEM_BATTERY_LOW, Kind.DEVICE_BATTERY_LOW])
            & (pl.col("phase") == Phase.BEGIN)
        )
        .select("site", "kind", "zone", "placed", told_area="area")
        .collect()
    )
    again = (
        low.filter("open")
        .select(*_KEY, "since")
        .join(rows, on=["site", "kind", "zone"], nulls_equal=True)
        .filter(pl.col("placed") >= pl.col("since"))
        .filter(pl.col("within").is_null() | (pl.col("within") == pl.col("told_area")))
        .group_by(*_KEY, "since")
        .agg(times=pl.len(), last_told=pl.col("placed").max())
    )
    step = (pl.col("last_told") - pl.col("since")) / (pl.col("times") - 1)
    silent = (
        (pl.col("times") >= 3)
        & (pl.col("until") - pl.col("last_told") > 3 * step + days(1))
        & pl.col("lost").is_null()
    ).fill_null(value=False)
    return (
        low.join(again, on=[*_KEY, "since"], how="left", nulls_equal=True)
        .join(gone, on=list(_DEVICE), how="left", nulls_equal=True)
        .with_columns(silent=silent)
        .with_columns(
            open=pl.col("open") & ~pl.col("silent"),
            until=pl.when("silent").then("last_told").otherwise("until"),
            ended_by=pl.when("silent").then(pl.lit("silent")).otherwise("ended_by"),
            told=pl.coalesce("times", "told"),
        )
        .with_columns(
            hours=pl.when(pl.col("hours").is_not_null()).then(
                hours(pl.col("until") - pl.col("since"))
            )
        )
        .drop("silent", "lost", "times", "last_told")
    )


def _in_outages(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the lows that came within a short outage with none shortly before it.

    ``borne`` says whether a later outage, at least as long, passed without one.
    """
    lost = outages(ground, settings).sort("site", "since")
    apart = pl.col("since") - pl.col("until").shift(1).over("site")
    fine = lost.filter(~pl.col("battery_low") & pl.col("hours").is_not_null()).select(
        "site", later="since", held="hours"
    )
    short = (
        lost.filter(
            pl.col("battery_low")
            & (pl.col("low_after_h") <= settings.mains_out_h)
            & (pl.col("hours") > 0)
            & (apart.is_null() | (hours(apart) > settings.recharge_h))
        )
        .select("site", since="low_at", short_low_h="low_after_h")
        .unique(["site", "since"])
    )
    borne = (
        short.join(fine, on="site")
        .filter((pl.col("later") > pl.col("since")) & (pl.col("held") > pl.col("short_low_h")))
        .select("site", "since", borne=pl.lit(value=True))
        .unique()
    )
    return short.join(borne, on=["site", "since"], how="left").with_columns(
        pl.col("borne").fill_null(value=False)
    )
