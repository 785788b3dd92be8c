"""The hours in which each point could have raised an alarm.

Points that share areas, rule and part-arming share a *base*: the settled armed time of their
areas that is watched. What concerns one point alone (bypass, shutdown, the last permitted trip)
is kept apart as *removed*; hours are the base's less what was removed of it.
"""

import polars as pl

from eventlab.ground import intervals
from eventlab.ground.places import Places, of_points
from eventlab.ground.state import PART
from eventlab.ground.words import BASIS, Basis, Rule
from eventlab.schema import Mode

BASE = ("base", "since", "until", "period")


def bases(
    points: pl.DataFrame,
    line: pl.DataFrame,
    watched: pl.DataFrame,
    area_aside: pl.DataFrame,
    reliable: pl.Series,
    known: Places,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Group the points by what their exposure rests on, and lay out the hours of each group.

    Parameters
    ----------
    points : polars.DataFrame
        As ``points.points`` gives it.
    line : polars.DataFrame
        As ``state.timeline`` gives it.
    watched : polars.DataFrame
        ``s``, ``since``, ``until``: covered, not set aside, no doubtful rows.
    area_aside : polars.DataFrame
        ``k``, ``since``, ``until``: set aside in one area only.
    reliable : polars.Series
        By site number: whether its arming can be rested on.
    known : Places
        The places.

    Returns
    -------
    tuple of polars.DataFrame
        ``point``, ``base``, ``basis``, ``part`` (whether part-armed time counts; null where that
        is not known), ``left_out_h`` (part-armed hours left out because it is not); and
        ``base``, ``since``, ``until``, ``period``, sorted.
    """
    looks = of_points(points, known)
    part = pl.col("armed_in").list.contains(Mode.PART.value)
    basis = (
        pl.when("all_hours")
        .then(pl.lit(Basis.ALWAYS.value, dtype=BASIS))
        .when(reliable.gather(points["s"]))
        .then(pl.lit(Basis.ARMED.value, dtype=BASIS))
        .otherwise(pl.lit(Basis.CALENDAR.value, dtype=BASIS))
    )
    whole = pl.col("armed_in").is_null() | (
        pl.col("armed_in").list.eval(pl.element() != Mode.PART.value).list.any()
    )
    grouped = looks.group_by("point").agg(pl.col("k").sort(), rule=pl.col("rule").first())
    keyed = (
        points.select("point", "s", basis=basis, part=part, whole=whole)
        .join(grouped, on="point", how="left")
        .with_columns(
            armed=pl.col("basis") == Basis.ARMED,
            rule=pl.when(pl.col("k").list.len() > 1).then("rule").otherwise(pl.lit(Rule.ALL.value)),
        )
        .with_columns(
            part_key=pl.when("armed").then(pl.col("part").fill_null(value=False)),
            whole_key=pl.when("armed").then("whole"),
            rule_key=pl.when("armed").then("rule"),
        )
    )
    key = ["s", "k", "armed", "part_key", "whole_key", "rule_key"]
    groups = (
        keyed.group_by(key)
        .agg(pl.col("point").min())
        .sort("point")
        .drop("point")
        .with_columns(base=pl.int_range(pl.len(), dtype=pl.Int32))
    )
    stays = line.filter(pl.col("extent") == PART).with_columns(since="settled_since")
    stayed = intervals.total(stays, ["k"], "left_out_h").rename({"k": "first_k"})
    unsaid = pl.col("armed") & pl.col("part").is_null()
    owned = (
        keyed.join(groups, on=key, how="left", nulls_equal=True)
        .with_columns(first_k=pl.col("k").list.first())
        .join(stayed, on="first_k", how="left")
        .with_columns(
            left_out_h=pl.when(unsaid).then(pl.col("left_out_h").fill_null(0.0)).otherwise(0.0)
        )
        .select("point", "base", "basis", "part", "left_out_h")
    )
    on = _armed_hours(groups.filter("armed"), line)
    always = groups.filter(~pl.col("armed")).select("base", "s").join(watched, on="s")
    quiet = groups.select("base", "k").explode("k").join(area_aside, on="k").drop("k")
    within = _watched_only(on, groups, watched)
    spans = pl.concat(
        [
            within,
            always.select("base", "since", "until", period=pl.lit(None, dtype=pl.Int64)),
        ]
    )
    if quiet.height:
        hit = pl.col("base").is_in(quiet["base"].unique().to_list())
        cut = intervals.subtract(spans.filter(hit), quiet, ["base"])
        spans = pl.concat([spans.filter(~hit), _with_period(cut, spans)])
    return owned, spans.sort("base", "since")


def _armed_hours(groups: pl.DataFrame, line: pl.DataFrame) -> pl.DataFrame:
    """Lay the settled armed time of the areas of each group together by its rule."""
    looked = groups.with_columns(places=pl.col("k").list.len()).explode("k")
    extent = pl.col("extent")
    runs = line.filter(extent > 0).select(
        "k", "period", "extent", since="settled_since", until="until"
    )
    on = (
        looked.join(runs, on="k", how="inner")
        .filter((extent == 1) & pl.col("part_key") | (extent == 2) & pl.col("whole_key"))
        .filter(pl.col("since") < pl.col("until"))
    )
    lone = on.filter(pl.col("places") == 1).select("base", "since", "until", "period")
    many = on.filter(pl.col("places") > 1)
    if many.is_empty():
        return lone
    need = many.select("base", "places", "rule_key").unique("base")
    apart = intervals.unite(many, ["base", "k"])
    counted = apart.join(need, on="base", how="left")
    either = counted.filter(pl.col("rule_key") == Rule.ANY)
    every = counted.filter(pl.col("rule_key") != Rule.ANY)
    joint = pl.concat(
        [
            intervals.unite(either, ["base"]),
            intervals.depth(every, ["base", "places"], pl.col("places")).drop("places"),
        ]
    ).sort("base", "since")
    numbered = joint.with_columns(period=-pl.int_range(1, pl.len() + 1, dtype=pl.Int64))
    return pl.concat([lone, numbered.select(lone.columns)], how="vertical_relaxed")


def _watched_only(on: pl.DataFrame, groups: pl.DataFrame, watched: pl.DataFrame) -> pl.DataFrame:
    """Keep what is watched; most intervals lie wholly inside one watched stretch."""
    spans = watched.rename({"since": "from", "until": "to"}).sort("from")
    placed = (
        on.join(groups.select("base", "s"), on="base", how="left")
        .sort("since")
        .join_asof(spans, left_on="since", right_on="from", by="s", check_sortedness=False)
    )
    whole = (pl.col("until") <= pl.col("to")).fill_null(value=False)
    inside = placed.filter(whole).select(BASE)
    rest = placed.filter(~whole)
    if rest.is_empty():
        return inside
    wanted = rest.select("base", "s").unique().join(watched, on="s").drop("s")
    cut = intervals.intersect(rest, wanted, ["base"])
    return pl.concat([inside, _with_period(cut, rest).select(BASE)])


def _with_period(cut: pl.DataFrame, spans: pl.DataFrame) -> pl.DataFrame:
    """Give pieces of intervals the period of the interval they came from."""
    whole = spans.select("base", "period", "since").sort("since")
    return (
        cut.sort("since")
        .join_asof(whole, on="since", by="base", check_sortedness=False)
        .select(BASE)
    )


def measured(
    points: pl.DataFrame, owned: pl.DataFrame, spans: pl.DataFrame, removed: pl.DataFrame
) -> pl.DataFrame:
    """Add up the hours and armed periods at risk of every point.

    Parameters
    ----------
    points : polars.DataFrame
        As ``points.points`` gives it.
    owned, spans : polars.DataFrame
        As ``bases`` gives them.
    removed : polars.DataFrame
        ``point``, ``since``, ``until``; apart.

    Returns
    -------
    polars.DataFrame
        ``point``, ``base``, ``basis``, ``hours``, ``periods``, ``removed_h``, ``part``,
        ``left_out_h``.
    """
    micro = (pl.col("until") - pl.col("since")).dt.total_microseconds()
    run = spans.with_columns(
        new=pl.any_horizontal(pl.col(c).ne_missing(pl.col(c).shift(1)) for c in ("base", "period")),
        start="since",
        stop="until",
        reached=micro.cum_sum().over("base") - micro,
    )
    sums = run.group_by("base").agg(
        whole=micro.sum(), base_periods=pl.col("new").sum().cast(pl.Int64)
    )
    last = pl.col("new").shift(-1, fill_value=True)
    starts = run.filter("new").select("base", "start", number=_number())
    stops = run.filter(last).select("base", start="stop", number=_number())
    gone = removed.join(owned.select("point", "base"), on="point")
    less = gone.select(
        "point",
        time=_reached(gone, run, "until") - _reached(gone, run, "since"),
        whole_periods=_passed(gone, stops, "until") - _passed(gone, starts, "since", exact=False),
    )
    taken = less.group_by("point").agg(
        pl.col("time").sum(), pl.col("whole_periods").clip(lower_bound=0).sum()
    )
    none = [pl.col(c).fill_null(0) for c in ("whole", "time", "base_periods", "whole_periods")]
    whole, time, base_periods, whole_periods = none
    return (
        points.select("point")
        .join(owned, on="point", how="left")
        .join(sums, on="base", how="left")
        .join(taken, on="point", how="left")
        .select(
            *("point", "base", "basis", "part", "left_out_h"),
            hours=(whole - time) * intervals.HOUR,
            periods=base_periods - whole_periods,
            removed_h=time * intervals.HOUR,
        )
        .sort("point")
    )


def _number() -> pl.Expr:
    return pl.int_range(1, pl.len() + 1, dtype=pl.Int64).over("base")


def _reached(gone: pl.DataFrame, run: pl.DataFrame, edge: str) -> pl.Series:
    """Give the time of the base reached at each moment [us]."""
    hit = _at(gone, run.select("base", "start", "stop", "reached"), edge)
    beyond = (pl.min_horizontal("moment", "stop") - pl.col("start")).dt.total_microseconds()
    return hit.select((pl.col("reached") + beyond).fill_null(0)).to_series()


def _passed(gone: pl.DataFrame, edges: pl.DataFrame, edge: str, *, exact: bool = True) -> pl.Series:
    """Count the edges of the base's periods passed at each moment."""
    return _at(gone, edges, edge, exact=exact)["number"].fill_null(0)


def _at(gone: pl.DataFrame, right: pl.DataFrame, edge: str, *, exact: bool = True) -> pl.DataFrame:
    left = gone.select("base", moment=edge).with_row_index("row").sort("base", "moment")
    return left.join_asof(
        right,
        left_on="moment",
        right_on="start",
        by="base",
        allow_exact_matches=exact,
        coalesce=False,
        check_sortedness=False,
    ).sort("row")


def exposed(exposure: pl.DataFrame, spans: pl.DataFrame, removed: pl.DataFrame) -> pl.DataFrame:
    """Give the intervals in which each point was at risk.

    Parameters
    ----------
    exposure, spans, removed : polars.DataFrame
        ``Ground.exposure``, ``Ground.bases`` and ``Ground.removed``, of the sites wanted.

    Returns
    -------
    polars.DataFrame
        ``site``, ``zone``, ``within``, ``area``, ``since``, ``until``, sorted.
    """
    name = ["site", "zone", "within"]
    points = exposure.select(*name, "area", "base")
    laid = spans.select("site", "base", "since", "until")
    touched = removed.select(name).unique()
    whole = points.join(touched, on=name, how="anti", nulls_equal=True).join(
        laid, on=["site", "base"]
    )
    some = points.join(touched, on=name, how="semi", nulls_equal=True)
    less = intervals.subtract(some.join(laid, on=["site", "base"]), removed, name).join(
        some, on=name, how="left", nulls_equal=True
    )
    columns = [*name, "area", "since", "until"]
    return pl.concat([whole.select(columns), less.select(columns)]).sort(*name, "since")
