"""Test reports: when they are due, and which came, came late, or did not come."""

import polars as pl

from eventlab.analysis.found import asof, days, ends, hours
from eventlab.analysis.kept import kept
from eventlab.ground import Ground
from eventlab.schema import Kind, Phase, Witness, formatted
from eventlab.settings import Settings

KEY = ("site", "witness")
_DAY_H = 24.0


@kept
def series(ground: Ground, settings: Settings) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    """Return all series of reports, what was learned of them, and the silences after each.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        As for `periods`.

    Returns
    -------
    tuple of polars.DataFrame
        `told` and `by_path` one below the other, `periods` and `gaps` of them; ``path`` is null
        where it is of reports over whichever path.
    """
    whole = told(ground)
    reports = pl.concat([whole, by_path(ground).select(whole.columns)])
    learned = periods(reports, settings)
    return reports, learned, gaps(reports, learned, ground)


def told(ground: Ground) -> pl.DataFrame:
    """Return the reports as each witness tells them, over any path.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.

    Returns
    -------
    polars.DataFrame
        ``site``, ``witness``, ``path`` (null: whichever brought it), ``placed``, ``local``,
        ``source``, ``kind``, sorted.
    """
    return (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in([Kind.TEST_REPORT, Kind.MANUAL_TEST]))
        .select("site", "placed", "local", "source", "kind", witness="witnesses")
        .collect()
        .explode("witness")
        .with_columns(path=pl.lit(None, dtype=pl.String))
        .sort(*KEY, "placed")
    )


def by_path(ground: Ground) -> pl.DataFrame:
    """Return the reports that the centre heard over each path, of sites with several.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.

    Returns
    -------
    polars.DataFrame
        As `told`, with ``path``.
    """
    several = pl.col("path").n_unique().over("site") > 1
    return (
        ground.events.lazy()
        .filter(
            (pl.col("kind") == Kind.TEST_REPORT)
            & (pl.col("phase") != Phase.END)
            & (pl.col("witness") == Witness.RECEIVER)
            & pl.col("path").is_not_null()
            & pl.col("at").is_not_null()
        )
        .filter(several)
        .select(
            *("site", "placed", "source", "kind", "path"),
            local="wall",
            witness=pl.col("witness").cast(pl.String),
        )
        .sort(*KEY, "path", "placed")
        .collect()
    )


