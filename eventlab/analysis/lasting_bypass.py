"""Points that stay left out for armed nights on end."""

import polars as pl

from eventlab.analysis.forced_arming import forced
from eventlab.analysis.found import asof, evidence, figures, found, hours, line, number, seconds
from eventlab.context import Context
from eventlab.ground import Ground, Power, Told
from eventlab.schema import Kind, Pattern, Subject
from eventlab.settings import Settings

POINT = ("site", "zone", "within")
_DAY_H = 24


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find points that were left out for armed nights on end.

    Parameters
    ----------
    ground : Ground
        A bypass ends at the next disarm where the point is seen at work in an armed period
        afterwards or the log never tells ends of bypasses; else when its end is told.
    context : Context
        Not needed.
    settings : Settings
        ``bypass_nights``, ``bypass_nights_over``, ``bypass_life_h`` [h], ``left_out_s`` [s].

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per point and run of nights. A life-safety or 24-hour point, and a
        point of a site whose arming is not told, is judged by the hours that it was out; the
        latter only where the log tells ends of bypasses: else nobody knows how long any lasted.
    """
    del context
    spans = bypasses(ground, settings)
    if spans.is_empty():
        return found(spans, Pattern.LASTING_BYPASS)
    runs = pl.concat([_nights(spans, ground, settings), _always(spans, ground, settings)])
    if runs.is_empty():
        return found(runs, Pattern.LASTING_BYPASS)
    return found(
        runs.with_columns(
            evidence(
                line(
                    "armed nights without this point",
                    number(pl.col("nights")) + ", one after the other",
                    "bypass rows and arming rows",
                    when=pl.col("nights").is_not_null(),
                ),
                line(
                    "out for",
                    number(pl.col("hours")) + " h",
                    "bypass rows",
                    when=pl.col("nights").is_null(),
                ),
                line(
                    "its end",
                    pl.when(pl.col("standing"))
                    .then(pl.lit("the log does not show it lifted"))
                    .when(pl.col("many") > 1)
                    .then(pl.lit("lifted and made again ") + number(pl.col("many")) + " times")
                    .otherwise(pl.lit("lifted")),
                    "this log tells when a bypass ends, or the next disarm ends it",
                ),
            ),
            figures(
                {
                    "nights": pl.col("nights"),
                    "hours": pl.col("hours"),
                    "many": pl.col("many"),
                    "life_safety": pl.col("life_safety"),
                }
            ),
            events=pl.coalesce("nights", pl.col("hours") / _DAY_H).cast(pl.Int64),
            subject_kind=pl.lit(str(Subject.ZONE)),
            subject="zone",
        ),
        Pattern.LASTING_BYPASS,
    )


def bypasses(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return when points were bypassed, but not by an arming by force.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``left_out_s`` [s].

    Returns
    -------
    polars.DataFrame
        ``site``, ``zone``, ``within``, ``area``, ``since``, ``until``, ``open`` (the log does not
        show it lifted), ``life_safety``, ``always`` (24-hour, or arming not told).
    """
    at = forced(ground).select("site", forced_at="at")
    points = ground.points.select(
        *POINT,
        "life_safety",
        "all_hours",
        area=pl.coalesce("area", pl.col("areas").list.first()),
    )
    tells = ground.powers.filter(pl.col("power") == Power.BYPASS_ENDS, pl.col("value") == Told.YES)[
        "site"
    ]
    sites = ground.sites.select(
        "site",
        "now",
        reliable=pl.col("arming_reliable").fill_null(value=False),
        tells=pl.col("site").is_in(tells.unique().to_list()),
    )
    own = (
        ground.removed.filter(pl.col("reason") == Kind.BYPASS)
        .join(points, on=list(POINT), how="left", nulls_equal=True)
        .join(sites, on="site", how="left")
    )
    near = asof(own, at, "since", "forced_at", strategy="nearest")
    by_force = seconds(pl.col("forced_at") - pl.col("since")).abs() <= settings.left_out_s
    known = pl.col("reliable") | pl.col("tells") | pl.col("life_safety").fill_null(value=False)
    return (
        near.filter(known, ~by_force.fill_null(value=False))
        .select(
            *(*POINT, "area", "since", "until"),
            open=pl.col("until") >= pl.col("now"),
            life_safety=pl.col("life_safety").fill_null(value=False),
            always=pl.col("all_hours").fill_null(value=False)
            | pl.col("life_safety").fill_null(value=False)
            | ~pl.col("reliable"),
        )
        .sort(*POINT, "since", nulls_last=True)
    )


