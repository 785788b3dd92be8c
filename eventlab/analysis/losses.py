"""Losses while armed without any alarm: the attack that comes before the detectors."""

import polars as pl

from eventlab.analysis import signs
from eventlab.analysis.core import POINT, judged
from eventlab.analysis.found import asof, seconds, spoken, wall
from eventlab.ground import Ground, State
from eventlab.schema import Kind, Phase, Use
from eventlab.settings import Settings

LOST = "lost while armed"
ANCHOR = ("site", "night", "at", "rule", "what", "figure", "open")
"""Columns of a reason why a night may have been a real intrusion."""


def reason(rule: str, what: pl.Expr, figure: pl.Expr) -> dict[str, pl.Expr]:
    """Give the columns that say why, for rows that already have site, night and time."""
    return {"rule": pl.lit(rule), "what": what, "figure": figure, "open": pl.lit(value=False)}


def label(zone: str = "zone", name: str = "name") -> pl.Expr:
    """Name a point for people."""
    named = (
        pl.when(pl.col(name).is_not_null()).then(" (" + pl.col(name) + ")").otherwise(pl.lit(""))
    )
    return pl.lit("point ") + pl.col(zone).fill_null("not told") + named


def no_alarm(told: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Find losses while armed with no alarm: tamper with path or power, or an opening with any.

    A path lost with the mains is an outage; it takes a tamper, or an opening of the outer skin
    that nobody disarmed, to make it more. So does a path or tamper after which the log stops.

    Parameters
    ----------
    told : polars.DataFrame
        As `signs.signs` gives them.
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``sign_near_s``, ``confirmation_window_s``, ``entry_delay_s``, ``entry_overrun_s`` [s].

    Returns
    -------
    polars.DataFrame
        The columns of ``ANCHOR``.
    """
    armed = told.filter("armed")
    cut = armed.filter(pl.col("group").is_in([signs.PATH, signs.POWER])).select(
        "site", cut="kind", cut_at="sign_at"
    )
    lid = armed.filter(pl.col("group") == signs.TAMPER)
    pair = asof(lid, cut, "sign_at", "cut_at", strategy="nearest").filter(
        seconds(pl.col("cut_at") - pl.col("sign_at")).abs() <= settings.sign_near_s
    )
    words = {
        "night": pl.col("sign_night"),
        "at": pl.col("sign_at"),
        "open": pl.lit(value=False),
        "rule": pl.lit(LOST),
    }
    first = pair.with_columns(
        what=spoken(pl.col("kind")) + " and " + spoken(pl.col("cut")),
        figure=wall(pl.col("sign_local")) + ", while armed",
        **words,
    )
    silence = ground.coverage.select("site", stop="until").filter(
        pl.col("stop") < pl.col("stop").max().over("site")
    )
    gone = asof(
        armed.filter(pl.col("group").is_in([signs.PATH, signs.TAMPER])),
        silence,
        "sign_at",
        "stop",
        strategy="forward",
    ).filter(seconds(pl.col("stop") - pl.col("sign_at")) <= settings.confirmation_window_s)
    second = gone.with_columns(
        what=spoken(pl.col("kind")) + " while armed, then the log stops",
        figure=wall(pl.col("sign_local")),
        **words,
    )
    columns = [*ANCHOR]
    return pl.concat(
        [first.select(columns), second.select(columns), _opened(armed, ground, settings)]
    )


def _opened(armed: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Find an opening of the outer skin while armed that nobody disarmed, beside any loss."""
    skin = ground.points.filter(
        pl.col("entry_route") | pl.col("use").is_in([Use.PERIMETER, Use.ENTRY])
    ).select(*POINT, "name")
    rows = (
        ground.occurrences.lazy()
        .filter(
            (pl.col("kind") == Kind.ACTIVATION)
            & (pl.col("phase") == Phase.BEGIN)
            & (pl.col("state") == State.ARMED)
            & ~pl.col("life_safety")
        )
        .select(*POINT, "kind", "area", "placed", "local", "night", "state")
        .join(armed.lazy().select("site"), on="site", how="semi", maintain_order="left")
        .join(skin.lazy(), on=list(POINT), how="inner", nulls_equal=True, maintain_order="left")
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
    grace = settings.entry_delay_s + settings.entry_overrun_s
    later = ~(seconds(pl.col("disarmed") - pl.col("at")) <= grace).fill_null(value=False)
    hit = asof(near.filter(later), armed, "at", "sign_at", strategy="nearest").filter(
        seconds(pl.col("sign_at") - pl.col("at")).abs() <= settings.sign_near_s
    )
    return hit.with_columns(
        **reason(
            LOST,
            label() + " opened while armed beside " + spoken(pl.col("kind_right")),
            wall(pl.col("local")),
        )
    ).select(ANCHOR)
