"""Points that alarm only just after another point, never alone."""

import polars as pl

from eventlab.analysis.contact import POINT
from eventlab.analysis.core import trips
from eventlab.analysis.found import (
    asof,
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
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Pattern, Subject, Timing
from eventlab.settings import Settings
from eventlab.stats import binomial_tail

_NIGHT = ("site", "night")
_ANY = ""
"""The leader of a point that follows whichever other point alarms: a siren, or its supply."""
_FARTHEST = 60
"""No more rows are looked back from an alarm: so many within seconds are one burst."""


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find points that alarm only within seconds after another point, and never alone.

    Cross-talk, a shared supply or a supply that dips when the siren starts. Nothing is said of
    two points that a person could have walked past: the outer skin first and then inside, or
    points of which nobody tells where they stand. It takes no possible intrusion away.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        The zone schedule tells what points are for and how they are linked.
    settings : Settings
        As `followers` needs them; ``still_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per point that follows; ``p_value`` the tail of the exact test,
        ``q_value`` that times ``looks``, the pairs of the site that were looked at.
    """
    told = followers(ground, settings).filter(~pl.col("walk"))
    if told.is_empty():
        return found(told, Pattern.FOLLOWS_POINT)
    links = context.zones.unique(["site", "zone"], keep="last").select("site", "zone", "link")
    full = (
        told.join(links, on=["site", "zone"], how="left")
        .join(
            links.rename({"zone": "leader", "link": "other_link"}),
            on=["site", "leader"],
            how="left",
        )
        .join(ends(ground), on="site", how="left")
    )
    one = pl.col("leader") != _ANY
    who = pl.when(one).then("point " + pl.col("leader")).otherwise(pl.lit("any other point"))
    return found(
        full.with_columns(
            evidence(
                line(
                    pl.lit("its first alarm of a night came just after ") + who,
                    number(pl.col("followed"))
                    + " of "
                    + number(pl.col("nights"))
                    + " nights, at most "
                    + told_s(pl.col("longest_s"), pl.col("grain"))
                    + " later",
                    "nights on which the other point could alarm too",
                ),
                line(
                    "by chance so many",
                    pl.when(pl.col("q_value") < 1e-6)
                    .then(pl.lit("less than 1 in a million"))
                    .otherwise("about " + number(pl.col("q_value"), 6)),
                    "exact test with the night as the unit, both points crowded into "
                    f"{settings.follows_spread_s / 60:.0f} min of it, for all pairs of the site",
                ),
                line(
                    "both on the same link",
                    pl.col("link"),
                    "zone schedule",
                    when=one
                    & (pl.col("link") == pl.col("other_link")).fill_null(value=False)
                    & ~pl.col("link").is_in(["wired", "cable", "wire"]),
                ),
                "nightly",
            ),
            figures(
                {
                    "leader": pl.when(one).then("leader"),
                    "leader_name": pl.col("leader_name"),
                    "followed": pl.col("followed"),
                    "nights": pl.col("nights"),
                    "longest_s": pl.col("longest_s"),
                    "grain": pl.col("grain"),
                }
            ),
            events=pl.col("followed"),
            standing=pl.col("end") - pl.col("until") <= days(settings.still_days),
            subject_kind=pl.lit(str(Subject.ZONE)),
            subject="zone",
        ),
        Pattern.FOLLOWS_POINT,
    )


def followers(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Find the points whose first alarm of a night comes just after another's, night after night.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``follows_within_s``, ``follows_spread_s`` [s], ``follows_nights``, ``follows_share``,
        ``follows_chance``, and as `core.trips` needs them.

    Returns
    -------
    polars.DataFrame
        ``site``, ``zone``, ``within``, ``area``, ``leader`` (empty for any other point),
        ``leader_name``, ``followed``, ``nights``, ``longest_s`` [s], ``grain``, ``since``,
        ``until``, ``nightly`` (lines), ``walk`` (a person could have passed both), ``p_value``,
        ``q_value``, ``looks``.

    Notes
    -----
    Given how many alarms the leader has in a night, and both crowded into ``follows_spread_s``,
    one alarm of the other falls within w seconds after one of them with a chance of at most
    m w / spread. The nights followed are then at most binomial (Hoeffding 1956, from memory).
    """
    rows = (
        trips(ground, settings)
        .filter(
            pl.col("point").is_not_null() & ~pl.col("warm") & (pl.col("timing") != Timing.DOUBTFUL)
        )
        .with_columns(
            place=pl.when(pl.col("outer") | pl.col("outside"))
            .then(pl.lit("skin"))
            .when(pl.col("use").is_not_null() | pl.col("name").is_not_null())
            .then(pl.lit("inside"))
            .otherwise(pl.lit("unknown"))
        )
    )
    heads = rows.unique([*_NIGHT, "point"], keep="first", maintain_order=True)
    often = pl.len().over("site", "point") >= settings.follows_nights
    heads = heads.filter(often)
    if heads.is_empty():
        return _none()
    # Every ordered pair that might have been found, and each point after any other.
    looks = (
        heads.group_by("site")
        .agg(later=pl.col("point").n_unique())
        .join(rows.group_by("site").agg(points=pl.col("point").n_unique()), on="site")
        .select("site", looks=(pl.col("later") * pl.col("points")).cast(pl.Int64))
    )
    pairs = _just_before(rows, heads, settings)
    anyone = pairs.with_columns(
        leader=pl.lit(_ANY), leader_point=pl.lit(_ANY), leader_name=pl.lit(None, pl.String)
    )
    nightly = pl.concat([pairs, anyone]).unique(
        [*_NIGHT, "point", "leader_point"], keep="first", maintain_order=True
    )
    # A pair that was seen on too few nights need not be counted.
    least = settings.follows_share * settings.follows_nights
    nightly = nightly.filter(pl.len().over("site", "point", "leader_point") >= least)
    each = _counted(nightly, rows, heads, ground)
    return _tested(each.join(looks, on="site"), settings)


def _just_before(rows: pl.DataFrame, heads: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Find the alarms of other points within seconds before the first alarm of a night.

    Looked back is row by row, as long as any row is near enough.
    """
    ordered = rows.sort("site", "at", "occurrence").with_columns(
        first=pl.struct("site", "occurrence").is_in(
            heads.select(pl.struct("site", "occurrence")).to_series().implode()
        ),
        window=pl.max_horizontal(pl.lit(settings.follows_within_s), "grain"),
    )
    walk = (
        (pl.col("place") == "unknown")
        | (pl.col("leader_place") == "unknown")
        | ((pl.col("leader_place") == "skin") & (pl.col("place") == "inside"))
    )
    found = []
    for back in range(1, _FARTHEST + 1):
        then = {
            name: pl.col(of).shift(back)
            for name, of in (
                ("leader", "zone"), ("leader_point", "point"), ("leader_name", "name"),
                ("leader_place", "place"), ("led", "at"),
            )
        }  # fmt: skip
        near = ordered.with_columns(
            **then, same=(pl.col("site") == pl.col("site").shift(back)).fill_null(value=False)
        ).filter(pl.col("same") & (seconds(pl.col("at") - pl.col("led")) <= pl.col("window")))
        if near.is_empty():
            break
        found.append(
            near.filter(pl.col("first") & (pl.col("point") != pl.col("leader_point"))).select(
                *POINT, "point", "night", "window", "leader", "leader_point", "leader_name",
                lag=seconds(pl.col("at") - pl.col("led")), walk=walk,
            )
        )  # fmt: skip
    if not found:
        return ordered.clear().select(
            *POINT, "point", "night", "window", leader="zone", leader_point="point",
            leader_name="name", lag=pl.lit(None, pl.Float64), walk=pl.lit(None, pl.Boolean),
        )  # fmt: skip
    return pl.concat(found)


def _counted(
    nightly: pl.DataFrame, rows: pl.DataFrame, heads: pl.DataFrame, ground: Ground
) -> pl.DataFrame:
    """Count the nights of each pair; those on which the leader was out are left aside."""
    pair = ["site", "point", "leader_point"]
    leaders = nightly.group_by(*pair, maintain_order=True).agg(
        pl.col("leader", "leader_name").first()
    )
    by_leader = rows.group_by(*_NIGHT, leader_point="point").agg(alarms=pl.len())
    by_night = rows.group_by(*_NIGHT, "point").agg(own=pl.len())
    every = (
        heads.join(leaders, on=["site", "point"])
        .join(nightly.drop(*POINT[1:], "leader", "leader_name"), on=[*pair, "night"], how="left")
        .join(by_leader, on=[*_NIGHT, "leader_point"], how="left")
        .join(by_night, on=[*_NIGHT, "point"], how="left")
        .join(rows.group_by(_NIGHT).agg(all=pl.len()), on=list(_NIGHT), how="left")
    )
    gone = ground.removed.select("site", leader="zone", out="since", back="until")
    away = asof(every, gone, "at", "out", by=["site", "leader"], strict=True)
    out = (away["back"] > away["at"]).fill_null(value=False)
    hit = pl.col("lag").is_not_null()
    others = (
        pl.when(pl.col("leader") == _ANY)
        .then(pl.col("all") - pl.col("own"))
        .otherwise(pl.col("alarms").fill_null(0))
    )
    wide = pl.max_horizontal(pl.lit(0.0), pl.col("window").max().over(pair))
    return (
        every.with_columns(reach=others * wide, out=out)
        .filter(~pl.col("out") | hit)
        .group_by(*POINT, "leader", maintain_order=True)
        .agg(
            pl.col("area").drop_nulls().first(),
            pl.col("leader_name").drop_nulls().first(),
            pl.col("grain").max(),
            nights=pl.len().cast(pl.Int64),
            followed=hit.sum().cast(pl.Int64),
            reach=pl.col("reach").mean(),
            longest_s=pl.col("lag").max(),
            walk=pl.col("walk").any(),
            since=pl.col("at").filter(hit).min(),
            until=pl.col("at").filter(hit).max(),
            nightly=line(
                pl.lit("on ") + wall(pl.col("local")),
                told_s(pl.col("lag"), pl.col("grain")) + " after the other",
                "its first alarm of that night",
            )
            .filter(hit)
            .head(4),
        )
    )


def _tested(each: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Keep the pairs of which chance is no explanation, the most telling of each point."""
    share = (each["reach"] / settings.follows_spread_s).clip(0, 1)
    tail = binomial_tail(each["followed"].to_numpy(), each["nights"].to_numpy(), share.to_numpy())
    return (
        each.with_columns(p_value=pl.Series(tail))
        .with_columns(q_value=(pl.col("p_value") * pl.col("looks")).clip(0, 1))
        .filter(
            (pl.col("nights") >= settings.follows_nights)
            & (pl.col("followed") >= settings.follows_share * pl.col("nights"))
            & (pl.col("q_value") <= settings.follows_chance)
        )
        # One point that leads says more than any of several.
        .sort(*POINT, pl.col("leader") == _ANY, "walk", "followed", "longest_s", "leader",
              descending=[*[False] * 5, True, False, False], nulls_last=True)
        .unique(list(POINT), keep="first", maintain_order=True)
    )  # fmt: skip


def _none() -> pl.DataFrame:
    return pl.DataFrame(schema=dict.fromkeys(POINT, pl.String) | {"walk": pl.Boolean})
