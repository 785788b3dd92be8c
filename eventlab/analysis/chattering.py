"""Points that come and go many times a minute."""

import polars as pl

from eventlab.analysis.contact import ALARM, POINT, floors, rates, trips
from eventlab.analysis.found import (
    count,
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
from eventlab.schema import EVIDENCE, Kind, Pattern, Subject
from eventlab.settings import Settings
from eventlab.stats import chatter_index, count_within

MINUTE, FLOOR = "minute", "floor"


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find points that chatter: three or more trips within a minute, repeatedly.

    A point that cannot show three in a minute, since it sleeps after each trip, chatters where
    its trips come one after the other as soon as it can tell them.

    Counted are alarms, and activations of armed time (while people are about, coming and going is
    no fault), outside time set aside, of points that are no life-safety points. A burst counts
    only where the clock proves it: what lies between its first and last row, and one step of the
    clock more, must fit into the minute.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        The zone schedule may tell the shortest spacing of a point.
    settings : Settings
        ``chatter_count`` in ``chatter_window_s``, ``chatter_bursts_min``, ``chatter_heavy``,
        ``chatter_runs_min``, ``still_days``; ``chatter_floor_count``, and as `contact.floors` and
        `beside` need them.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per point; ``rate`` in alarms per hour at risk; ``ratio`` of nights
        with an alarm per armed period against the other points of the site.

    Notes
    -----
    ISA-18.2 / IEC 62682: three or more in a minute; index as in `stats.chatter_index`.
    """
    own = trips(ground)
    if own.is_empty():
        return found(own, Pattern.CHATTERING)
    lowest = floors(own, ground, context, settings)
    columns = [
        *POINT,
        "area",
        "night",
        "local",
        "at",
        "last",
        "trips",
        "most",
        "grain",
        "rule",
        "nightly",
    ]
    quick = _bursts(own, settings).select(columns)
    slow = _metronomes(own, lowest, settings).select(columns)
    bursts = pl.concat([quick, slow]).sort(*POINT, "at", nulls_last=True)
    other = _alone(bursts, own, settings)
    chatter = (
        bursts.join(other, on=[*POINT, "night"], how="left", nulls_equal=True)
        .group_by(*POINT, "night", maintain_order=True)
        .agg(
            pl.col("local").first(),
            pl.col("area").drop_nulls().first(),
            first=pl.col("at").first(),
            last=pl.col("last").last(),
            bursts=pl.len().cast(pl.Int64),
            slow=(pl.col("rule") == FLOOR).sum().cast(pl.Int64),
            trips=pl.col("trips").sum().cast(pl.Int64),
            most=pl.col("most").max(),
            grain=pl.col("grain").max(),
            nightly=pl.col("nightly").first(),
            alone=pl.col("alone").first().fill_null(value=True),
        )
        .group_by(POINT, maintain_order=True)
        .agg(
            pl.col("area").drop_nulls().first(),
            since=pl.col("first").min(),
            until=pl.col("last").max(),
            nights=pl.len().cast(pl.Int64),
            bursts=pl.col("bursts").sum(),
            slow=pl.col("slow").sum(),
            events=pl.col("trips").sum(),
            most=pl.col("most").max(),
            grain=pl.col("grain").max(),
            heavy=pl.col("trips").filter(pl.col("alone")).max().fill_null(0),
            nightly=line(
                pl.lit("from ") + wall(pl.col("local")),
                number(pl.col("trips")) + " in " + count(pl.col("bursts"), "burst"),
                pl.col("nightly"),
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
        chatter.join(_indices(own), on=POINT, how="left", nulls_equal=True)
        .join(rates(ground, own), on=POINT, how="left", nulls_equal=True)
        .join(lowest, on=POINT, how="left", nulls_equal=True)
        .join(beside(chatter, ground, settings), on=POINT, how="left", nulls_equal=True)
        .join(ends(ground), on="site", how="left")
    )
    # The index of a point that cannot be quick says nothing beside that of one that can.
    sleeps = pl.col("slow") * 2 > pl.col("bursts")
    enough = (pl.col("runs") >= settings.chatter_runs_min) & ~sleeps
    index = pl.when(enough).then("index")
    rule = pl.when(sleeps).then(pl.lit(FLOOR)).otherwise(pl.lit(MINUTE))
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
                line(
                    "the shortest spacing that it shows",
                    told_s(pl.col("floor_s"), pl.col("grain"))
                    + pl.when(pl.col("floor_basis") == "seen")
                    .then(", " + number(pl.col("piled")) + " repeats just above it")
                    .otherwise(pl.lit(", listed")),
                    "a point that sleeps after a trip cannot show more; its chatter index is not "
                    "compared with that of others",
                    when=pl.col("floor_s").is_not_null() & sleeps,
                ),
                pl.col("behaviour").fill_null(pl.lit([], dtype=EVIDENCE)),
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
                    "rule": rule,
                    "floor_s": pl.col("floor_s"),
                    "grain": pl.col("grain"),
                    "rides": pl.col("rides"),
                    "rides_n": pl.col("rides_n"),
                    "rides_of": pl.col("rides_of"),
                }
            ),
            standing=pl.col("end") - pl.col("until") <= days(settings.still_days),
            subject_kind=pl.lit(str(Subject.ZONE)),
            subject="zone",
        ),
        Pattern.CHATTERING,
    )


def _series(trips: pl.DataFrame, *more: str) -> pl.Series:
    return trips.select(pl.struct(*POINT, *more).rank("dense")).to_series()


def _bursts(trips: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return each burst once: consecutive trips of one family that lie in a full minute."""
    step = trips["grain"].to_numpy().astype("int64")
    window = (int(settings.chatter_window_s) - step).clip(-1) * 1000
    moments = trips["at"].dt.epoch("ms").to_numpy()
    series = _series(trips, "family").to_numpy()
    most = count_within(moments, window.clip(0), series)
    key = (*POINT, "family")
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
            grain=pl.col("grain").max(),
        )
        .with_columns(
            rule=pl.lit(MINUTE),
            nightly=pl.lit("three or more within a minute (ISA-18.2, IEC 62682)"),
        )
    )


