"""How likely each cause of an episode is."""

import math

import numpy as np
import polars as pl

from eventlab.analysis.episode_signs import PROMPT, episode_signs
from eventlab.analysis.odds import CAUSE_ORDER, Floats, probabilities
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
    ranked = _ranked(shares, weighed)
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
    signs = _weights(settings)
    numbered = ordinary.with_row_index("row")
    strongest = (
        told.join(signs.select("family", "sign", "rank"), on=["family", "sign"])
        .join(numbered, on=list(_KEY))
        .group_by("row", "family")
        .agg(pl.col("rank").min())
        .join(signs.drop("family"), on="rank")
        .sort("row", "rank")
    )
    sharp = settings.evidence_sharpness
    wide = strongest.group_by("row", maintain_order=True).agg(
        pl.col(CAUSE_ORDER).sum() * sharp,
        driver_sign=pl.col("sign").filter(pl.col("family") == "driver").first(),
    )
    prompt = told.filter(pl.col("sign").is_in(PROMPT)).select(_KEY)
    return (
        numbered.join(
            prompt.unique().with_columns(prompt=pl.lit(value=True)),
            on=list(_KEY),
            how="left",
            maintain_order="left",
        )
        .join(wide, on="row", how="left", maintain_order="left")
        .drop("row")
        .with_columns(pl.col("prompt").fill_null(value=False), pl.col(CAUSE_ORDER).fill_null(0.0))
    )


def _weights(settings: Settings) -> pl.DataFrame:
    """Return a sign a row, with its weight for each cause; in a family the strongest first."""
    cap = math.log(settings.ratio_cap)
    strength = pl.max_horizontal(pl.col(CAUSE_ORDER).abs())
    return (
        ratios()
        .with_columns(weight=pl.col("ratio").log().clip(-cap, cap))
        .pivot("cause", index=["family", "sign"], values="weight")
        .with_columns(pl.col(CAUSE_ORDER).fill_null(0.0))
        .sort("family", strength, "sign", descending=[False, True, False])
        .with_row_index("rank")
    )


def _ranked(shares: Floats, weighed: pl.DataFrame) -> pl.DataFrame:
    """Put the causes of each episode in order, the likeliest first."""
    names = np.array(sorted(CAUSE_ORDER))
    # Rounded, so that neither the figure nor the order of equals hangs on how rows are chunked.
    by_name = np.round(shares[:, [CAUSE_ORDER.index(name) for name in names]], 9)
    order = np.argsort(-by_name, axis=1, kind="stable")
    row = np.repeat(np.arange(len(order)), len(names))
    flat = pl.DataFrame(
        {
            "row": row,
            "cause": names[order].ravel(),
            "probability": np.take_along_axis(by_name, order, axis=1).ravel(),
        }
    )
    listed = flat.group_by("row", maintain_order=True).agg(
        pl.col("cause", "probability").first(), causes=pl.struct("cause", "probability")
    )
    return weighed.select(*_KEY, "driver_sign").hstack(listed.drop("row"))
