"""Points that come and go many times a minute."""

import polars as pl

from eventlab.analysis.found import count, days, ends, evidence, figures, found, line, number, wall
from eventlab.context import Context
from eventlab.ground import Arming, Ground, Power, Restores, State
from eventlab.schema import Kind, Pattern, Phase, Subject
from eventlab.settings import Settings
from eventlab.stats import chatter_index, count_within, rate_ratio

_POINT = ("site", "zone", "within")
_ALARMS = (Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM)
_RESTORED = 0.3
"""Share of alarms with a restore: with memory of each, half of them are left."""
_KINDS = (*_ALARMS, Kind.TAMPER_ALARM, Kind.ACTIVATION)


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find points that chatter: three or more activations or alarms within a minute, repeatedly.

    Counted are alarms, and activations of armed time (while people are about, coming and going is
    no fault), outside time set aside, of points that are no life-safety points. A burst counts
    only where the clock proves it: what lies between its first and last row, and one step of the
    clock more, must fit into the minute.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``chatter_count`` in ``chatter_window_s``, ``chatter_bursts_min``, ``chatter_heavy``,
        ``chatter_runs_min``, ``still_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per point; ``rate`` in alarms per hour at risk; ``ratio`` of nights
        with an alarm per armed period against the other points of the site.

    Notes
    -----
    ISA-18.2 / IEC 62682: three or more in a minute; index as in `stats.chatter_index`.
    """
    del context
    trips = _trips(ground)
    if trips.is_empty():
        return found(trips, Pattern.CHATTERING)
    bursts = _bursts(trips, settings)
    other = _alone(bursts, trips, settings)
    chatter = (
        bursts.join(other, on=[*_POINT, "night"], how="left", nulls_equal=True)
        .group_by(*_POINT, "night", maintain_order=True)
        .agg(
            pl.col("local").first(),
            pl.col("area").drop_nulls().first(),
            first=pl.col("at").first(),
            last=pl.col("last").last(),
            bursts=pl.len().cast(pl.Int64),
            trips=pl.col("trips").sum().cast(pl.Int64),
            most=pl.col("most").max(),
            alone=pl.col("alone").first().fill_null(value=True),
        )
        .group_by(_POINT, maintain_order=True)
        .agg(
            pl.col("area").drop_nulls().first(),
            since=pl.col("first").min(),
            until=pl.col("last").max(),
            nights=pl.len().cast(pl.Int64),
            bursts=pl.col("bursts").sum(),
            events=pl.col("trips").sum(),
            most=pl.col("most").max(),
            heavy=pl.col("trips").filter(pl.col("alone")).max().fill_null(0),
            nightly=line(
                pl.lit("from ") + wall(pl.col("local")),
                number(pl.col("trips")) + " in " + count(pl.col("bursts"), "burst"),
                "three or more within a minute (ISA-18.2, IEC 62682)",
            )
            .sort_by("trips", descending=True)
            .head(6),
        )
        .filter(
            ((pl.col("bursts") >= settings.chatter_bursts_min) & (pl.col("nights") >= 2))
            | (pl.col("heavy") >= settings.chatter_heavy)
        )
    )
    if chatter.is_empty():
        return found(chatter, Pattern.CHATTERING)
    full = (
        chatter.join(_indices(trips), on=_POINT, how="left", nulls_equal=True)
        .join(_rates(ground, trips), on=_POINT, how="left", nulls_equal=True)
        .join(ends(ground), on="site", how="left")
    )
    enough = pl.col("runs") >= settings.chatter_runs_min
    index = pl.when(enough).then("index")
    return found(
        full.with_columns(
            evidence(
                "nightly",
                line(
                    "chatter index",
                    number(pl.col("index"), 3)
                    + " per second; "
                    + str(settings.chatter_index)
                    + " and above is chatter",
                    "Kondaveeti et al. 2013",
                    when=index.is_not_null(),
                ),
                line(
                    "alarms while at risk",
                    number(pl.col("alarms")) + " in " + number(pl.col("at_risk_h")) + " h",
                    "armed, not bypassed, shut out or set aside, covered by the log",
                    when=pl.col("at_risk_h") > 0,
                ),
            ),
            figures(
                {
                    "bursts": pl.col("bursts"),
                    "nights": pl.col("nights"),
                    "most": pl.col("most"),
                    "index": index,
                    "alarms": pl.col("alarms"),
                    "hours": pl.col("at_risk_h"),
                    "basis": pl.col("basis"),
                }
            ),
            standing=pl.col("end") - pl.col("until") <= days(settings.still_days),
            subject_kind=pl.lit(str(Subject.ZONE)),
            subject="zone",
        ),
        Pattern.CHATTERING,
    )


def _trips(ground: Ground) -> pl.DataFrame:
    """Return what counts: one row per trip, with what kind of row tells it and its clock."""
    kind = pl.col("kind")
    armed = (kind != Kind.ACTIVATION) | (pl.col("state") == State.ARMED)
    counted = (
        kind.is_in(list(_KINDS))
        & (pl.col("phase") == Phase.BEGIN)
        & pl.col("zone").is_not_null()
        & pl.col("at").is_not_null()
        & ~pl.col("aside")
        & ~pl.col("life_safety")
    )
    return (
        _restored(ground)
        .filter(counted & armed)
        .select(
            *_POINT,
            "area",
            "at",
            "local",
            "night",
            pl.col("grain").fill_null(1),
            family=pl.when(kind.is_in(list(_ALARMS)))
            .then(pl.lit("alarm"))
            .otherwise(kind.cast(pl.String)),
        )
        .sort(*_POINT, "family", "at", nulls_last=True)
    )


def _restored(ground: Ground) -> pl.DataFrame:
    """Leave out alarms told again before they restored, where no disarm tells what is memory.

    Where disarms are recorded the ground knows what a panel writes again after one.
    """
    name, value = pl.col("power"), pl.col("value")
    followed = ground.powers.filter((name == Power.ARMING) & (value == Arming.ALL))["site"]
    live = ground.powers.filter(
        (name == Power.RESTORES)
        & (value == Restores.LIVE)
        & ~pl.col("site").is_in(followed.unique().implode())
    )
    point = ["site", "zone", "within", "kind"]
    begins = pl.col("phase") == Phase.BEGIN
    after = pl.col("phase").shift(1).over(point)
    rows = ground.occurrences.filter(
        pl.col("kind").is_in(list(_ALARMS))
        & pl.col("zone").is_not_null()
        & pl.col("site").is_in(live["site"].unique().implode())
    ).select(*point, "phase", "occurrence")
    told = (pl.col("phase") == Phase.END).sum().over(point) / begins.sum().over(point)
    again = rows.with_columns(again=begins & (after == Phase.BEGIN) & (told >= _RESTORED))
    return ground.occurrences.join(
        again.filter("again").select("site", "occurrence"),
        on=["site", "occurrence"],
        how="anti",
        maintain_order="left",
    )


def _series(trips: pl.DataFrame, *more: str) -> pl.Series:
    return trips.select(pl.struct(*_POINT, *more).rank("dense")).to_series()


def _bursts(trips: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return each burst once: consecutive trips of one family that lie in a full minute."""
    step = trips["grain"].to_numpy().astype("int64")
    window = (int(settings.chatter_window_s) - step).clip(-1) * 1000
    moments = trips["at"].dt.epoch("ms").to_numpy()
    series = _series(trips, "family").to_numpy()
    most = count_within(moments, window.clip(0), series)
    key = (*_POINT, "family")
    counted = trips.with_columns(
        most=pl.Series(most) * pl.Series(window >= 0).cast(pl.Int64)
    ).with_columns(head=pl.col("most") >= settings.chatter_count)
    # Members of a burst: its head and the trips its minute reaches.
    reach = pl.when("head").then(pl.int_range(pl.len()) + pl.col("most") - 1)
    member = pl.int_range(pl.len()) <= reach.forward_fill().cum_max()
    inside = counted.with_columns(member=member.over(key).fill_null(value=False)).filter("member")
    gap = (pl.col("at") - pl.col("at").shift(1).over(key)).dt.total_seconds()
    return (
        inside.with_columns(
            burst=(gap.fill_null(0) > settings.chatter_window_s).cum_sum().over(key)
        )
        .group_by(*key, "burst", maintain_order=True)
        .agg(
            pl.col("local", "at", "night").first(),
            pl.col("area").drop_nulls().first(),
            last=pl.col("at").last(),
            trips=pl.len(),
            most=pl.col("most").max(),
        )
        .sort(*_POINT, "at", nulls_last=True)
    )


