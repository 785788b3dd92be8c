"""The tables of advice, read once."""

from functools import cache
from importlib import resources

import polars as pl


@cache
def table(name: str) -> pl.DataFrame:
    """Read one of the tables of this room.

    Parameters
    ----------
    name : {'advice', 'cautions', 'detectors'}
        ``advice``: what to check, per cause, pattern, detector and place; ``cautions``: what to
        mind, per word; ``detectors``: families of detectors and the words that tell them.

    Returns
    -------
    polars.DataFrame
        All columns text; an empty cell is empty text.
    """
    data = resources.files("eventlab.advice") / "data" / f"{name}.csv"
    cells = pl.read_csv(data.read_bytes(), infer_schema=False)
    return cells.with_columns(pl.all().fill_null("")).with_row_index("order")
