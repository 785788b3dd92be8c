"""Clocks that lost the time, and clocks that somebody set: what the log itself tells of them."""

from datetime import timedelta

import numpy as np
import polars as pl

from eventlab.ground.clock_witness import SHARED
from eventlab.ground.words import ClockSign
from eventlab.meaning.clock_told import set_by
from eventlab.schema import Kind, Phase, Schema, Timing, Witness, formatted

ROW = ("site", "source", "row")
STRETCH: Schema = {
    "site": pl.String(),
    "witness": pl.String(),
    "sign": pl.String(),
    "since": pl.Datetime("us", "UTC"),
    "until": pl.Datetime("us", "UTC"),
    "offset_s": pl.Float64(),
    "drift_s_day": pl.Float64(),
    "plus_minus_s": pl.Float64(),
    "pairs": pl.Int64(),
    "shifted": pl.Boolean(),
    "basis": pl.String(),
}
BACK: Schema = {
    "site": pl.String(),
    "source": pl.String(),
    "row": pl.Int64(),
    "local": pl.Datetime("us"),
    "right": pl.Datetime("us", "UTC"),
}
FAR = timedelta(days=2)
_SLACK = timedelta(hours=1)
_ZONES = timedelta(hours=15)
"""Wall times stand up to 14 h from UTC; what is further out is plainly wrong."""

_AGREE_S = 60.0
_AGREE_MIN = 3
_MICRO = 1e6


def sets(events: pl.DataFrame) -> pl.DataFrame:
    """List the rows that tell that a clock was set, with by how much where that is told.

    Two such rows one after the other tell it too: one bears the old time, the other the new one.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT rows with ``o``, their place in order.

    Returns
    -------
    polars.DataFrame
        ``ROW``, ``o``, ``witness``, ``placed``, ``by_s`` (new minus old time [s], or null),
        ``may_s`` (what it may be).
    """
    rows = events.filter(pl.col("kind") == Kind.CLOCK_SET)
    if rows.is_empty():
        nothing = {"by_s": pl.lit(None, pl.Float64), "may_s": pl.lit(None, pl.List(pl.Float64))}
        return rows.select(*ROW, "o", "witness", "placed", **nothing)
    rows = rows.with_columns(may_s=set_by(rows["text"], rows["wall"])).with_columns(
        by_s=pl.when(pl.col("may_s").list.len() == 1).then(pl.col("may_s").list.first())
    )
    after = rows.select(*ROW, next_o="o", next_wall="wall", next_by="by_s")
    pairs = [
        rows.with_columns(row=pl.col("row") + step)
        .join(after, on=list(ROW))
        .with_columns(row=pl.col("row") - step)
        for step in (1, -1)
    ]
    # Of two rows the one that happened later tells the new time.
    linked = (
        pl.concat(pairs)
        .filter(pl.col("by_s").is_null() & pl.col("next_by").is_null())
        .filter(pl.col("o") > pl.col("next_o"))
        .select(*ROW, step=(pl.col("wall") - pl.col("next_wall")).dt.total_microseconds() / _MICRO)
        .filter(pl.col("step") != 0)
        .unique(list(ROW), keep="first")
    )
    step = pl.col("step")
    return rows.join(linked, on=list(ROW), how="left", maintain_order="left").select(
        *(*ROW, "o", "witness", "placed"),
        by_s=pl.coalesce("by_s", step),
        may_s=pl.when(step.is_not_null()).then(pl.concat_list(step)).otherwise("may_s"),
    )


