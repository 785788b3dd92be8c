"""The tables of this room, read once."""

from functools import cache
from importlib import resources

import polars as pl

from eventlab.schema import Cause, Schema

_SHAPES: dict[str, Schema] = {
    "base_rates": {
        "cause": pl.String(),
        "share": pl.Float64(),
        "means": pl.String(),
        "source": pl.String(),
    },
    "likelihood_ratios": {
        "family": pl.String(),
        "sign": pl.String(),
        **{str(cause): pl.Float64() for cause in Cause},
        "means": pl.String(),
        "source": pl.String(),
    },
    "confidence": {
        "pattern": pl.String(),
        "margin": pl.String(),
        "events_min": pl.Int64(),
        "confidence": pl.Float64(),
        "cases": pl.Int64(),
        "basis": pl.String(),
    },
}


@cache
def table(name: str) -> pl.DataFrame:
    """Read one of the tables of this room.

    Parameters
    ----------
    name : {'base_rates', 'likelihood_ratios', 'confidence'}
        Shares of causes before anything is known of an episode; how much likelier a sign is under
        a cause; the measured share right of a pattern from so many events on (null where nothing
        is measured).

    Returns
    -------
    polars.DataFrame
        With a source or basis in every row.
    """
    data = resources.files("eventlab.analysis") / "data" / f"{name}.csv"
    return pl.read_csv(data.read_bytes(), schema=_SHAPES[name])


OPEN = "-open"
"""Behind the word of a driver that cannot be told apart from another."""


@cache
def ratios() -> pl.DataFrame:
    """Return the likelihood ratios one below the other.

    Returns
    -------
    polars.DataFrame
        ``family, sign, cause, ratio``: a row for each that is not one. Of a driver that cannot be
        told apart from another (``OPEN`` behind its word) half the weight: the root of the ratio.
    """
    told = table("likelihood_ratios").unpivot(
        on=[str(cause) for cause in Cause],
        index=["family", "sign"],
        variable_name="cause",
        value_name="ratio",
    )
    driven = told.filter((pl.col("family") == "driver") & (pl.col("sign") != "outside"))
    halves = driven.with_columns(pl.col("sign") + OPEN, pl.col("ratio").sqrt())
    return pl.concat([told, halves]).drop_nulls("ratio")
