"""Points that trip again within one armed period, period after period."""

import polars as pl

from eventlab.analysis.contact import POINT, held, rates
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
from eventlab.analysis.riding import beside
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import EVIDENCE, Kind, Pattern, Subject, Timing
from eventlab.settings import Settings
from eventlab.stats import combined, span_chance

_PERIOD = "disarmed_at"
"""The disarm that ends it names an armed period; the last one may have none."""


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find points that trip again within one armed period, period after period.

    Meant is what the point does, not what the panel does about it: a shutdown, and the ceiling
    that it sets, are told beside it, since they hide how often it would have tripped. Left out
    are what somebody disarmed at once, alarms told again of a point that never restored, and
    logs whose arming cannot be followed: they show no armed period.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        As `core.trips` needs it.
    settings : Settings
        ``swinger_within_s`` [s], ``swinger_periods``, ``swinger_share``, ``swinger_spread_h``
        [h], ``swinger_chance``, ``still_days``, and as `beside` needs them.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per point; ``events`` are the alarms of those armed periods;
        ``rate`` and ``ratio`` as of `chattering`. ``p_value``: that the alarms of its armed
        periods stand so close together by chance; ``q_value`` that times ``looks``, the points of
        the site that repeat at all.

    Notes
    -----
    Bad days and spells bring several alarms to one armed period too, spread over it. So the count
    of each period is taken as it is, and only how close they stand is tested (`span_chance`),
    over all periods of the point together (Fisher).
    """
    del context
    own = repeated(ground, settings)
    periods = _together(_periods(own), ground, settings)
    one = pl.col("again")
    swings = (
        periods.group_by(POINT, maintain_order=True)
        .agg(
            pl.col("area").drop_nulls().first(),
            pl.col("grain").max(),
            pl.col("trip_limit", "limit_basis").first(),
            since=pl.col("first").filter(one).min(),
            until=pl.col("last").filter(one).max(),
            tripped=pl.len().cast(pl.Int64),
            swinging=one.sum().cast(pl.Int64),
            events=pl.col("trips").filter(one).sum().cast(pl.Int64),
            most=pl.col("trips").max(),
            half_s=pl.col("soonest").filter(one).median(),
        )
        .filter(
            (pl.col("swinging") >= settings.swinger_periods)
            & (pl.col("swinging") >= settings.swinger_share * pl.col("tripped"))
        )
        .join(_chances(periods), on=POINT, how="left", nulls_equal=True, maintain_order="left")
        .filter(pl.col("q_value") <= settings.swinger_chance)
    )
    if swings.is_empty():
        return found(swings, Pattern.SWINGER)
    ceiling = pl.col("trip_limit").is_not_null() & (pl.col("trip_limit") >= 2)
    shut = (
        ground.removed.filter(pl.col("reason") == Kind.SHUTDOWN)
        .group_by(POINT)
        .agg(shutdowns=pl.len().cast(pl.Int64))
    )
    full = (
        swings.join(_nightly(periods, swings), on=POINT, how="left", nulls_equal=True)
        .join(shut, on=POINT, how="left", nulls_equal=True)
        .join(rates(ground, own), on=POINT, how="left", nulls_equal=True)
        .join(beside(swings, ground, settings), on=POINT, how="left", nulls_equal=True)
        .join(ends(ground), on="site", how="left")
        .with_columns(pl.col("shutdowns").fill_null(0))
    )
    limit = pl.when(ceiling).then("trip_limit")
    return found(
        full.with_columns(
            evidence(
                line(
                    "tripped again within one armed period",
                    number(pl.col("swinging"))
                    + " of the "
                    + number(pl.col("tripped"))
                    + " armed periods in which it alarmed; half within "
                    + told_s(pl.col("half_s"), pl.col("grain")),
                    f"again within {settings.swinger_within_s / 60:.0f} min (a setting)",
                ),
                line(
                    "by chance so close together",
                    pl.when(pl.col("q_value") < 1e-6)
                    .then(pl.lit("less than 1 in a million"))
                    .otherwise("about " + number(pl.col("q_value"), 6)),
                    "if the alarms of each armed period were spread over it; the armed period is "
                    "the unit, all points of the site are counted",
                ),
                line(
                    "out after so many trips of an armed period",
                    number(limit)
                    + pl.when(pl.col("shutdowns") > 0)
                    .then(", shut out " + number(pl.col("shutdowns")) + " times")
                    .otherwise(pl.lit("")),
                    "how many more there would have been is not shown",
                    when=limit.is_not_null(),
                ),
                "nightly",
                line(
                    "alarms while at risk",
                    number(pl.col("alarms")) + " in " + number(pl.col("at_risk_h")) + " h",
                    "armed, not bypassed, shut out or set aside, covered by the log",
                    when=pl.col("at_risk_h") > 0,
                ),
                pl.col("behaviour").fill_null(pl.lit([], dtype=EVIDENCE)),
            ),
            figures(
                {
                    "swinging": pl.col("swinging"),
                    "tripped": pl.col("tripped"),
                    "most": pl.col("most"),
                    "half_s": pl.col("half_s"),
                    "grain": pl.col("grain"),
                    "limit": limit,
                    "limit_basis": pl.when(ceiling).then("limit_basis"),
                    "alarms": pl.col("alarms"),
                    "hours": pl.col("at_risk_h"),
                    "basis": pl.col("basis"),
                    "rides": pl.col("rides"),
                    "rides_n": pl.col("rides_n"),
                    "rides_of": pl.col("rides_of"),
                }
            ),
            standing=pl.col("end") - pl.col("until") <= days(settings.still_days),
            subject_kind=pl.lit(str(Subject.ZONE)),
            subject="zone",
        ),
        Pattern.SWINGER,
    )


def repeated(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return alarms of armed periods, each with the time since the one before it.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``swinger_within_s`` [s].

    Returns
    -------
    polars.DataFrame
        The columns of `core.trips` with ``period`` (a number for each armed period of a point),
        ``gap`` [s] (null for the first of a period) and ``again``, by point and time.
    """
    reliable = ground.sites.filter(pl.col("arming_reliable").fill_null(value=False))
    rows = (
        trips(ground, settings)
        .filter(
            pl.col("zone").is_not_null() & ~pl.col("warm") & (pl.col("timing") != Timing.DOUBTFUL)
        )
        .join(reliable.select("site"), on="site", how="semi")
        .join(held(ground), on=["site", "occurrence"], how="anti", maintain_order="left")
        .sort(*POINT, "at", nulls_last=True)
    )
    same = pl.all_horizontal(
        pl.col(name).eq_missing(pl.col(name).shift(1)) for name in (*POINT, _PERIOD)
    ).fill_null(value=False)
    step = seconds(pl.col("at") - pl.col("at").shift(1))
    return rows.with_columns(gap=pl.when(same).then(step), period=(~same).cum_sum()).with_columns(
        again=(pl.col("gap") <= settings.swinger_within_s).fill_null(value=False)
    )