def lost(events: pl.DataFrame, told: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Find the stretches in which a clock had started anew, and put back those that can be.

    The setting that ends a stretch tells by how much it was off; so do at least three events that
    the other witness dates, all by the same difference. What lies outside the rows around the
    stretch is no answer, and the rows stay doubtful.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT rows with ``o``, their place in order.
    told : polars.DataFrame
        As ``sets`` gives it.

    Returns
    -------
    tuple of polars.DataFrame
        ``BACK`` of the rows that are put back: ``local``, the wall time that a right clock would
        have shown, or ``right``, the moment itself; and the stretches, columns of ``STRETCH``.
    """
    rows = _stretches(events)
    if rows.is_empty():
        return pl.DataFrame(schema=BACK), pl.DataFrame(schema=STRETCH)
    steps = told.filter(pl.col("may_s").list.len() > 0)
    ends = (
        rows.join(steps.select(*ROW, "may_s"), on=list(ROW), how="left")
        .group_by("site", "witness", "source", "stretch", maintain_order=True)
        .agg(
            first_wall=pl.col("wall").min(),
            last_wall=pl.col("wall").max(),
            since=pl.col("placed").min(),
            until=pl.col("placed").max(),
            before=pl.col("before").first(),
            after=pl.col("after").last(),
            inside=pl.col("may_s").last(),
            number=pl.len().cast(pl.Int64),
        )
        .join(steps.select("site", "source", after="placed", following="may_s"),
              on=["site", "source", "after"], how="left")
        .unique(["site", "source", "stretch"], keep="first", maintain_order=True)
        .with_columns(may_s=pl.coalesce("inside", "following"), basis=pl.lit("the row that set it"))
    )  # fmt: skip
    ends = _by_witness(events, rows, _fitting(ends))
    by = pl.coalesce("by_s", "utc_by")
    good = by.is_not_null()
    back = rows.join(
        ends.filter(good).select("site", "source", "stretch", "by_s", "utc_by"),
        on=["site", "source", "stretch"],
    ).select(
        *ROW,
        local=pl.col("wall") + _span(pl.col("by_s")),
        right=pl.when(pl.col("by_s").is_null()).then(
            (pl.col("wall") + _span(pl.col("utc_by"))).dt.replace_time_zone("UTC")
        ),
    )
    stretches = ends.select(
        "site",
        pl.col("witness").cast(pl.String),
        sign=pl.lit(ClockSign.RESET.value),
        since=pl.coalesce("before", "since"),
        until=pl.coalesce("after", "until"),
        offset_s=-by,
        drift_s_day=pl.lit(0.0),
        plus_minus_s=pl.when(good).then("within"),
        pairs="number",
        shifted=good,
        basis=pl.when(good).then("basis").otherwise(pl.lit("nothing tells by how much")),
    )
    return back, stretches


def _stretches(events: pl.DataFrame) -> pl.DataFrame:
    """Cut the rows of lost clocks into stretches over which one clock ran on."""
    far = (pl.col("wall").dt.replace_time_zone("UTC") - pl.col("placed")).abs() > FAR
    out = ((pl.col("timing") == Timing.DOUBTFUL) & pl.col("at").is_null() & far).fill_null(
        value=False
    )
    hit = events.select(out).to_series()
    if not hit.any():
        return events.clear()
    own = ["site", "source"]
    some = (
        events.with_columns(out=hit)
        .join(events.filter(hit).select(own).unique(), on=own, how="semi")
        .sort(*own, "o")
    )
    back = pl.col("wall").diff().over(own) < timedelta(minutes=-1)
    turn = (pl.col("out") != pl.col("out").shift(1).over(own)).fill_null(value=True)
    sure = pl.when(~pl.col("out")).then("placed")
    return (
        some.select(
            *ROW, "o", "witness", "wall", "placed", "kind", "phase", "zone", "person", "out"
        )
        .sort(*own, "o")
        .with_columns(
            stretch=(turn | (pl.col("out") & back.fill_null(value=False))).cum_sum().over(own),
            before=sure.forward_fill().over(own),
            after=sure.backward_fill().over(own),
        )
        .filter("out")
    )


def _by_witness(events: pl.DataFrame, rows: pl.DataFrame, ends: pl.DataFrame) -> pl.DataFrame:
    """Date stretches by events of the other witness that all stand off by the same."""
    open_ones = ends.filter(pl.col("by_s").is_null() & (pl.col("witness") == Witness.PANEL))
    heard = events.filter(
        (pl.col("witness") == Witness.RECEIVER)
        & pl.col("kind").is_in([*SHARED, Kind.MAINS_LOSS, Kind.SYSTEM_RESTART])
        & (pl.col("phase") != Phase.END)
        & pl.col("at").is_not_null()
    )
    plain = ends.with_columns(within=pl.lit(1.0), utc_by=pl.lit(None, pl.Float64))
    if open_ones.is_empty() or heard.is_empty():
        return plain
    key = ["site", "source", "stretch"]
    near = (
        rows.join(open_ones.select(*key, "since", "until"), on=key)
        .join(
            heard.select("site", "kind", "phase", "at", theirs="zone", their_person="person"),
            on=["site", "kind", "phase"],
        )
        .filter(
            (pl.col("zone") == pl.col("theirs")).fill_null(value=True)
            & (pl.col("person") == pl.col("their_person")).fill_null(value=True)
            & (pl.col("at") >= pl.coalesce("before", pl.col("at")) - _SLACK)
            & (pl.col("at") <= pl.coalesce("after", pl.col("at")) + _SLACK)
        )
        .with_columns(
            step=(pl.col("at").dt.replace_time_zone(None) - pl.col("wall")).dt.total_microseconds()
            / _MICRO
        )
    )
    found = []
    for one in near.partition_by(key, maintain_order=True):
        agreed = _agreed(one)
        if agreed is not None:
            found.append((*one.select(key).row(0), *agreed))
    told = pl.DataFrame(
        found,
        schema={**{name: ends.schema[name] for name in key}, "utc_by": pl.Float64(),
                "events": pl.Int64()},
        orient="row",
    )  # fmt: skip
    dated = plain.drop("utc_by").join(told, on=key, how="left", maintain_order="left")
    return dated.with_columns(
        basis=pl.when(pl.col("utc_by").is_not_null())
        .then(formatted("{} events that the monitoring centre dates", "events"))
        .otherwise("basis"),
        within=pl.when(pl.col("utc_by").is_not_null()).then(_AGREE_S / 2).otherwise("within"),
    )


def _agreed(one: pl.DataFrame) -> tuple[float, int] | None:
    """Give the one difference that most rows of a stretch show; None where there is no such."""
    steps = np.sort(one["step"].to_numpy())
    counts = np.searchsorted(steps, steps + _AGREE_S, side="right") - np.arange(steps.size)
    best = int(np.argmax(counts))
    inside = one.filter(pl.col("step").is_between(steps[best], steps[best] + _AGREE_S))
    rows = inside["row"].n_unique()
    outside = one.filter((pl.col("step") - steps[best]).abs() > 2 * _AGREE_S)
    second = 0
    if outside.height:
        others = np.sort(outside["step"].to_numpy())
        second = int(
            (
                np.searchsorted(others, others + _AGREE_S, side="right") - np.arange(others.size)
            ).max()
        )
    if rows < _AGREE_MIN or second * 2 > rows:
        return None
    return float(inside["step"].median()), rows  # type: ignore[arg-type]  # types by name


def _fitting(ends: pl.DataFrame) -> pl.DataFrame:
    """Keep the one setting that puts a stretch between the rows around it."""
    own = ["site", "source", "stretch"]
    moved = _span(pl.col("may_s"))
    first = (pl.col("first_wall") + moved).dt.replace_time_zone("UTC")
    last = (pl.col("last_wall") + moved).dt.replace_time_zone("UTC")
    inside = (first >= pl.coalesce("before", first) - _ZONES) & (
        last <= pl.coalesce("after", last) + _ZONES
    )
    only = (
        ends.explode("may_s")
        .filter(pl.col("may_s").is_not_null() & inside)
        .group_by(own)
        .agg(by_s=pl.col("may_s").first(), ways=pl.col("may_s").n_unique())
        .filter(pl.col("ways") == 1)
    )
    return ends.join(only, on=own, how="left", maintain_order="left")


def _span(seconds: pl.Expr) -> pl.Expr:
    return pl.duration(microseconds=(seconds * _MICRO).cast(pl.Int64))
