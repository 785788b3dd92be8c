"""What may have been a real intrusion: a rule that no probability outvotes."""

import polars as pl

from eventlab.analysis.core import trips
from eventlab.analysis.found import (
    asof,
    clock,
    evidence,
    figures,
    found,
    line,
    number,
    seconds,
    user,
    wall,
)
from eventlab.analysis.intrusion_rules import CONFIRMED, OUT, SEVERAL, SIGNS, anchors, counting
from eventlab.analysis.losses import LOST
from eventlab.analysis.skin import STAYS_OPEN
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import EVIDENCE, Kind, Pattern, Subject
from eventlab.settings import Settings

_NIGHT = ("site", "night")
_RULES = "possible intrusion: the rules of this tool"
_MOST_LINES = 10
_LEAST = (SEVERAL, STAYS_OPEN, LOST, SIGNS, OUT)
"""Reasons of which noise brings each now and then."""
_COUNTED = {"pairs": SEVERAL, "stayed": STAYS_OPEN, "lost": LOST, "signs": SIGNS, "out": OUT}
"""How many nights of each are told."""


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find nights that may have been a real intrusion.

    The whole site is looked at, across areas and witnesses, over the confirmation window. A night
    is found where several points alarmed with no disarm at once; one point of the outer skin
    stayed open; tamper, path, power or a device was lost while armed and nothing explains it; an
    alarm followed days of masking, tamper, bypass or trials from outside; the last point that
    could still report did; or the system confirmed the alarm. Neither a storm, nor a reset clock,
    nor a keyholder who disarms later takes a night away; nor does chance, which on a site of many
    alarms brings two points together now and then: how often is told beside it. Nights with
    one reason and no more to it are gathered to one finding where a site has several of them.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Where the sites stand.
    settings : Settings
        As the rules name them; ``intrusion_nights``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site and night, the most telling first; one row for the nights
        of the least telling kind of a site, whose figures give their ``dates``.
    """
    own = trips(ground, settings)
    told = anchors(ground, context, settings)
    if told.is_empty():
        return found(told, Pattern.POSSIBLE_INTRUSION)
    once = pl.col("what").is_first_distinct()
    nights = told.group_by(_NIGHT, maintain_order=True).agg(
        first=pl.col("at").min(),
        last=pl.col("at").max(),
        rules=pl.col("rule").unique(maintain_order=True),
        standing=pl.col("open").any(),
        why=line(pl.col("what"), pl.col("figure"), _RULES).filter(once).head(_MOST_LINES),
    )
    nights = nights.join(_alarms(nights, own, settings), on=list(_NIGHT), how="left")
    nights = nights.join(_by_chance(own, ground, settings), on="site", how="left").with_columns(
        pl.col("points", "alarms").fill_null(0),
        paired=pl.col("rules").list.contains(SEVERAL),
    )
    # What a system confirms is that several points alarmed, and after its alarm a point may be shut
    # out: with two points that is one reason.
    reasons = pl.col("rules").list.set_difference(
        pl.when("paired").then(pl.lit([CONFIRMED, OUT])).otherwise(pl.lit([], pl.List(pl.String)))
    )
    # One reason, two points at most and no more to it; what comes in from the outer skin is more.
    least = (
        (reasons.list.len() == 1)
        & reasons.list.first().is_in(list(_LEAST))
        & pl.col("points").is_between(1, 2)
        & ~(pl.col("paired") & pl.col("inward").fill_null(value=False))
    )
    nights = nights.with_columns(least=least, reason=reasons.list.first())
    many = pl.col("least") & (pl.col("least").sum().over("site") > int(settings.intrusion_nights))
    each = _each(nights.filter(~many), ground)
    gathered = _gathered(nights.filter(many), settings)
    return pl.concat([found(frame, Pattern.POSSIBLE_INTRUSION) for frame in (each, gathered)])


def _each(nights: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Give each night a row, those with most to it first."""
    nights = _attended(nights, ground).sort(
        pl.col("rules").list.len(), "first", descending=True, maintain_order=True
    )
    return _placed(
        nights,
        evidence(
            "why",
            _chance_line(),
            pl.col("told").fill_null(pl.lit([], dtype=EVIDENCE)),
            line(
                "disarmed after the first alarm",
                pl.when(pl.col("disarm_min") < 120)
                .then(number(pl.col("disarm_min")) + " min later")
                .otherwise(number(pl.col("disarm_min") / 60, 1) + " h later")
                + pl.when(pl.col("by").is_not_null())
                .then(" by " + user(pl.col("by")))
                .otherwise(pl.lit("")),
                "a later disarm is an attendance and says nothing about cause",
                when=pl.col("disarm_min").is_not_null(),
            ),
        ),
        figures(
            {
                "points": pl.col("points"),
                "alarms": pl.col("alarms"),
                "rules": pl.col("rules"),
                "disarm_min": pl.col("disarm_min"),
                "why": pl.col("why").list.eval(pl.element().struct.field("what")),
            }
        ),
    )


