"""The tables of this room, read once."""

from functools import cache
from importlib import resources

import polars as pl

from eventlab.schema import Schema

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
        "cause": pl.String(),
        "ratio": pl.Float64(),
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