def _periods(own: pl.DataFrame) -> pl.DataFrame:
    """Gather the alarms of each armed period of a point."""
    return own.group_by("period", maintain_order=True).agg(
        pl.col(*POINT, "local").first(),
        pl.col("area").drop_nulls().first(),
        pl.col("grain").max(),
        first=pl.col("at").first(),
        last=pl.col("at").last(),
        trips=pl.len().cast(pl.Int64),
        soonest=pl.col("gap").min(),
        again=pl.col("again").any(),
    )


def _nightly(periods: pl.DataFrame, swings: pl.DataFrame) -> pl.DataFrame:
    """Tell the worst armed periods of the points that were found."""
    told = line(
        pl.lit("from ") + wall(pl.col("local")),
        number(pl.col("trips"))
        + " alarms, the soonest "
        + told_s(pl.col("soonest"), pl.col("grain"))
        + " after the one before",
        "one armed period, up to the disarm",
    )
    return (
        periods.filter("again")
        .join(swings, on=POINT, how="semi", nulls_equal=True)
        .sort("trips", "first", descending=[True, False])
        .group_by(POINT, maintain_order=True)
        .agg(nightly=told.head(5))
    )


def _together(periods: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Add the chance that the alarms of each armed period lie so close together."""
    hours = ground.exposure.select(*POINT, length=pl.col("hours") / pl.col("periods"))
    limits = ground.points.select(*POINT, "trip_limit", "limit_basis")
    full = periods.join(hours, on=POINT, how="left", nulls_equal=True, maintain_order="left").join(
        limits, on=POINT, how="left", nulls_equal=True, maintain_order="left"
    )
    spread = pl.lit(settings.swinger_spread_h)
    length = pl.min_horizontal(pl.col("length").fill_nan(None), spread).fill_null(spread).clip(1)
    cut = (pl.col("trips") >= pl.col("trip_limit")).fill_null(value=False)
    told = full.select(
        span=seconds(pl.col("last") - pl.col("first")) + pl.col("grain"),
        length=length * 3600,
        cut=cut,
    )
    got = span_chance(
        told["span"].to_numpy(),
        full["trips"].to_numpy(),
        told["length"].to_numpy(),
        told["cut"].to_numpy(),
    )
    return full.with_columns(chance=pl.Series(got, dtype=pl.Float64))


def _chances(periods: pl.DataFrame) -> pl.DataFrame:
    """Join the armed periods of each point that show several alarms to one p-value."""
    several = periods.filter(pl.col("trips") >= 2).with_columns(
        series=pl.struct(POINT).rank("dense").cast(pl.Int64)
    )
    names, tail = combined(several["chance"].to_numpy(), several["series"].to_numpy())
    told = pl.DataFrame({"series": names, "p_value": tail})
    return (
        several.select(*POINT, "series")
        .unique()
        .join(told, on="series")
        .with_columns(looks=pl.len().over("site").cast(pl.Int64))
        .with_columns(q_value=(pl.col("p_value") * pl.col("looks")).clip(0, 1))
        .drop("series")
    )