def _gathered(nights: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Give a site's nights of one reason each one row: the newest ones told, all counted."""
    why = pl.col("why").list.first()
    each = line(
        wall(pl.col("first_local")) + ": " + why.struct.field("what"),
        why.struct.field("figure"),
        _RULES,
    )
    gathered = (
        nights.sort("first", descending=True)
        .group_by("site", maintain_order=True)
        .agg(
            pl.col("first").min(),
            pl.col("last").max(),
            pl.col("first_alarm").min(),
            pl.col("last_alarm").max(),
            pl.col("alarms").sum(),
            pl.col("standing").any(),
            pl.col("chance", "trips", "hours").first(),
            nights=pl.len(),
            dates=pl.col("night").cast(pl.String),
            rules=pl.col("reason").unique().sort(),
            why=each.head(_MOST_LINES),
            paired=pl.col("paired").any(),
            **{name: (pl.col("reason") == rule).sum() for name, rule in _COUNTED.items()},
        )
    )
    more = pl.col("nights") - pl.col("why").list.len()
    return _placed(
        gathered,
        evidence(
            _chance_line(),
            "why",
            line("nights before these", number(more), _RULES, when=more > 0),
        ),
        figures(
            {
                "nights": pl.col("nights"),
                "alarms": pl.col("alarms"),
                "rules": pl.col("rules"),
                **{name: pl.col(name) for name in _COUNTED},
                "chance": pl.when("paired").then("chance"),
                "window_h": pl.lit(settings.confirmation_window_s / 3600),
                "dates": pl.col("dates"),
            }
        ),
    )


def _placed(nights: pl.DataFrame, told: pl.Expr, packed: pl.Expr) -> pl.DataFrame:
    return nights.with_columns(
        told,
        packed,
        since=pl.min_horizontal("first", "first_alarm"),
        until=pl.max_horizontal("last", "last_alarm"),
        events=pl.col("alarms"),
        subject_kind=pl.lit(str(Subject.SITE)),
        subject="site",
        area=pl.lit(None, dtype=pl.String),
    )


def _chance_line() -> pl.Expr:
    """Say how often a site's alarms come so close by themselves; it takes no night away."""
    return line(
        "by chance alone two points come so close about",
        number(pl.col("chance"), 1)
        + " times in this log ("
        + number(pl.col("trips"))
        + " alarms in "
        + number(pl.col("hours"))
        + " armed hours)",
        "alarms spread evenly over armed time; it does not say that this was chance",
        when=pl.col("paired") & (pl.col("chance") >= 0.05),
    )


def _by_chance(own: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Count the pairs of different points that a site's own rates bring within the window.

    With n alarms of each point spread evenly over H armed hours, sum over pairs of n n' 2 w / H;
    runs of one point in one night count once.
    """
    hours = ground.sites.select("site", hours="armed_hours").filter(pl.col("hours") > 0)
    each = (
        counting(own)
        .group_by("site", "point")
        .agg(n=pl.col("night").n_unique())
        .group_by("site")
        .agg(trips=pl.col("n").sum(), squares=(pl.col("n") ** 2).sum())
    )
    window_h = settings.confirmation_window_s / 3600
    return (
        each.join(hours, on="site")
        .with_columns(
            chance=(pl.col("trips") ** 2 - pl.col("squares")) * window_h / pl.col("hours")
        )
        .drop("squares")
    )


def _alarms(nights: pl.DataFrame, own: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Gather the alarms of each night that lie around what made it one.

    What alarms later in the same night is told with it, but makes it no more telling.
    """
    window = pl.duration(seconds=int(settings.confirmation_window_s))
    later = pl.duration(seconds=int(3600 * settings.shut_out_h))
    around = own.join(nights.select(*_NIGHT, "first", "last"), on=list(_NIGHT)).filter(
        (pl.col("at") >= pl.col("first") - window) & (pl.col("at") <= pl.col("last") + later)
    )
    near = pl.col("at") <= pl.col("last") + window
    label = pl.lit("point ") + pl.col("zone").fill_null("not told")
    named = pl.when(pl.col("name").is_not_null()).then(" (" + pl.col("name") + ")")
    return (
        around.sort("site", "at", "occurrence")
        .group_by(_NIGHT, maintain_order=True)
        .agg(
            first_alarm=pl.col("at").min(),
            first_local=pl.col("local").first(),
            inward=pl.col("outer").first() & ~pl.col("outer").filter(near).all(),
            last_alarm=pl.col("at").max(),
            alarms=pl.len().cast(pl.Int64),
            points=pl.col("point").filter(near).drop_nulls().n_unique().cast(pl.Int64),
            told=line(
                label + named.fill_null(""), clock(pl.col("local"), pl.col("grain")), "alarm rows"
            ).head(_MOST_LINES),
        )
    )


def _attended(nights: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Say when the place was next disarmed, and by whom."""
    disarms = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.DISARM)
        .select("site", by="person", disarmed="placed")
        .collect()
    )
    start = nights.with_columns(start=pl.min_horizontal("first", "first_alarm"))
    return asof(start, disarms, "start", "disarmed", strategy="forward").with_columns(
        disarm_min=(seconds(pl.col("disarmed") - pl.col("start")) / 60).round(3)
    )
