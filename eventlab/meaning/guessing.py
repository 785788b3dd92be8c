"""The model of wordings that nothing explains, and what it makes of them."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from eventlab.schema import LIFE_SAFETY, MOMENTS, Kind, Phase

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

Floats = npt.NDArray[np.float64]

TINY = 1e-9
"""Keeps logarithms and quotients finite."""

_MOMENT = 6.0
"""Log-odds of the phase of a kind that has one only."""

_GUESSED = ("", *(str(kind) for kind in Kind))
"""What may be guessed: some guesses are right more often than others that look as sure."""


@dataclass(frozen=True)
class Model:
    """A trained model, all of it arrays.

    Parameters
    ----------
    grams : array of str
        Character n-grams that it knows.
    rarity : array of float
        Weight of each.
    kinds : array of str
        What it can guess; empty for nothing.
    kind_weights, kind_offsets : array of float
        Of the linear classifier, kinds × grams and kinds.
    phase_weights, phase_offset : array of float
        Log-odds of an end.
    sure : array of float
        Of the last step, that tells how often such a guess is right: mean, scale and weight of each
        of its figures; the offset stands behind the weights.
    """

    grams: npt.NDArray[np.str_]
    rarity: Floats
    kinds: npt.NDArray[np.str_]
    kind_weights: npt.NDArray[np.float32]
    kind_offsets: Floats
    phase_weights: npt.NDArray[np.float32]
    phase_offset: Floats
    sure: Floats


@dataclass(frozen=True)
class Guess:
    """What a model makes of wordings.

    Parameters
    ----------
    kind, phase : array of str
        The best guess for each; empty for nothing.
    life : array of float
        Probability of all kinds of life safety together.
    figures : array of float
        What tells how sure the guess is, a row for each.
    """

    kind: npt.NDArray[np.str_]
    phase: npt.NDArray[np.str_]
    life: Floats
    figures: Floats


def guess(model: Model, texts: Sequence[str]) -> Guess:
    """Say what a model makes of wordings.

    Parameters
    ----------
    model : Model
        Its last step is not asked.
    texts : sequence of str
        Wordings.

    Returns
    -------
    Guess
        In the order of ``texts``.
    """
    from sklearn.feature_extraction.text import TfidfVectorizer

    grams = TfidfVectorizer(
        analyzer="char_wb",
        ngram_range=(2, 5),
        sublinear_tf=True,
        lowercase=False,
        vocabulary={gram: i for i, gram in enumerate(model.grams.tolist())},
    )
    grams.idf_ = model.rarity
    bare = [plain(text) for text in texts]
    seen: csr_matrix = grams.transform(bare)
    raw = 1 / (1 + np.exp(-(seen @ model.kind_weights.T.astype(np.float64) + model.kind_offsets)))
    share = (raw / raw.sum(axis=1, keepdims=True)).clip(TINY, 1 - TINY)
    best = share.argmax(axis=1)
    kind = model.kinds[best]
    ends = seen @ model.phase_weights[0].astype(np.float64) + model.phase_offset[0]
    single = np.isin(kind, [*(str(one) for one in MOMENTS), ""])
    phase = np.where(ends > 0, str(Phase.END), str(Phase.BEGIN))
    phase = np.where(single, np.where(kind == "", "", str(Phase.MOMENT)), phase)
    saving = np.isin(model.kinds, [str(one) for one in LIFE_SAFETY])
    ranked = np.sort(share, axis=1)
    top = np.log(ranked[:, -1] / (1 - ranked[:, -1]))
    known = np.array([_known(text, grams.vocabulary_) for text in bare])
    figures = np.column_stack(
        [
            top,
            np.log(ranked[:, -1] / ranked[:, -2]),
            (share * np.log(share)).sum(axis=1),
            known,
            top * known[:, 0],
            np.where(single, _MOMENT, np.abs(ends).clip(0, _MOMENT)),
            kind[:, None] == np.array(_GUESSED),
        ]
    )
    return Guess(kind, phase.astype(np.str_), share[:, saving].sum(axis=1), figures)


def _known(text: str, grams: dict[str, int]) -> tuple[float, float, float]:
    """Tell how much of a wording the model has ever seen: mean and least share of a word, words."""
    shares = []
    for word in text.split():
        padded = f" {word} "
        parts = [padded[i : i + 4] for i in range(max(1, len(padded) - 3))]
        shares.append(sum(part in grams for part in parts) / len(parts))
    if not shares:
        return 0.0, 0.0, 0.0
    return sum(shares) / len(shares), min(shares), float(len(shares))


def plain(text: str) -> str:
    """Write a wording as the model looks at it."""
    return " ".join(words_of(text))


def words_of(text: str) -> list[str]:
    """Return the words of a wording in small letters, ``#`` for a number."""
    return re.findall(r"[^\W\d_]+|#", re.sub(r"\d+", "#", text.lower()))


def odds(sure: Floats, figures: Floats) -> Floats:
    """Return how often guesses with such figures are right."""
    wide = figures.shape[1]
    mean, scale, weight = sure[:wide], sure[wide : 2 * wide], sure[2 * wide : 3 * wide]
    share: Floats = 1 / (1 + np.exp(-((figures - mean) / scale @ weight + sure[-1])))
    return share
