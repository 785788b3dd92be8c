"""What is tried on the past alarms of a point, and what comes of it."""

from dataclasses import dataclass

import polars as pl

from eventlab.schema import Schema, conform

HOLD_OFF, COUNT, PAIR = "hold-off", "count-of-two", "second-detector"

OUTCOME_OF: Schema = {
    "site": pl.String(),
    "zone": pl.String(),
    "trial": pl.String(),
    "seconds": pl.Float64(),
    "other": pl.String(),
    "told": pl.String(),
    "alarms": pl.Int64(),
    "removed": pl.Int64(),
    "periods": pl.Int64(),
    "first_lost": pl.Int64(),
    "first_late": pl.Int64(),
    "late_half_s": pl.Float64(),
    "late_most_s": pl.Float64(),
    "suspected": pl.Int64(),
    "suspected_lost": pl.Int64(),
    "suspected_late": pl.Int64(),
    "suspected_nights": pl.List(pl.Date()),
}
"""One row per trial; ``told`` says why it was not replayed, and then there are no figures."""


@dataclass(frozen=True)
class Trial:
    """One thing to try.

    Parameters
    ----------
    rule : str
        ``HOLD_OFF``: the point must stay tripped so long; ``COUNT``: a second trip must follow
        so soon; ``PAIR``: the other point must trip so near.
    seconds : float
        How long [s].
    other : str or None
        The second detector.
    """

    rule: str
    seconds: float
    other: str | None = None


@dataclass(frozen=True)
class WhatIf:
    """What came of the trials.

    Parameters
    ----------
    site, zone, name : str or None
        The point.
    refused : str or None
        Why nothing is replayed of this point at all.
    in_force : tuple of str
        What holds already, and what of it is not known.
    cautions : tuple of str
        What to mind before anything is set.
    trials : polars.DataFrame
        ``OUTCOME_OF``.
    """

    site: str
    zone: str
    name: str | None
    refused: str | None
    in_force: tuple[str, ...]
    cautions: tuple[str, ...]
    trials: pl.DataFrame

    def frame(self) -> pl.DataFrame:
        """Give one row per trial with all that text tells beside the figures.

        Returns
        -------
        polars.DataFrame
            ``OUTCOME_OF`` with ``in_force`` and ``cautions``; one row with ``told`` alone where
            nothing is replayed of this point.
        """
        rows = self.trials
        if self.refused:
            why = {"site": [self.site], "zone": [self.zone], "told": [self.refused]}
            rows = conform(pl.DataFrame(why), OUTCOME_OF)
        return rows.with_columns(
            in_force=pl.lit(list(self.in_force), pl.List(pl.String)),
            cautions=pl.lit(list(self.cautions), pl.List(pl.String)),
        )
