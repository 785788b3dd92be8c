"""How far apart the alarms and activations of one point stand."""

import numpy as np
import polars as pl

from eventlab.schema import TRIPS, Kind, Phase, Schema, Timing, conform, empty

GAPS: Schema = {"low_s": pl.Float64(), "high_s": pl.Float64(), "many": pl.Int64()}

_EDGES_S = (
    *(1, 3, 10, 30, 60, 180, 600, 1800, 3600),
    *(3 * 3600, 10 * 3600, 86_400, 3 * 86_400, 7 * 86_400, 30 * 86_400),
)
"""About three to a tenfold, in units that people use."""


def gaps_between(rows: pl.DataFrame, coverage: pl.DataFrame) -> tuple[pl.DataFrame, int]:
    """Count the gaps between one alarm or activation of a point and the next.

    Parameters
    ----------
    rows : polars.DataFrame
        Occurrences of the point.
    coverage : polars.DataFrame
        ``since``, ``until`` of its site: no gap is taken across what no log covers.

    Returns
    -------
    gaps : polars.DataFrame
        ``low_s``, ``high_s`` (null at the open end), ``many``; nothing is parted below the step of
        the clock. Empty where there are fewer than two rows.
    grain : int
        That step, the coarsest of these rows [s].
    """
    told = rows.filter(
        pl.col("kind").is_in([*TRIPS, Kind.ACTIVATION])
        & (pl.col("phase") == Phase.BEGIN)
        & pl.col("at").is_not_null()
        & (pl.col("timing") != Timing.DOUBTFUL)
    )
    coarsest = told["grain"].max()
    grain = int(coarsest) if isinstance(coarsest, int) else 1
    at = told["at"].unique().sort().dt.epoch("us").to_numpy()
    starts = coverage["since"].sort().dt.epoch("us").to_numpy()
    stretch = np.searchsorted(starts, at, side="right")
    seconds = (np.diff(at) / 1e6)[np.diff(stretch) == 0]
    if not len(seconds):
        return empty(GAPS), grain
    edges = np.array([edge for edge in _EDGES_S if edge > grain or edge == grain == 1], dtype=float)
    table = pl.DataFrame(
        {
            "low_s": np.concatenate([[0.0], edges]),
            "high_s": np.concatenate([edges, [np.nan]]),
            "many": np.bincount(
                np.searchsorted(edges, seconds, side="right"), minlength=len(edges) + 1
            ),
        }
    )
    return conform(table.with_columns(pl.col("high_s").fill_nan(None)), GAPS), grain
