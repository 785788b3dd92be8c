"""From evidence to probabilities of causes, with floors and ceiling."""

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.tables import table
from eventlab.schema import Cause
from eventlab.settings import Settings

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

CAUSE_ORDER: tuple[str, ...] = tuple(str(cause) for cause in Cause)
"""The order of causes in every array."""

_UNEXPLAINED = CAUSE_ORDER.index(Cause.UNEXPLAINED)
_INTRUSION = CAUSE_ORDER.index(Cause.INTRUSION)


def base_rates() -> Floats:
    """Return the shares of causes of the table of common practice, in ``CAUSE_ORDER``."""
    shares = dict(table("base_rates").select("cause", "share").iter_rows())
    return np.array([shares[cause] for cause in CAUSE_ORDER])


def probabilities(
    evidence: Floats, prompt: Flags, calibration: pl.DataFrame, settings: Settings
) -> Floats:
    """Turn the evidence of episodes into probabilities of their causes.

    Parameters
    ----------
    evidence : numpy.ndarray of float, shape (episodes, causes)
        Sums of ln likelihood ratios, in ``CAUSE_ORDER``.
    prompt : numpy.ndarray of bool, shape (episodes,)
        Whether somebody disarmed at once.
    calibration : polars.DataFrame
        CALIBRATION columns; empty where no outcome is recorded.
    settings : Settings
        ``unexplained_floor``, ``intrusion_floor``, ``certain_ceiling``, ``outcome_weight``.

    Returns
    -------
    numpy.ndarray of float, shape (episodes, causes)
        Each row adds up to one.

    Notes
    -----
    Softmax of slope times (ln base rate plus evidence) plus shift. Ceiling and the floor of what
    nothing explains give way only to recorded outcomes: with n of them right without exception one
    could not say more than (n + 1) / (n + 2) (Laplace's rule of succession), and the floor gives
    way as the table of base rates does. That of a real intrusion never does.
    """
    shares, slope, shift, outcomes = base_rates(), np.ones(1), np.zeros(1), 0
    if not calibration.is_empty():
        by_cause = pl.DataFrame({"cause": CAUSE_ORDER}).join(
            calibration, on="cause", how="left", maintain_order="left"
        )
        shares, slope, shift = (by_cause[c].to_numpy() for c in ("share", "slope", "shift"))
        outcomes = int(calibration["outcomes"][0])
    return softened(slope * (np.log(shares) + evidence) + shift, prompt, outcomes, settings)


def softened(score: Floats, prompt: Flags, outcomes: int, settings: Settings) -> Floats:
    """Turn scores into probabilities with floors and ceiling; see ``probabilities``.

    Parameters
    ----------
    score : numpy.ndarray of float, shape (episodes, causes)
        Any scale: only differences count.
    prompt : numpy.ndarray of bool, shape (episodes,)
        Whether somebody disarmed at once.
    outcomes : int
        How many recorded outcomes the score was learned from.
    settings : Settings
        Floors and ceiling.

    Returns
    -------
    numpy.ndarray of float, shape (episodes, causes)
        Each row adds up to one.
    """
    ceiling = max(settings.certain_ceiling, (outcomes + 1) / (outcomes + 2))
    part = np.exp(score - score.max(axis=1, keepdims=True))
    share = part / part.sum(axis=1, keepdims=True)
    floor = np.zeros_like(share)
    weight = settings.outcome_weight
    floor[:, _UNEXPLAINED] = settings.unexplained_floor * weight / (weight + outcomes)
    floor[:, _INTRUSION] = np.where(prompt, 0.0, settings.intrusion_floor)
    kept = _lifted(share, floor)
    capped = np.minimum(kept, ceiling)
    capped[:, _UNEXPLAINED] += (kept - capped).sum(axis=1)
    return np.asarray(capped)


def _lifted(share: Floats, floor: Floats) -> Floats:
    """Lift what lies below its floor up to it; the others give in proportion."""
    held = share < floor
    # What gives may itself fall to its floor; there are two floors, so twice is enough.
    for _ in range(2):
        rest = np.where(held, 0.0, share)
        room = 1 - np.where(held, floor, 0.0).sum(axis=1, keepdims=True)
        lifted = np.where(held, floor, rest * room / rest.sum(axis=1, keepdims=True))
        held = held | (lifted < floor)
    return np.asarray(lifted)
