"""The nights of a site that may have been a real intrusion."""

import polars as pl

from eventlab.analysis.intrusion_rules import anchors
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.settings import Settings


def suspected_nights(
    ground: Ground, context: Context, settings: Settings, site: str
) -> pl.DataFrame:
    """Name the nights of a site on which a rule of possible intrusions holds.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Where the sites stand.
    settings : Settings
        As the rules need them.
    site : str
        Which.

    Returns
    -------
    polars.DataFrame
        ``night``.
    """
    told = anchors(ground, context, settings)
    return told.filter(pl.col("site") == site).select("night").unique().sort("night")
