"""What the setting of a clock tells of the time before it, where no other witness does."""

from datetime import timedelta

import polars as pl

from eventlab.ground.clock_lost import STRETCH
from eventlab.ground.clock_rule import changes_of
from eventlab.ground.words import ClockSign
from eventlab.schema import Kind, Schema, Witness, conform
from eventlab.settings import Settings

MOVE: Schema = {**STRETCH, "o_from": pl.Int64(), "o_to": pl.Int64(), "from_s": pl.Float64()}
"""A stretch with its places in order (``o_to`` is outside) and the offset at its start [s]."""

_HOUR_NEAR_S = 180.0
_SEASON = timedelta(days=60)
_TURN = timedelta(hours=3)
_YEAR = timedelta(days=400)
_DAY_S = 86_400.0
_TOLD_S = 1.0
_NO_TIME = pl.lit(None, pl.Datetime("us", "UTC"))


def corrected(
    told: pl.DataFrame, events: pl.DataFrame, zones: pl.DataFrame, settings: Settings
) -> pl.DataFrame:
    """Say over which time before each setting a clock was wrong, and by how much.

    An hour, within two months of a change of the clocks: it had stood since that change. What a
    crystal may lose since it was last set: it ran off evenly. More than that: it had been set
    wrong then, or at a restart since, or before the log begins. What may be drift from before the
    log begins is told and not corrected. A clock that changes by itself is right.

    Parameters
    ----------
    told : polars.DataFrame
        As ``clock_lost.sets`` gives it.
    events : polars.DataFrame
        EVENT rows with ``o``, their place in order.
    zones : polars.DataFrame
        ``site``, ``time_zone``.
    settings : Settings
        ``clock_bar_s``, ``clock_drift_most_s``.

    Returns
    -------
    polars.DataFrame
        Columns of ``MOVE``.
    """
    told = told.filter(pl.col("witness") == Witness.PANEL)
    back = _put_back(told, events, settings)
    steps = told.filter(pl.col("by_s").abs() >= settings.clock_bar_s)
    if steps.is_empty():
        return back
    steps = _seasonal(_anchored(told, steps, events), zones, events)
    days = (pl.col("placed") - pl.coalesce("before", "first")).dt.total_seconds() / _DAY_S
    known = pl.col("before").is_not_null()
    drift = ~pl.col("hour") & (pl.col("by_s").abs() <= settings.clock_drift_most_s * days.clip(1))
    since = (
        pl.when("hour")
        .then("turn")
        .when(drift)
        .then(pl.coalesce("before", "first"))
        .otherwise(pl.max_horizontal("first", "before", "restarted"))
    )
    rate = pl.when(drift & known).then(-pl.col("by_s") / days).otherwise(0.0)
    moved = conform(
        steps.select(
            "site",
            pl.col("witness").cast(pl.String),
            sign=pl.when(drift)
            .then(pl.lit(ClockSign.DRIFT.value))
            .otherwise(pl.lit(ClockSign.SET.value)),
            since=since,
            until="placed",
            offset_s=-pl.col("by_s"),
            drift_s_day=rate,
            plus_minus_s=pl.when(drift & ~known).then(pl.col("by_s").abs()).otherwise(_TOLD_S),
            pairs=pl.lit(1, pl.Int64),
            shifted=~drift | known,
            basis=pl.lit("the row that set it"),
            o_from=pl.when(pl.col("hour") | drift)
            .then(pl.col("before_o"))
            .otherwise(pl.max_horizontal("before_o", "restarted_o"))
            .fill_null(-1),
            o_to="o",
            from_s=pl.when(drift & known).then(0.0).otherwise(-pl.col("by_s")),
        ),
        MOVE,
    )
    return pl.concat([moved, back])


def _put_back(told: pl.DataFrame, events: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Tell of clocks that were put back, where only a step back of the rows shows how far at least.

    How long they had been ahead is not known, so nothing is corrected by it.
    """
    silent = told.filter(pl.col("by_s").is_null()).select("site", "source", "row", "o")
    if silent.is_empty():
        return pl.DataFrame(schema=MOVE)
    own = ["site", "source"]
    first = pl.col("placed").min().over("site")
    line = (
        events.join(silent.select(own).unique(), on=own, how="semi")
        .filter(pl.col("at").is_not_null())
        .sort("o")
        .with_columns(
            first=first,
            ahead=(
                pl.col("placed").shift(1) - pl.min_horizontal("placed", pl.col("placed").shift(-1))
            )
            .over(own)
            .dt.total_seconds(),
        )
    )
    stepped = line.join(silent.select(*own, "row"), on=[*own, "row"], how="semi").filter(
        pl.col("ahead") >= settings.clock_bar_s
    )
    return conform(
        stepped.select(
            "site",
            pl.col("witness").cast(pl.String),
            sign=pl.lit(ClockSign.SET.value),
            since="first",
            until="placed",
            offset_s="ahead",
            drift_s_day=pl.lit(0.0),
            plus_minus_s="ahead",
            pairs=pl.lit(1),
            shifted=pl.lit(value=False),
            basis=pl.lit("rows step back where it was set: at least so much"),
            o_from=pl.col("o"),
            o_to=pl.col("o"),
            from_s=pl.lit(0.0),
        ),
        MOVE,
    )


def _anchored(told: pl.DataFrame, steps: pl.DataFrame, events: pl.DataFrame) -> pl.DataFrame:
    """Find what set each clock before: the last setting, the last restart, the log's first row."""
    first = events.filter(pl.col("at").is_not_null()).group_by("site").agg(first=pl.col("at").min())
    earlier = told.select("site", before="placed", before_o="o").sort("before_o")
    restarts = (
        events.filter(
            (pl.col("kind") == Kind.SYSTEM_RESTART) & (pl.col("witness") == Witness.PANEL)
        )
        .select("site", restarted="placed", restarted_o="o")
        .sort("restarted_o")
    )
    near = steps.sort("o").with_columns(just_before=pl.col("o") - 1)
    for other, place in ((earlier, "before_o"), (restarts, "restarted_o")):
        near = near.join_asof(
            other,
            left_on="just_before",
            right_on=place,
            by="site",
            coalesce=False,
            check_sortedness=False,
        )
    return near.join(first, on="site", how="left")


def _seasonal(steps: pl.DataFrame, zones: pl.DataFrame, events: pl.DataFrame) -> pl.DataFrame:
    """Mark settings of the hour that the clocks had changed by; drop those a clock makes itself."""
    span = events.select(first=pl.col("placed").min() - _YEAR, last=pl.col("placed").max() + _TURN)
    turns = changes_of(zones["time_zone"], span["first"][0], span["last"][0])
    near = (
        steps.join(zones.select("site", "time_zone"), on="site", how="left")
        .with_columns(soon=pl.col("placed") + _TURN)
        .sort("soon")
        .join_asof(
            turns.select("time_zone", "step", turn="at").sort("turn"),
            left_on="soon",
            right_on="turn",
            by="time_zone",
            coalesce=False,
            check_sortedness=False,
        )
    )
    hour = ((pl.col("by_s") - pl.col("step") * 60).abs() <= _HOUR_NEAR_S).fill_null(value=False)
    itself = (pl.col("placed") - pl.col("turn")).abs() <= _TURN
    return near.filter(~(hour & itself).fill_null(value=False)).with_columns(
        hour=(hour & (pl.col("placed") - pl.col("turn") <= _SEASON)).fill_null(value=False)
    )
