"""What recorded outcomes teach about causes, and how far what is told is from them."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.odds import CAUSE_ORDER, base_rates, probabilities, softened
from eventlab.schema import CALIBRATION, conform
from eventlab.settings import Settings

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

_FOLDS = 5
_SLOPES = (0.2, 3.0)
"""No score is made flatter or steeper than this."""
_HELD = 0.05
"""How strongly the slope and shift of single causes are held to those of all."""


@dataclass(frozen=True)
class Known:
    """Episodes whose cause is known.

    Parameters
    ----------
    evidence : numpy.ndarray of float, shape (n, causes)
        In ``odds.CAUSE_ORDER``.
    prompt : numpy.ndarray of bool, shape (n,)
        Whether somebody disarmed at once.
    cause : numpy.ndarray of int, shape (n,)
        Place in ``odds.CAUSE_ORDER``.
    site : numpy.ndarray of int, shape (n,)
        Number of the site.
    """

    evidence: Floats
    prompt: Flags
    cause: Numbers
    site: Numbers

    @classmethod
    def of(cls, frame: pl.DataFrame) -> "Known":
        """Take it from the columns of ``causes.evidence`` with ``true``, the known cause."""
        order = {cause: place for place, cause in enumerate(CAUSE_ORDER)}
        return cls(
            frame.select(CAUSE_ORDER).to_numpy(),
            frame["prompt"].to_numpy(),
            frame["true"].replace_strict(order, return_dtype=pl.Int64).to_numpy(),
            frame["site"].rank("dense").cast(pl.Int64).to_numpy(),
        )

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.cause)

    def some(self, rows: Numbers) -> "Known":
        """Return some of them."""
        return Known(self.evidence[rows], self.prompt[rows], self.cause[rows], self.site[rows])

    def folds(self) -> list[tuple[Numbers, Numbers]]:
        """Divide them by site: rows to learn from and rows to try; none with fewer than two."""
        from sklearn.model_selection import GroupKFold

        many = min(_FOLDS, len(np.unique(self.site)))
        if many < 2:
            return []
        return list(GroupKFold(many).split(self.evidence, groups=self.site))


def learn(known: Known, settings: Settings) -> pl.DataFrame:
    """Learn base rates, and where there are enough outcomes how far to trust the evidence.

    Parameters
    ----------
    known : Known
        One row per night with a recorded outcome.
    settings : Settings
        ``outcome_weight``, ``outcome_wrong``, ``outcomes_scaled``, ``outcomes_shaped``,
        ``outcomes_each`` and what ``odds.probabilities`` needs.

    Returns
    -------
    polars.DataFrame
        CALIBRATION columns; empty where nothing is known.

    Notes
    -----
    Base rates are the mean of a Dirichlet distribution that begins at the table with
    ``outcome_weight``. From ``outcomes_scaled`` on one temperature (Guo et al. 2017, ICML; from
    memory), from ``outcomes_shaped`` on slope and shift of each cause with ``outcomes_each`` of
    its own. Each step is kept only if it tells the outcomes of sites better that it has not seen.
    """
    return _chosen(known, settings)(known, settings)


def unseen(known: Known, settings: Settings) -> tuple[Floats, Floats]:
    """Return the probabilities of each episode as learned from all sites but its own.

    Parameters
    ----------
    known, settings
        As for ``learn``.

    Returns
    -------
    told : numpy.ndarray of float, shape (n, causes)
        Not a number where there is only one site.
    usual : numpy.ndarray of float, shape (n, causes)
        The shares of causes alone, from the same other sites.
    """
    usual = np.full(known.evidence.shape, np.nan)
    for rows, tried in known.folds():
        usual[tried] = _plain(known.some(rows), settings)["share"].to_numpy()
    return _unseen(known, learn, settings), usual


_Step = Callable[[Known, Settings], pl.DataFrame]


def _chosen(known: Known, settings: Settings) -> _Step:
    """Choose how much is learned: more only where it tells sites better that it has not seen.

    Better by more than one standard error of the difference, counted by site: else the simpler
    (Breiman et al. 1984, Classification and Regression Trees; from memory).
    """
    best: _Step = _plain
    if len(known) < settings.outcomes_scaled or not known.folds():
        return best
    kept = _losses(_unseen(known, best, settings), known.cause, settings)
    steps = [_scaled, _shaped] if len(known) >= settings.outcomes_shaped else [_scaled]
    for step in steps:
        tried = _losses(_unseen(known, step, settings), known.cause, settings)
        gain = np.bincount(known.site - 1, kept - tried)
        sites = np.bincount(known.site - 1) > 0
        if gain.sum() > np.sqrt(sites.sum() * gain[sites].var()):
            best, kept = step, tried
    return best


def _unseen(known: Known, step: _Step, settings: Settings) -> Floats:
    told = np.full(known.evidence.shape, np.nan)
    for rows, tried in known.folds():
        taught = step(known.some(rows), settings)
        told[tried] = _told(known.some(tried), taught, settings)
    return told


def _told(known: Known, taught: pl.DataFrame, settings: Settings) -> Floats:
    return probabilities(known.evidence, known.prompt, taught, settings)


def _losses(told: Floats, cause: Numbers, settings: Settings) -> Floats:
    """Return the log loss of each night: minus ln of the chance of the outcome recorded for it.

    A share of outcomes is wrong and says nothing; else ten wrong ones in a hundred would make
    all that is told less sure by as much.
    """
    wrong = settings.outcome_wrong
    right = told[np.arange(len(cause)), cause]
    return np.asarray(-np.log((1 - wrong) * right + wrong / told.shape[1]))


def _frame(known: Known, shares: Floats, slope: Floats, shift: Floats) -> pl.DataFrame:
    frame = pl.DataFrame({"cause": CAUSE_ORDER, "share": shares, "slope": slope, "shift": shift})
    told = np.bincount(known.cause, minlength=len(CAUSE_ORDER))
    return conform(
        frame.with_columns(told=pl.Series(told), outcomes=pl.lit(len(known))), CALIBRATION
    )


def _plain(known: Known, settings: Settings) -> pl.DataFrame:
    """Move the base rates, nothing else."""
    if not len(known):
        return pl.DataFrame(schema=CALIBRATION)
    weight = settings.outcome_weight
    told = np.bincount(known.cause, minlength=len(CAUSE_ORDER))
    shares = (weight * base_rates() + told) / (weight + len(known))
    return _frame(known, shares, np.ones(len(shares)), np.zeros(len(shares)))


def _scaled(known: Known, settings: Settings) -> pl.DataFrame:
    """Fit one temperature beside the base rates."""
    from scipy.optimize import minimize_scalar

    plain = _plain(known, settings)
    shares, zero = plain["share"].to_numpy(), np.zeros(len(CAUSE_ORDER))
    score = np.log(shares) + known.evidence

    def loss(slope: float) -> float:
        told = softened(slope * score, known.prompt, len(known), settings)
        return float(_losses(told, known.cause, settings).mean())

    best = minimize_scalar(loss, bounds=_SLOPES, method="bounded", options={"xatol": 1e-3})
    return _frame(known, shares, np.full(len(shares), round(float(best.x), 3)), zero)


def _shaped(known: Known, settings: Settings) -> pl.DataFrame:
    """Fit slope and shift of each cause that has enough outcomes of its own."""
    from scipy.optimize import minimize

    start = _scaled(known, settings)
    shares, slope = start["share"].to_numpy(), start["slope"].to_numpy()
    own = np.flatnonzero(start["told"].to_numpy() >= settings.outcomes_each)
    if len(own) < 2:
        return start
    score = np.log(shares) + known.evidence

    def parts(moved: Floats) -> tuple[Floats, Floats]:
        slopes, shifts = slope.copy(), np.zeros(len(slope))
        slopes[own] = slope[own] * np.exp(moved[: len(own)])
        shifts[own] = moved[len(own) :]
        return slopes.clip(*_SLOPES), shifts

    def loss(moved: Floats) -> float:
        slopes, shifts = parts(moved)
        told = softened(slopes * score + shifts, known.prompt, len(known), settings)
        return float(_losses(told, known.cause, settings).mean() + _HELD * (moved**2).mean())

    best = minimize(loss, np.zeros(2 * len(own)), method="L-BFGS-B", options={"maxiter": 20})
    return _frame(known, shares, *parts(np.round(best.x, 3)))
