"""When each area was armed, and in which state a row found its area."""

from datetime import timedelta

import polars as pl

from eventlab.ground.places import Places, looking_at, spread
from eventlab.ground.words import STATE, Rule, State
from eventlab.schema import MODE, Kind, Mode
from eventlab.settings import Settings

UNARMED, PART, WHOLE, UNKNOWN, OUTSIDE = 0, 1, 2, -1, -2


def timeline(
    acts: pl.DataFrame, cover: pl.DataFrame, known: Places, settle: pl.DataFrame, settings: Settings
) -> pl.DataFrame:
    """Lay the arming of every place end to end over the time that its log covers.

    The state is unknown from the start of each covered stretch to the first arm or disarm in it.
    A second arm in the same extent changes nothing (a timer that finds the place armed); a failed
    arming soon after an arm takes it back. Restarts change nothing (ANSI/SIA CP-01 4.4.3).

    Parameters
    ----------
    acts : polars.DataFrame
        Occurrences of arm, disarm and arm-failed: ``n``, ``s``, ``placed``, ``kind``, ``mode``,
        ``area``, ``person``.
    cover : polars.DataFrame
        Where arming is recorded: ``s``, ``since``, ``until``, ``first``, ``last`` (bounds in n).
    known : Places
        The places.
    settle : polars.DataFrame
        ``s``, ``settle_s``: seconds after an arm until exit time is over.
    settings : Settings
        ``exit_unsettled_s``.

    Returns
    -------
    polars.DataFrame
        ``k``, ``s``, ``area``, ``order`` (2 n, odd at the ends of cover), ``since``, ``until``,
        ``extent``, ``mode``, ``person``, ``disarmed_by``, ``settled_since``, ``period``; sorted
        by place and time.
    """
    wide = spread(acts, known)
    extent = (
        pl.when(pl.col("kind") != Kind.ARM)
        .then(UNARMED)
        .when(pl.col("mode") == Mode.PART)
        .then(PART)
        .otherwise(WHOLE)
    )
    told = _inside(wide, cover).select(
        "k",
        order=pl.col("n") * 2,
        since="placed",
        extent=extent.cast(pl.Int8),
        failed=pl.col("kind") == Kind.ARM_FAILED,
        mode="mode",
        person="person",
    )
    ends = cover.join(known.areas.select("s", "k"), on="s")
    bounds = [
        ends.select("k", order=order, since=since, extent=pl.lit(what, dtype=pl.Int8))
        for order, since, what in (
            (pl.col("first") * 2 - 1, "since", UNKNOWN),
            (pl.col("last") * 2 + 1, "until", OUTSIDE),
        )
    ]
    # Where a gap lies between two rows in order, its end and its start share a place: end first.
    line = pl.concat([told, *bounds], how="diagonal").sort("k", "order", "extent")
    soon = pl.lit(timedelta(seconds=settings.exit_unsettled_s))
    took_back = (pl.col("extent").shift(1) > 0) & (
        pl.col("since") - pl.col("since").shift(1) <= soon
    )
    same_place = pl.col("k") == pl.col("k").shift(1)
    line = line.filter(
        ~pl.col("failed").fill_null(value=False) | (same_place & took_back).fill_null(value=False)
    )
    line = line.filter(
        ~(same_place & (pl.col("extent") == pl.col("extent").shift(1))).fill_null(value=False)
    )
    following = pl.col("k") == pl.col("k").shift(-1)
    next_unarmed = following & (pl.col("extent").shift(-1) == UNARMED)
    return (
        line.join(known.areas, on="k", how="left", maintain_order="left")
        .join(settle.select("s", "settle_s"), on="s", how="left", maintain_order="left")
        .with_columns(
            until=pl.when(following).then(pl.col("since").shift(-1)).otherwise("since"),
            disarmed_by=pl.when(next_unarmed).then(pl.col("person").shift(-1)),
            period=(pl.col("extent") <= UNARMED).cum_sum().cast(pl.Int64),
        )
        .with_columns(
            settled_since=pl.min_horizontal(
                "until",
                pl.col("since")
                + pl.duration(microseconds=(pl.col("settle_s") * 1e6).cast(pl.Int64)),
            ),
        )
        .select(
            *("k", "s", "area", "order", "since", "until", "extent", "mode", "person"),
            *("disarmed_by", "settled_since", "period"),
        )
    )