def periods(reports: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Learn how often each series of reports comes, at what time of day, how punctually.

    Reports closer than a quarter of the usual gap (two paths, one sent by hand) are one.

    Parameters
    ----------
    reports : polars.DataFrame
        As `told` or `by_path` give them.
    settings : Settings
        ``report_min``, ``report_fixed_s``, ``report_fixed_share``.

    Returns
    -------
    polars.DataFrame
        ``site``, ``witness``, ``path``, ``reports``, ``period_h`` (median gap), ``clock`` (time of
        day as ``HH:MM``, of a series that keeps it; null of a timer that runs from the last one, or
        of one sent more than once a day), ``spread_h`` (nine of ten gaps are no further from the
        period).
    """
    key = [*KEY, "path"]
    gap = hours(pl.col("placed") - pl.col("placed").shift(1).over(key))
    regular = reports.filter(pl.col("kind") == Kind.TEST_REPORT).with_columns(gap_h=gap)
    wide = pl.col("gap_h").quantile(0.75, "linear").over(key)
    some = regular.filter(pl.col("gap_h").is_null() | (pl.col("gap_h") > wide / 4)).with_columns(
        gap_h=gap, hour=_hour("local")
    )
    # The middle of the hours of a clock face, cut opposite to the first of them.
    start = pl.col("hour").first().over(key)
    turned = (pl.col("hour") - start + _DAY_H / 2) % _DAY_H
    middle = turned.median().over(key)
    away = (turned - middle).abs() * 3600 <= settings.report_fixed_s
    some = some.with_columns(near=away, at=(middle - _DAY_H / 2 + start) % _DAY_H)
    rows = some.group_by(key, maintain_order=True).agg(
        reports=pl.len().cast(pl.Int64),
        period_h=pl.col("gap_h").median(),
        spread_h=(pl.col("gap_h") - pl.col("gap_h").median()).abs().quantile(0.9, "linear"),
        near=pl.col("near").mean(),
        at=pl.col("at").first(),
    )
    whole = pl.col("period_h") / _DAY_H
    daily = (whole >= 0.9) & ((whole - whole.round(0)).abs() * _DAY_H < 1)
    fixed = daily & (pl.col("near") >= settings.report_fixed_share)
    minutes = (pl.col("at") * 60).round(0).cast(pl.Int64) % 1440
    shown = formatted(
        "{}:{}",
        (minutes // 60).cast(pl.String).str.zfill(2),
        (minutes % 60).cast(pl.String).str.zfill(2),
    )
    return rows.filter(
        (pl.col("reports") >= settings.report_min) & (pl.col("period_h") > 0.1)
    ).select(*key, "reports", "period_h", "spread_h", clock=pl.when(fixed).then(shown))


def gaps(reports: pl.DataFrame, learned: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Return the silence after each report, the last one up to the end of its witness's log.

    Parameters
    ----------
    reports : polars.DataFrame
        As `told` or `by_path` give them.
    learned : polars.DataFrame
        As `periods` gives it.
    ground : Ground
        What every analysis stands on.

    Returns
    -------
    polars.DataFrame
        The columns of both, ``since``, ``until``, ``gap_h``, ``wall_h`` (the same by the clock on
        the wall, null where none came after it), ``open`` (none came after it) and
        ``uncovered`` (the log does not cover the silence).
    """
    key = [*KEY, "path"]
    spoken = (
        ground.events.lazy()
        .group_by("site", "witness")
        .agg(heard=pl.col("placed").max())
        .collect()
        .with_columns(pl.col("witness").cast(pl.String))
        .join(ends(ground), on="site", how="left")
        .join(ground.sites.select("site", "now", newest="last"), on="site", how="left")
    )
    # Where the centre's history ends long before the panel's log, only its own end counts; and
    # that a log reaches up to the present is taken for granted: a report may be missing from it
    # only because it was written before.
    near = pl.col("end") - pl.col("heard") <= days(2)
    taken = (pl.col("end") == pl.col("now")) & (pl.col("end") > pl.col("newest"))
    end = pl.when(near & ~taken).then("end").otherwise("heard")
    spoken = spoken.with_columns(end=end).drop("now", "newest")
    following = (
        reports.join(learned, on=key, nulls_equal=True)
        .sort(*key, "placed", nulls_last=True)
        .with_columns(
            next=pl.col("placed").shift(-1).over(key),
            # A report that keeps its time of day is an hour off when the clocks change, not late.
            wall_h=hours(pl.col("local").shift(-1).over(key) - pl.col("local")),
        )
        .join(spoken, on=list(KEY), how="left")
        .with_columns(open=pl.col("next").is_null())
        .with_columns(since="placed", until=pl.coalesce("next", "end"))
        .with_columns(gap_h=hours(pl.col("until") - pl.col("since")))
    )
    cover = ground.coverage.select("site", start="since", stop="until")
    short = hours(pl.col("stop") - pl.col("since")) < 1.5 * pl.col("period_h")
    return (
        asof(following, cover, "since", "start")
        .with_columns(uncovered=((pl.col("stop") < pl.col("until")) & short).fill_null(value=False))
        .sort(*key, "since", nulls_last=True)
    )


def slots(after: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return each report that was due, and what became of it.

    A report is due one period after the one before. It came late where it came later than
    ``report_late_s``, and twice the usual spread, after that; what is later than half a period is
    missed. Silence that the log does not cover has nothing due in it.

    Parameters
    ----------
    after : polars.DataFrame
        As `gaps` gives it.
    settings : Settings
        ``report_grace``, ``report_late_s``.

    Returns
    -------
    polars.DataFrame
        ``site``, ``witness``, ``path``, ``due`` (UTC), ``came`` (``on time``, ``late``,
        ``missed``), ``late_h`` (null where missed).
    """
    period = pl.col("period_h")
    slack = pl.max_horizontal(pl.lit(settings.report_late_s / 3600), 2 * pl.col("spread_h"))
    # At the end of a log the next one may still come: it is missed after its grace only.
    steps = (
        pl.when("open")
        .then((pl.col("gap_h") / period - settings.report_grace + 1).floor())
        .otherwise((pl.col("gap_h") / period).round(0))
        .cast(pl.Int64)
        .clip(0)
    )
    rows = (
        after.filter(~pl.col("uncovered"))
        .with_columns(steps=steps)
        .filter(pl.col("steps") > 0)
        .with_columns(step=pl.int_ranges(1, pl.col("steps") + 1))
        .explode("step")
    )
    last = (pl.col("step") == pl.col("steps")) & ~pl.col("open")
    lasted = pl.when(pl.col("clock").is_not_null()).then(pl.coalesce("wall_h", "gap_h"))
    late = lasted.otherwise("gap_h") - pl.col("steps") * period
    return rows.select(
        *KEY,
        "path",
        due=pl.col("since")
        + pl.duration(microseconds=(pl.col("step") * period * 3.6e9).cast(pl.Int64)),
        came=pl.when(~last)
        .then(pl.lit("missed"))
        .when(late > slack)
        .then(pl.lit("late"))
        .otherwise(pl.lit("on time")),
        late_h=pl.when(last).then(late.clip(0)),
    )


def _hour(column: str) -> pl.Expr:
    local = pl.col(column)
    return (
        local.dt.hour().cast(pl.Float64)
        + local.dt.minute().cast(pl.Float64) / 60
        + local.dt.second().cast(pl.Float64) / 3600
    )
