"""How likely each cause of an episode is."""

import math

import polars as pl

from eventlab.analysis.episode_signs import PROMPT, episode_signs
from eventlab.analysis.odds import CAUSE_ORDER, probabilities
from eventlab.analysis.tables import OPEN, ratios
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.settings import Settings

_KEY = ("site", "episode")
CAUSES = pl.List(pl.Struct({"cause": pl.String(), "probability": pl.Float64()}))
_ADDED = {
    "causes": CAUSES,
    "cause": pl.String(),
    "probability": pl.Float64(),
    "driver": pl.String(),
}


def causes(
    ground: Ground, context: Context, settings: Settings, found: pl.DataFrame | None = None
) -> pl.DataFrame:
    """Weigh the causes of each episode.

    Softmax of ln base rate plus ``evidence_sharpness`` times one ln likelihood ratio per family of
    evidence (the strongest in the family, never their product), each no larger than
    ``ratio_cap``; moved by what recorded outcomes taught, where there are any. What is unexplained
    keeps its floor; so does a real intrusion wherever nobody disarmed at once; nothing passes the
    ceiling. Life-safety episodes get no cause.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Where the sites stand, visits, weather, and what recorded outcomes taught.
    settings : Settings
        ``ratio_cap``, ``evidence_sharpness``, ``unexplained_floor``, ``intrusion_floor``,
        ``certain_ceiling``.
    found : polars.DataFrame, optional
        FOUND columns, of the same ground: what points follow and which are restless is evidence.

    Returns
    -------
    polars.DataFrame
        The columns of ``ground.episodes`` with ``causes`` (list of cause and probability, the
        likeliest first), ``cause`` and ``probability`` of the likeliest, and ``driver``: what its
        point follows, where that speaks for the likeliest cause; null for life safety.
    """
    weighed = evidence(ground, context, settings, found)
    if weighed.is_empty():
        return ground.episodes.with_columns(
            pl.lit(None, dtype).alias(name) for name, dtype in _ADDED.items()
        )
    shares = probabilities(
        weighed.select(CAUSE_ORDER).to_numpy(),
        weighed["prompt"].to_numpy(),
        context.calibration,
        settings,
    )
    # Rounded, so that neither the figure nor the order of equals hangs on how rows are chunked.
    ranked = (
        pl.DataFrame(shares, schema=list(CAUSE_ORDER))
        .hstack(weighed.select(*_KEY, "driver_sign"))
        .unpivot(
            on=CAUSE_ORDER,
            index=[*_KEY, "driver_sign"],
            variable_name="cause",
            value_name="probability",
        )
        .with_columns(pl.col("probability").round(9))
        .sort(*_KEY, "probability", "cause", descending=[False, False, True, False])
        .group_by(*_KEY, maintain_order=True)
        .agg(
            pl.col("driver_sign").first(),
            causes=pl.struct("cause", "probability"),
            cause=pl.col("cause").first(),
            probability=pl.col("probability").first(),
        )
    )
    speaks = ratios().filter(
        (pl.col("family") == "driver") & (pl.col("ratio") > 1) & (pl.col("sign") != "outside")
    )
    told = ranked.join(
        speaks.select("cause", driver_sign="sign", driver=pl.col("sign").str.strip_suffix(OPEN)),
        on=["cause", "driver_sign"],
        how="left",
        maintain_order="left",
    )
    return ground.episodes.join(
        told.select(*_KEY, *_ADDED), on=list(_KEY), how="left", maintain_order="left"
    )


def evidence(
    ground: Ground, context: Context, settings: Settings, found: pl.DataFrame | None = None
) -> pl.DataFrame:
    """Add up what speaks for each cause of each ordinary episode, before any base rate.

    Parameters
    ----------
    ground, context, settings, found
        As for ``causes``.

    Returns
    -------
    polars.DataFrame
        ``site``, ``episode``, ``prompt`` (somebody disarmed at once), ``driver_sign``, and for
        each cause the sum of one ln likelihood ratio per family, times ``evidence_sharpness``.
    """
    ordinary = ground.episodes.filter(~pl.col("life_safety")).select(_KEY)
    if ordinary.is_empty():
        return pl.DataFrame(
            schema={
                **ordinary.schema,
                "prompt": pl.Boolean(),
                "driver_sign": pl.String(),
                **dict.fromkeys(CAUSE_ORDER, pl.Float64()),
            }
        )
    told = episode_signs(ground, context, settings, found)
    cap, sharp = math.log(settings.ratio_cap), settings.evidence_sharpness
    weights = ratios().with_columns(weight=pl.col("ratio").log().clip(-cap, cap))
    strength = weights.group_by("family", "sign").agg(strength=pl.col("weight").abs().max())
    strongest = (
        told.join(strength, on=["family", "sign"])
        .sort(*_KEY, "family", "strength", "sign", descending=[False, False, False, True, False])
        .unique([*_KEY, "family"], keep="first", maintain_order=True)
    )
    wide = (
        strongest.join(weights, on=["family", "sign"])
        .sort(*_KEY, "family", "cause")
        .group_by(*_KEY, maintain_order=True)
        .agg(
            (pl.col("weight").filter(pl.col("cause") == cause).sum() * sharp).alias(cause)
            for cause in CAUSE_ORDER
        )
    )
    prompt = told.filter(pl.col("sign").is_in(PROMPT)).select(_KEY)
    driven = strongest.filter(pl.col("family") == "driver").select(*_KEY, driver_sign="sign")
    return (
        ordinary.join(
            prompt.unique().with_columns(prompt=pl.lit(value=True)),
            on=list(_KEY),
            how="left",
            maintain_order="left",
        )
        .join(driven, on=list(_KEY), how="left", maintain_order="left")
        .join(wide, on=list(_KEY), how="left", maintain_order="left")
        .with_columns(pl.col("prompt").fill_null(value=False), pl.col(CAUSE_ORDER).fill_null(0.0))
    )