def armed(line: pl.DataFrame) -> pl.DataFrame:
    """Give the armed and the unknown stretches; covered time outside them is unarmed.

    Parameters
    ----------
    line : polars.DataFrame
        As ``timeline`` gives it.

    Returns
    -------
    polars.DataFrame
        ``s``, ``area``, ``since``, ``until``, ``mode``, ``person``, ``settled_since``,
        ``disarmed_by``, ``known``, ``period``, ``k``, ``extent``.
    """
    return line.filter(
        (pl.col("extent") > 0)
        | ((pl.col("extent") == UNKNOWN) & (pl.col("since") < pl.col("until")))
    ).select(
        *("s", "area", "since", "until", "mode", "person", "settled_since", "disarmed_by"),
        known=pl.col("extent") > 0,
        period="period",
        k="k",
        extent="extent",
    )


def found_in(
    rows: pl.DataFrame, line: pl.DataFrame, points: pl.DataFrame, known: Places
) -> pl.DataFrame:
    """Say in which state each row found the areas it looks at.

    Parameters
    ----------
    rows : polars.DataFrame
        ``n``, ``s``, ``placed``, ``area``, ``zone``, ``point``; sorted by n.
    line : polars.DataFrame
        As ``timeline`` gives it.
    points : polars.DataFrame
        As ``points.points`` gives it.
    known : Places
        The places.

    Returns
    -------
    polars.DataFrame
        ``state``, ``armed_mode``, ``k`` (null where several places are looked at), ``period``;
        one row for each row given, in its order.
    """
    right = line.select("k", "order", "since", "extent", "mode", "settled_since", "period")
    if known.lone():
        k = known.single.gather(rows["s"])
        plain = rows.select("n", "placed", k=k, order=pl.col("n") * 2)
        return _seen(plain, right).select("state", "armed_mode", "k", "period")
    looks = looking_at(rows, points, known).sort("n")
    many = looks.select(pl.col("n").is_duplicated()).to_series()
    told = rows.select("n", "placed", order=pl.col("n") * 2)
    one = _seen(
        looks.filter(~many).join(told, on="n", how="inner", maintain_order="left"), right
    ).select("n", "state", "armed_mode", "k", "period")
    several = _seen(looks.filter(many).join(told, on="n", maintain_order="left"), right)
    rank = pl.col("state").to_physical()
    low, high = rank.min(), rank.max()
    level = (
        pl.when(pl.col("rule").first() == Rule.ANY)
        .then(high)
        .when(pl.col("rule").first() == Rule.ALL)
        .then(low)
        .when((low == high) | (low >= 2))
        .then(low)
        .otherwise(1)
    )
    joint = several.group_by("n", maintain_order=True).agg(
        state=level.cast(pl.UInt8),
        armed_mode=pl.col("armed_mode").drop_nulls().first(),
        k=pl.lit(None, dtype=pl.Int32),
        period=pl.lit(None, dtype=one["period"].dtype),
    )
    joint = joint.with_columns(
        state=pl.col("state").replace_strict(
            list(range(4)), [s.value for s in State], return_dtype=STATE
        )
    )
    return (
        pl.concat([one, joint.select(one.columns)])
        .sort("n")
        .select("state", "armed_mode", "k", "period")
    )


def _seen(rows: pl.DataFrame, right: pl.DataFrame) -> pl.DataFrame:
    """Look back along the order to the act in force at each row."""
    hit = rows.join_asof(right, on="order", by="k", check_sortedness=False, suffix="_act")
    on = pl.col("extent") > 0
    exiting = on & (pl.col("placed") < pl.col("settled_since"))
    return hit.with_columns(
        state=pl.when(exiting)
        .then(pl.lit(State.EXIT.value, dtype=STATE))
        .when(on)
        .then(pl.lit(State.ARMED.value, dtype=STATE))
        .when(pl.col("extent") == UNARMED)
        .then(pl.lit(State.UNARMED.value, dtype=STATE))
        .otherwise(pl.lit(State.UNKNOWN.value, dtype=STATE)),
        armed_mode=pl.when(on).then("mode").cast(MODE),
    )


def _inside(acts: pl.DataFrame, cover: pl.DataFrame) -> pl.DataFrame:
    """Keep the acts that stand where arming is recorded."""
    kept = acts.sort("n").join_asof(
        cover.select("s", "first", "last").sort("first"),
        left_on="n",
        right_on="first",
        by="s",
        check_sortedness=False,
    )
    return kept.filter(pl.col("n") <= pl.col("last"))