def _metronomes(trips: pl.DataFrame, lowest: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return runs of alarms that each came as soon as their point could tell one.

    Only of points that cannot show three in a minute: all others are held to that.
    """
    slow = lowest.filter(
        pl.col("floor_s") * (settings.chatter_count - 1) > settings.chatter_window_s
    )
    own = trips.filter(pl.col("family") == ALARM).join(
        slow, on=POINT, nulls_equal=True, maintain_order="left"
    )
    gap = seconds(pl.col("at") - pl.col("at").shift(1).over(POINT))
    soon = gap.is_between(
        pl.col("floor_s") - pl.col("grain"), pl.col("floor_high_s") + pl.col("grain")
    )
    return (
        own.with_columns(burst=(~soon.fill_null(value=False)).cum_sum().over(POINT))
        .group_by(*POINT, "burst", maintain_order=True)
        .agg(
            pl.col("local", "at", "night").first(),
            pl.col("area").drop_nulls().first(),
            last=pl.col("at").last(),
            trips=pl.len(),
            most=pl.len().cast(pl.Int64),
            grain=pl.col("grain").max(),
        )
        .filter(pl.col("trips") >= settings.chatter_floor_count)
        .with_columns(
            rule=pl.lit(FLOOR),
            nightly=pl.lit("each as soon as the point could tell it (common practice)"),
        )
    )


def _alone(bursts: pl.DataFrame, trips: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Say on which nights of chatter no other point of the site tripped within the hour."""
    alarms = trips.filter(pl.col("family") == "alarm").select("site", "at", other="zone")
    near = pl.duration(seconds=int(settings.confirmation_window_s))
    return (
        bursts.select(*POINT, "night", "at", "last")
        .join(alarms, on="site", suffix="_other")
        .filter(
            (pl.col("other") != pl.col("zone"))
            & (pl.col("at_other") >= pl.col("at") - near)
            & (pl.col("at_other") <= pl.col("last") + near)
        )
        .select(*POINT, "night", alone=pl.lit(value=False))
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
        (pl.col("first") == pl.col("first").min().over(POINT)) & (pl.col("grain") <= 1)
    ).with_columns(series=pl.struct(POINT).rank("dense").cast(pl.Int64))
    if own.is_empty():
        return own.select(*POINT, index=pl.lit(None, pl.Float64), runs=pl.lit(0, pl.Int64))
    got = chatter_index(own["at"].dt.epoch("ms").to_numpy() / 1000, own["series"].to_numpy())
    return (
        own.select(*POINT, "series")
        .unique()
        .join(
            pl.DataFrame({"series": got.group, "index": got.psi, "runs": got.runs}),
            on="series",
        )
        .select(*POINT, "runs", index=pl.col("index").fill_nan(None))
    )