def _alone(bursts: pl.DataFrame, trips: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Say on which nights of chatter no other point of the site tripped within the hour."""
    alarms = trips.filter(pl.col("family") == "alarm").select("site", "at", other="zone")
    near = pl.duration(seconds=int(settings.confirmation_window_s))
    return (
        bursts.select(*_POINT, "night", "at", "last")
        .join(alarms, on="site", suffix="_other")
        .filter(
            (pl.col("other") != pl.col("zone"))
            & (pl.col("at_other") >= pl.col("at") - near)
            & (pl.col("at_other") <= pl.col("last") + near)
        )
        .select(*_POINT, "night", alone=pl.lit(value=False))
        .unique()
    )


def _indices(trips: pl.DataFrame) -> pl.DataFrame:
    """Work out the chatter index of each point from alarms, or activations where it has none."""
    preferred = trips.with_columns(
        first=pl.col("family").replace_strict(
            {"alarm": 0, str(Kind.TAMPER_ALARM): 1, str(Kind.ACTIVATION): 2}, return_dtype=pl.Int8
        )
    )
    own = preferred.filter(
        (pl.col("first") == pl.col("first").min().over(_POINT)) & (pl.col("grain") <= 1)
    ).with_columns(series=pl.struct(_POINT).rank("dense").cast(pl.Int64))
    if own.is_empty():
        return own.select(*_POINT, index=pl.lit(None, pl.Float64), runs=pl.lit(0, pl.Int64))
    got = chatter_index(own["at"].dt.epoch("ms").to_numpy() / 1000, own["series"].to_numpy())
    return (
        own.select(*_POINT, "series")
        .unique()
        .join(
            pl.DataFrame({"series": got.group, "index": got.psi, "runs": got.runs}),
            on="series",
        )
        .select(*_POINT, "runs", index=pl.col("index").fill_nan(None))
    )


def _rates(ground: Ground, trips: pl.DataFrame) -> pl.DataFrame:
    """Give each point its alarms per hour at risk, and its nights against the other points'."""
    counts = (
        ground.occurrences.filter(pl.col("trip") & pl.col("at_risk"))
        .group_by(_POINT)
        .agg(alarms=pl.len().cast(pl.Int64), bad=pl.col("night").n_unique().cast(pl.Int64))
    )
    risk = (
        ground.exposure.select(*_POINT, "basis", at_risk_h="hours", periods="periods")
        .join(counts, on=_POINT, how="left", nulls_equal=True)
        .with_columns(pl.col("alarms", "bad").fill_null(0))
        .with_columns(pl.min_horizontal("bad", "periods").alias("bad"))
    )
    rest = risk.with_columns(
        other_bad=pl.col("bad").sum().over("site") - pl.col("bad"),
        other_periods=pl.col("periods").sum().over("site") - pl.col("periods"),
    ).join(trips.select(_POINT).unique(), on=_POINT, how="semi", nulls_equal=True)
    got = rate_ratio(
        rest["bad"].to_numpy(),
        rest["periods"].to_numpy(),
        rest["other_bad"].to_numpy(),
        rest["other_periods"].to_numpy(),
    )
    finite = pl.col("ratio", "ratio_low", "ratio_high")
    return rest.with_columns(
        ratio=pl.Series(got.ratio),
        ratio_low=pl.Series(got.low),
        ratio_high=pl.Series(got.high),
    ).select(
        *_POINT,
        "alarms",
        "at_risk_h",
        pl.col("basis").cast(pl.String),
        pl.when(finite.is_finite()).then(finite),
        rate=pl.when(pl.col("at_risk_h") > 0).then(pl.col("alarms") / pl.col("at_risk_h")),
    )
