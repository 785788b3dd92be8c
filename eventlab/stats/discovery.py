"""False discoveries counted."""

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def adjusted(p: npt.ArrayLike, family: npt.ArrayLike | None = None) -> Floats:
    """Adjust p-values so that a bar on them bounds the share of false discoveries.

    Parameters
    ----------
    p : array_like of float, shape (n,)
        p-values; those that are not a number belong to no family.
    family : array_like, shape (n,), optional
        Label of the family of each; one family where left out.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        Adjusted values in the order given, at most 1; not a number stays so.

    Notes
    -----
    Benjamini and Hochberg (1995), J. R. Stat. Soc. B 57, 289-300.
    """
    values = np.asarray(p, dtype=np.float64)
    labels = np.zeros(values.shape, dtype=np.int64)
    if family is not None:
        labels = np.unique(np.asarray(family), return_inverse=True)[1].reshape(values.shape)
    answer = np.full(values.shape, np.nan)
    tested = np.flatnonzero(~np.isnan(values))
    order = tested[np.lexsort((values[tested], labels[tested]))]
    for part in np.split(order, np.flatnonzero(np.diff(labels[order])) + 1):
        raised = values[part] * part.size / np.arange(1, part.size + 1)
        answer[part] = np.minimum(np.minimum.accumulate(raised[::-1])[::-1], 1.0)
    return answer
