"""Rows that the site has stored already: of several readings one may show the same moments."""

from collections.abc import Callable, Hashable, Mapping
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.schema import WALL, Schema

Longs = npt.NDArray[np.int64]
Key = TypeVar("Key", bound=Hashable)

STORED: Schema = {"site": pl.String(), "wall": WALL}
"""Moments of rows that are stored already."""

_MOMENTS, _SAME, _OTHER = 3, 0.5, 0.2
"""A reading agrees with what is stored where so many moments, and this share of all within the
time that is stored, are the same; the others must not reach that share."""

_LOOKED_AT = 20_000
"""Rows looked at."""


def agreeing(
    readings: Mapping[Key, Callable[[Longs], Longs]],
    rows: Longs,
    site: pl.Series | None,
    stored: pl.DataFrame | None,
) -> Key | None:
    """Find the only reading whose moments are stored already.

    Parameters
    ----------
    readings : mapping
        For each reading, the wall times of given rows [us].
    rows : int64 array
        Rows that have a time in every reading.
    site : polars.Series of String or None
        The site of each row; None where all are of the one site stored.
    stored : polars.DataFrame or None
        ``STORED``.

    Returns
    -------
    hashable or None
        None where nothing is stored, or more than one reading could be meant.
    """
    if stored is None or stored.is_empty() or rows.size == 0:
        return None
    if rows.size > _LOOKED_AT:
        # Neighbours, not every n-th row: an overlap is one stretch, at either end.
        part = _LOOKED_AT // 2
        rows = np.concatenate((rows[:part], rows[-part:]))
    own = pl.lit(stored["site"][0], pl.String) if site is None else site.gather(rows)
    reach = stored.group_by("site").agg(low=pl.col("wall").min(), high=pl.col("wall").max())
    same: dict[Key, float] = {}
    for key, walls in readings.items():
        frame = pl.DataFrame({"wall": pl.Series(walls(rows)).cast(WALL)}).with_columns(site=own)
        inside = (
            frame.unique()
            .join(reach, on="site")
            .filter(pl.col("wall").is_between(pl.col("low"), pl.col("high")))
        )
        met = inside.join(stored, on=["site", "wall"], how="semi").height
        share = met / inside.height if inside.height else 0.0
        same[key] = share if met >= _MOMENTS else min(share, _OTHER)
    best = max(same, key=lambda key: same[key])
    others = [share for key, share in same.items() if key != best]
    return best if same[best] >= _SAME and max(others, default=0.0) <= _OTHER else None