def _nights(spans: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Find the runs of armed periods on end without a point."""
    own = spans.filter(~pl.col("always"))
    points = own.select(*POINT, "area", "life_safety").unique(maintain_order=True)
    periods = ground.armed.filter("known").select(
        "site", "since", "until", place="area", length=hours(pl.col("until") - pl.col("since"))
    )
    local = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.ARM)
        .select("site", "night", since="placed")
        .collect()
    )
    periods = periods.join(
        local.unique(["site", "since"], keep="first"), on=["site", "since"], how="left"
    )
    at = (
        points.join(periods, on="site")
        .filter((pl.col("place") == pl.col("area")).fill_null(value=True))
        .with_row_index("line")
    )
    held = (
        at.join(
            own.select(*POINT, "open", out="since", back="until"),
            on=list(POINT),
            nulls_equal=True,
        )
        .filter(pl.col("out") < pl.col("until"), pl.col("back") > pl.col("since"))
        .with_columns(
            shared=hours(pl.min_horizontal("until", "back") - pl.max_horizontal("since", "out"))
        )
        .group_by("line")
        .agg(
            pl.col("shared").sum(),
            pl.col("open").any(),
            out=pl.col("out").min(),
            back=pl.col("back").max(),
            bypass=pl.col("out").max(),
        )
    )
    told = (
        at.join(held, on="line", how="left", maintain_order="left")
        .sort(*POINT, "since", nulls_last=True)
        .with_columns(
            without=(pl.col("shared") >= 0.5 * pl.col("length")).fill_null(value=False),
            key=pl.struct(POINT),
        )
    )
    changes = (pl.col("without") != pl.col("without").shift(1)) | (
        pl.col("key") != pl.col("key").shift(1)
    )
    return (
        told.with_columns(run=changes.fill_null(value=True).cum_sum())
        .filter("without")
        .group_by("run", maintain_order=True)
        .agg(
            pl.col(*POINT).first(),
            pl.col("area", "life_safety").first(),
            since=pl.col("out").min(),
            until=pl.col("back").max(),
            standing=pl.col("open").any(),
            nights=pl.col("night").n_unique().cast(pl.Int64),
            many=pl.col("bypass").n_unique().cast(pl.Int64),
        )
        .filter(
            pl.col("nights")
            >= pl.when(pl.col("standing"))
            .then(settings.bypass_nights)
            .otherwise(settings.bypass_nights_over)
        )
        .select(
            *POINT,
            "area",
            "life_safety",
            "since",
            "until",
            "standing",
            "nights",
            "many",
            hours=hours(pl.col("until") - pl.col("since")),
        )
    )


def _always(spans: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Find long bypasses of points that are always on, or whose arming nobody tells."""
    lasts = hours(pl.col("until") - pl.col("since"))
    least = (
        pl.when(pl.col("life_safety"))
        .then(settings.bypass_life_h)
        .when(pl.col("open"))
        .then(settings.bypass_nights * _DAY_H)
        .otherwise(settings.bypass_nights_over * _DAY_H)
    )
    del ground
    return spans.filter(pl.col("always"), lasts >= least).select(
        *(*POINT, "area", "life_safety", "since", "until"),
        standing="open",
        nights=pl.lit(None, pl.Int64),
        many=pl.lit(1, pl.Int64),
        hours=lasts,
    )
