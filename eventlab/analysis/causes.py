"""How likely each cause of an episode is."""

import math

import polars as pl

from eventlab.analysis.episode_signs import episode_signs
from eventlab.analysis.tables import table
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Cause
from eventlab.settings import Settings

_KEY = ("site", "episode")
CAUSES = pl.List(pl.Struct({"cause": pl.String(), "probability": pl.Float64()}))


def causes(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Weigh the causes of each episode.

    Softmax of ln base rate plus one ln likelihood ratio per family of evidence (the strongest in
    the family, never their product), each no larger than ``ratio_cap``. What is unexplained keeps
    its floor; so does a real intrusion wherever nobody disarmed at once; nothing passes the
    ceiling. Life-safety episodes get no cause.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Where the sites stand, and visits.
    settings : Settings
        ``ratio_cap``, ``unexplained_floor``, ``intrusion_floor``, ``certain_ceiling``.

    Returns
    -------
    polars.DataFrame
        The columns of ``ground.episodes`` with ``causes`` (list of cause and probability, the
        likeliest first), ``cause`` and ``probability`` of the likeliest; null for life safety.
    """
    ordinary = ground.episodes.filter(~pl.col("life_safety")).select(_KEY)
    if ordinary.is_empty():
        return ground.episodes.with_columns(
            causes=pl.lit(None, CAUSES),
            cause=pl.lit(None, pl.String),
            probability=pl.lit(None, pl.Float64),
        )
    told = episode_signs(ground, context, settings)
    prompt = told.filter(pl.col("sign").is_in(["entry", "quick-disarm", "exit"])).select(_KEY)
    weighed = _weighed(ordinary, told, settings)
    floors = weighed.join(
        prompt.unique().with_columns(prompt=pl.lit(value=True)), on=list(_KEY), how="left"
    ).with_columns(
        floor=pl.when(pl.col("cause") == Cause.UNEXPLAINED)
        .then(settings.unexplained_floor)
        .when((pl.col("cause") == Cause.INTRUSION) & pl.col("prompt").is_null())
        .then(settings.intrusion_floor)
        .otherwise(0.0)
    )
    shared = floors.with_columns(
        probability=pl.col("floor") + (1 - pl.col("floor").sum().over(_KEY)) * pl.col("probability")
    ).with_columns(
        excess=(pl.col("probability") - settings.certain_ceiling).clip(0).sum().over(_KEY)
    )
    others = pl.col("cause") == (
        pl.when((pl.col("cause") == Cause.UNEXPLAINED) & (pl.col("excess") > 0))
        .then(pl.lit(str(Cause.UNEXPLAINED)))
        .otherwise(pl.lit(""))
    )
    capped = shared.with_columns(
        probability=pl.min_horizontal("probability", pl.lit(settings.certain_ceiling))
        + pl.when(others).then(pl.col("excess")).otherwise(0.0)
    )
    # Rounded, so that neither the figure nor the order of equals hangs on how rows are chunked.
    ranked = (
        capped.with_columns(pl.col("probability").round(9))
        .sort(*_KEY, "probability", "cause", descending=[False, False, True, False])
        .group_by(_KEY, maintain_order=True)
        .agg(
            causes=pl.struct("cause", "probability"),
            cause=pl.col("cause").first(),
            probability=pl.col("probability").first(),
        )
    )
    return ground.episodes.join(ranked, on=list(_KEY), how="left", maintain_order="left")


def _weighed(ordinary: pl.DataFrame, told: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Give each episode and cause its share before floors."""
    cap = math.log(settings.ratio_cap)
    ratios = table("likelihood_ratios").with_columns(weight=pl.col("ratio").log().clip(-cap, cap))
    strength = ratios.group_by("family", "sign").agg(strength=pl.col("weight").abs().max())
    strongest = (
        told.join(strength, on=["family", "sign"])
        .sort(*_KEY, "family", "strength", "sign", descending=[False, False, False, True, False])
        .unique([*_KEY, "family"], keep="first", maintain_order=True)
    )
    summed = (
        strongest.join(ratios, on=["family", "sign"])
        .group_by(*_KEY, "cause")
        .agg(weight=pl.col("weight").sum())
    )
    base = table("base_rates").select("cause", prior=pl.col("share").log())
    return (
        ordinary.join(base, how="cross")
        .join(summed, on=[*_KEY, "cause"], how="left")
        .with_columns(score=pl.col("prior") + pl.col("weight").fill_null(0.0))
        .with_columns(part=(pl.col("score") - pl.col("score").max().over(_KEY)).exp())
        .select(*_KEY, "cause", probability=pl.col("part") / pl.col("part").sum().over(_KEY))
    )
