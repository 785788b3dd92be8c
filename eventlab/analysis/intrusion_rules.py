"""The rules by which an alarm, or a loss while armed, may be a real intrusion."""

import polars as pl

from eventlab.analysis import signs
from eventlab.analysis.conditions import spells
from eventlab.analysis.core import POINT, awake, judged, trips, uses
from eventlab.analysis.found import asof, days, number, seconds, spoken, wall
from eventlab.analysis.kept import kept
from eventlab.analysis.losses import ANCHOR, LOST, label, no_alarm, reason
from eventlab.analysis.skin import stays_open
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Use
from eventlab.settings import Settings
from eventlab.stats import binomial_tail

SEVERAL = "several points"
"""The rule that a chance of two alarms can meet too."""
CONFIRMED = "confirmed"
SIGNS = "signs before"
OUT = "out of service"

_OUT = (Kind.MASKING, Kind.SENSOR_FAULT, Kind.SUPERVISION_LOSS)
_LIDS = (Kind.TAMPER, Kind.TAMPER_ALARM, Kind.MASKING)
_NOT_CONFIRMING = (Use.OUTDOOR, Use.TECHNICAL, Use.KEY)


@kept
def anchors(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Return every reason why a night may have been a real intrusion, each time it holds.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Where the sites stand.
    settings : Settings
        ``confirmation_window_s``, ``sign_near_s`` [s], ``signs_before_days``, ``sign_usual``,
        ``tried_usual_days``, ``tried_chance``, ``shut_out_h``, and those of `skin.stays_open`.

    Returns
    -------
    polars.DataFrame
        Sorted by site and time: ``site``, ``night``, ``at``, ``rule``, ``what``, ``figure``,
        ``open`` (still open where the log ends).
    """
    own, alert = trips(ground, settings), awake(ground, settings)
    told = signs.signs(ground, context, settings)
    # Each armed period has its own: what is shut out in one is back in the next.
    period = ["site", "area", "night", "disarmed_at", "point"]
    heads = alert.unique(period, keep="first", maintain_order=True)
    parts = [
        _several(alert, settings),
        stays_open(alert, ground, settings),
        _near_sign(alert, told, settings),
        _tamper_before(heads, told, ground, settings),
        _tried_before(heads, own, settings),
        _out_of_service(heads, ground, settings),
        _confirmed(ground, settings),
        no_alarm(told, ground, settings),
    ]
    return (
        pl.concat([part.select(ANCHOR) for part in parts])
        .unique(["site", "at", "rule", "what"], keep="first", maintain_order=True)
        .sort("site", "at", maintain_order=True)
    )


def counting(own: pl.DataFrame) -> pl.DataFrame:
    """Keep the alarms that can confirm one another (BS 8243 5.1): named points of the inside."""
    return own.filter(
        pl.col("point").is_not_null()
        & ~pl.col("use").is_in(list(_NOT_CONFIRMING)).fill_null(value=False)
    )


def _several(alert: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Find two different points of the site within the confirmation window (BS 8243).

    Any two such points follow each other somewhere with nothing between them but these two.
    """
    window = settings.confirmation_window_s
    counted = counting(alert)
    shift = {c: pl.col(c).shift(1).over("site") for c in ("at", "point", "zone", "name")}
    pairs = counted.with_columns(
        before=shift["at"],
        other=shift["point"],
        other_zone=shift["zone"],
        other_name=shift["name"],
    ).filter(
        (pl.col("other") != pl.col("point")) & (seconds(pl.col("at") - pl.col("before")) <= window)
    )
    apart = seconds(pl.col("at") - pl.col("before")) / 60
    return pairs.with_columns(
        **reason(
            SEVERAL,
            pl.lit("different points within ") + number(pl.lit(window / 60)) + " min",
            label("other_zone", "other_name")
            + ", then "
            + label()
            + " "
            + number(apart)
            + " min later",
        )
    ).with_columns(at="before")


def _near_sign(alert: pl.DataFrame, told: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Find an alarm near tamper, path, power or a device lost while armed."""
    near = signs.nearest(alert, told, settings)
    return near.with_columns(
        **reason(
            LOST,
            spoken(pl.col("kind"))
            + pl.when(pl.col("sign_zone").is_not_null())
            .then(" of point " + pl.col("sign_zone"))
            .otherwise(pl.lit(""))
            + " while armed",
            wall(pl.col("sign_local")) + ", " + label() + " alarmed " + wall(pl.col("local")),
        )
    )


def _tamper_before(
    heads: pl.DataFrame, told: pl.DataFrame, ground: Ground, settings: Settings
) -> pl.DataFrame:
    """Find an alarm in an area where masking or tamper stood in the days before.

    It must stand yet, or be of the very point that alarmed: a lid of another one that was opened
    and shut is a record.
    """
    before = told.filter(pl.col("group") == signs.TAMPER)
    stood = spells(ground, _LIDS, settings).select(
        "site", "kind", lid=pl.col("zone").fill_null(""), begun="since", over="until",
        untold=pl.col("ended_by") == "untold",
    )  # fmt: skip
    lids = before.with_columns(lid=pl.col("sign_zone").fill_null(""))
    lids = asof(lids, stood, "sign_at", "begun", by=["site", "kind", "lid"]).drop("lid")
    near = asof(heads, lids, "at", "sign_at")
    age = seconds(pl.col("at") - pl.col("sign_at"))
    here = pl.col("sign_area").is_null() | pl.col("area").is_null()
    own = (pl.col("sign_zone") == pl.col("zone")).fill_null(value=False)
    stands = (pl.col("over") >= pl.col("at")) | pl.col("untold")
    return near.filter(
        (age <= settings.signs_before_days * 86400)
        & (age > settings.sign_near_s)
        & (here | (pl.col("sign_area") == pl.col("area")))
        & (own | stands.fill_null(value=True))
    ).with_columns(
        **reason(
            SIGNS,
            spoken(pl.col("kind")) + " in the days before",
            wall(pl.col("sign_local")) + ", " + label() + " alarmed " + wall(pl.col("local")),
        )
    )


def _tried_before(heads: pl.DataFrame, own: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Find an alarm inside after one point of the outer skin was tried on several nights before.

    So many of its nights in one week are no trial where it rattles all the time.
    """
    skin = own.filter((pl.col("outer") | pl.col("outside")) & pl.col("point").is_not_null())
    nights = skin.select("site", "point", outer_night="night", tried="at").unique(
        ["site", "point", "outer_night"], keep="first"
    )
    inner = heads.filter(~pl.col("outer") & ~pl.col("outside"))
    week = days(settings.signs_before_days)
    lately = pl.col("tried") >= pl.col("at") - week
    usual = ~lately & (pl.col("tried") >= pl.col("at") - week - days(settings.tried_usual_days))
    near = (
        inner.select("site", "night", "at", "zone", "name")
        .join(nights, on="site")
        .filter((pl.col("tried") < pl.col("at")) & (pl.col("outer_night") != pl.col("night")))
        .group_by("site", "night", "at", "zone", "name", "point", maintain_order=True)
        .agg(nights=lately.sum(), every=(lately | usual).sum())
        .filter(pl.col("nights") >= 2)
    )
    share = settings.signs_before_days / (settings.signs_before_days + settings.tried_usual_days)
    chance = binomial_tail(near["nights"].to_numpy(), near["every"].to_numpy(), share)
    near = (
        near.filter(pl.Series(chance) <= settings.tried_chance)
        .sort("nights", descending=True)
        .unique(["site", "night", "at", "zone", "name"], keep="first", maintain_order=True)
    )
    return near.with_columns(
        **reason(
            SIGNS,
            pl.lit("alarms of one point of the outer skin on several nights before"),
            pl.lit("point ")
            + pl.col("point")
            + " on "
            + number(pl.col("nights"))
            + " nights, then "
            + label(),
        )
    )


def _out_of_service(heads: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Find an alarm while others were out: bypassed lately, shut out, or all but this one.

    What was shut out must be so since the same night; what was bypassed in the days before must be
    a way in of that area, and the alarm inside.
    """
    removed = ground.removed.filter(pl.col("reason").is_in([Kind.BYPASS, Kind.SHUTDOWN]))
    lost = (
        spells(ground, _OUT, settings)
        .filter(~pl.col("life_safety"))
        .select(*POINT, "since", "until", reason=pl.col("kind").cast(pl.String))
    )
    out = pl.concat([removed.select(*POINT, "since", "until", "reason"), lost]).filter(
        pl.col("zone").is_not_null()
    )
    if out.is_empty():
        return heads.clear().with_columns(**reason(OUT, pl.lit(""), pl.lit("")))
    share = usual_out(out, ground)
    listed = ground.points.filter(
        ~pl.col("life_safety")
        & pl.col("zone").is_not_null()
        & ~pl.col("use").is_in([Use.TECHNICAL, Use.KEY]).fill_null(value=False)
    ).select(*POINT, place="area")
    total = listed.group_by("site", "place").agg(points=pl.len())
    outdoor = (pl.col("use") == Use.OUTDOOR).fill_null(value=False)
    ways = uses(ground).select(*POINT, way_in=pl.col("outer") | outdoor | ~pl.col("known"))
    daily = (
        out.with_columns(share)
        .join(listed, on=list(POINT), nulls_equal=True)
        .join(ways, on=list(POINT), how="left", nulls_equal=True)
        .with_columns(day=pl.date_ranges(pl.col("since").dt.date(), pl.col("until").dt.date()))
        .explode("day")
        .rename({"zone": "out_zone", "within": "out_within"})
    )
    held = (
        heads.with_columns(day=pl.col("at").dt.date())
        .join(daily, on=["site", "day"], how="inner")
        .filter(
            (pl.col("since") <= pl.col("at"))
            & (pl.col("until") >= pl.col("at"))
            & (
                (pl.col("out_zone") != pl.col("zone"))
                | pl.col("out_within").ne_missing(pl.col("within"))
            )
        )
        # A way in may lead from one area into another; all but one out is told of an area.
        .with_columns(here=pl.col("place").eq_missing(pl.col("area")) | pl.col("area").is_null())
        .join(total, on=["site", "place"], how="left", nulls_equal=True)
    )
    others = pl.col("out_zone").filter("here")
    inward = pl.col("way_in").fill_null(value=True) & ~pl.col("outer") & ~pl.col("outside")
    lately = pl.col("since") >= pl.col("at") - days(settings.signs_before_days)
    tonight = pl.col("since") >= pl.col("at") - days(settings.shut_out_h / 24)
    one = held.group_by("site", "night", "at", "zone", "name", maintain_order=True).agg(
        out=others.n_unique(),
        points=pl.col("points").filter("here").first(),
        beyond=pl.col("out_zone").n_unique(),
        shut=pl.col("out_zone").filter((pl.col("reason") == Kind.SHUTDOWN) & tonight).first(),
        bypassed=pl.col("out_zone")
        .filter(
            (pl.col("reason") == Kind.BYPASS)
            & inward
            & pl.col("here")
            & lately
            & (pl.col("share") <= settings.sign_usual)
        )
        .first(),
    )
    last = ((pl.col("points") >= 2) & (pl.col("points") - pl.col("out") <= 1)).fill_null(
        value=False
    )
    one = one.with_columns(last=last)
    alone = one.filter("last")
    rare = signs.usual_share(alone, "night", ["site"], ground) <= settings.sign_usual
    one = pl.concat([alone.with_columns(last=rare), one.filter(~pl.col("last"))])
    return one.filter(
        pl.col("last") | pl.col("shut").is_not_null() | pl.col("bypassed").is_not_null()
    ).with_columns(
        **reason(
            OUT,
            pl.when("last")
            .then(label() + " was the last one still able to report")
            .when(pl.col("shut").is_not_null())
            .then(pl.lit("point ") + pl.col("shut") + " was shut out after repeated trips")
            .otherwise(pl.lit("point ") + pl.col("bypassed") + " was bypassed in the days before"),
            pl.when(pl.col("points").is_null())
            .then(number(pl.col("beyond")) + " points of another area out, ")
            .otherwise(number(pl.col("out")) + " of " + number(pl.col("points")) + " points out, ")
            + label()
            + " alarmed",
        )
    )


def usual_out(out: pl.DataFrame, ground: Ground) -> pl.Series:
    """Give the share of a site's nights on which each reason takes each point out."""
    dated = out.with_columns(out_night=pl.col("since").dt.date())
    return signs.usual_share(
        dated, "out_night", ["site", "zone", "within", "reason"], ground
    ).alias("share")


def _confirmed(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Find an alarm that the system itself confirmed, unless somebody disarmed at once."""
    rows = (
        ground.occurrences.lazy()
        .filter((pl.col("kind") == Kind.CONFIRMED_ALARM) & ~pl.col("life_safety"))
        .select("site", "area", "placed", "local", "night", "state")
        .collect()
    )
    rows = judged(rows, ground, settings).filter(~pl.col("service"))
    disarms = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.DISARM)
        .select("site", disarmed="placed")
        .collect()
    )
    near = asof(rows, disarms, "at", "disarmed", strategy="forward")
    soon = seconds(pl.col("disarmed") - pl.col("at")) <= settings.entry_overrun_s
    return near.filter(~soon.fill_null(value=False)).with_columns(
        **reason(CONFIRMED, pl.lit("the system confirmed the alarm"), wall(pl.col("local")))
    )
