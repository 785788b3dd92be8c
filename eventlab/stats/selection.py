"""Which of many families are looked into, and how strictly then."""

import numpy as np
import numpy.typing as npt

from eventlab.stats.discovery import adjusted

Floats = npt.NDArray[np.float64]


def selected_bar(least: npt.ArrayLike, families: int, level: float) -> float:
    """Give the bar for findings inside the families that are selected out of many.

    Parameters
    ----------
    least : array_like of float, shape (n,)
        Smallest adjusted p-value of each family that has any small one: its Simes p-value.
    families : int
        How many families there are; those not in ``least`` have larger values.
    level : float
        Share of false discoveries allowed among families, and inside them.

    Returns
    -------
    float
        A family is selected, and a finding in it stands, where its adjusted p-value is no larger;
        0 where none is selected.

    Notes
    -----
    Families are selected by the method of Benjamini and Hochberg over their Simes p-values; inside
    R of m selected ones the level is R/m of itself: Benjamini and Bogomolov (2014), J. R. Stat.
    Soc. B 76, 297-318. Whoever is selected has a Simes value of at most that bar.
    """
    simes = np.asarray(least, dtype=np.float64)
    rest = np.ones(max(families - len(simes), 0))
    chosen = int((adjusted(np.concatenate([simes, rest])) <= level).sum())
    return level * chosen / families if chosen else 0.0
