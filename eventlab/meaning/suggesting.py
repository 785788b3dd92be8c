"""What a wording that no table reads may mean: a guess with a probability, never an event.

Character n-grams of the wording go to one linear classifier for the kind and one for the phase,
trained on what the lexicon makes of itself (``examples``) and on what people taught. How often such
a guess is right is learnt from guesses about wordings of which one word was kept from the model
wherever it stands: that is what a stranger looks like.

A guess of an ordinary kind is withheld wherever a word, or the model, speaks of life safety.

References
----------
.. [1] C. Gupta, A. Ramdas, "Top-label calibration and multiclass-to-binary reductions", 2022,
   arXiv:2107.08353: the probability told is that of the guess which is shown (from memory).
"""

import re
import zlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.meaning.examples import EXAMPLES, examples
from eventlab.meaning.life_words import speaks_of_life
from eventlab.schema import LIFE_SAFETY, MOMENTS, Kind, Phase, Schema

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

Floats = npt.NDArray[np.float64]

OFFERED = 0.6
"""Probability from which on a guess is told: rather right than wrong, by a margin."""

LIFE_SHARE = 0.05
"""Probability of all kinds of life safety together from which on nothing ordinary is told."""

FOLDS = 5

SUGGESTED: Schema = {
    "text": pl.String(),
    "kind": pl.String(),
    "phase": pl.String(),
    "probability": pl.Float64(),
    "life": pl.Boolean(),
}
"""``kind`` is null where nothing is worth telling; ``life``: a person must decide."""

_PASSES = 6
_PENALTY = 5e-6
_CONFIRMED = 5.0
"""What a wording that a person taught weighs against one of the lexicon's own."""

_MOMENT = 6.0
"""Log-odds of the phase of a kind that has one only."""

_TINY = 1e-9

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


def fitted(taught: pl.DataFrame) -> Model:
    """Train a model; it takes seconds.

    Parameters
    ----------
    taught : polars.DataFrame
        What people taught and what is in force of it: ``wording``, ``kind``, ``phase``.

    Returns
    -------
    Model
        The same whenever tables and taught wordings are the same.
    """
    told = corpus(taught)
    apart = [_guess_apart(told, *part) for part in folds(told["text"])]
    bare = _bare(told, np.arange(told.height))
    return replace(bare, sure=_how_sure(apart))


def corpus(taught: pl.DataFrame) -> pl.DataFrame:
    """Return what a model learns from: ``EXAMPLES`` and ``weight``."""
    own = examples().with_columns(weight=pl.lit(1.0))
    said = taught.select(
        "kind", "phase", text="wording", plain=pl.lit(value=True), weight=pl.lit(_CONFIRMED)
    )
    both = pl.concat([said.select(own.columns), own]).unique(
        "text", keep="first", maintain_order=True
    )
    return both.select(*EXAMPLES, "weight")


def folds(texts: pl.Series) -> list[tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]]:
    """Divide wordings so that each is guessed by a model that never saw its rarest word.

    Parameters
    ----------
    texts : polars.Series
        String.

    Returns
    -------
    list of tuple of int64 array
        For each fold the wordings that may be learnt from, and those kept apart. Every wording is
        kept apart once; no wording that is learnt from holds a word that a fold keeps apart.
    """
    words = [frozenset(_words(text)) - {"#"} for text in texts.to_list()]
    count = Counter(word for some in words for word in some)
    rarest = [min(some, key=lambda w: (count[w], w), default="") for some in words]
    of_word = {word: zlib.crc32(word.encode()) % FOLDS for word in set(rarest)}
    found = []
    for number in range(FOLDS):
        held = {word for word, fold in of_word.items() if fold == number}
        apart = [i for i, word in enumerate(rarest) if of_word[word] == number]
        rest = [i for i, some in enumerate(words) if not some & held and rarest[i] not in held]
        found.append((np.array(rest, dtype=np.int64), np.array(apart, dtype=np.int64)))
    return found


def held_out(
    told: pl.DataFrame, parts: Sequence[tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]]
) -> pl.DataFrame:
    """Guess each wording with a model that did not learn from its part, for measuring.

    Parameters
    ----------
    told : polars.DataFrame
        As ``corpus`` gives it.
    parts : sequence of tuple
        As ``folds`` gives them.

    Returns
    -------
    polars.DataFrame
        ``EXAMPLES``, ``guess``, ``guess_phase``, ``probability`` (of the guess; learnt from the
        other parts) and ``life_share`` (of all kinds of life safety), in the order of ``told``.
    """
    apart = [_guess_apart(told, *part) for part in parts]
    found = []
    for number, (rows, guess) in enumerate(apart):
        sure = _how_sure([one for i, one in enumerate(apart) if i != number])
        found.append(
            rows.with_columns(
                guess=guess.kind,
                guess_phase=guess.phase,
                probability=_odds(sure, guess.figures),
                life_share=guess.life,
                at=parts[number][1],
            )
        )
    return pl.concat(found).sort("at").drop("at")


def suggest(model: Model, wordings: pl.Series) -> pl.DataFrame:
    """Say what wordings may mean.

    Parameters
    ----------
    model : Model
        As ``fitted`` gives it.
    wordings : polars.Series
        String.

    Returns
    -------
    polars.DataFrame
        Columns of ``SUGGESTED``, each wording once.
    """
    texts = wordings.drop_nulls().unique(maintain_order=True)
    if texts.is_empty():
        return pl.DataFrame(schema=SUGGESTED)
    guess = _guess(model, texts.to_list())
    told = pl.DataFrame(
        {
            "text": texts,
            "kind": guess.kind,
            "phase": guess.phase,
            "probability": _odds(model.sure, guess.figures),
            "share": guess.life,
        }
    ).join(speaks_of_life(texts), on="text", how="left", maintain_order="left")
    told = told.with_columns(life=pl.col("life") | (pl.col("share") >= LIFE_SHARE))
    return offered(told).select(SUGGESTED.keys())


def offered(told: pl.DataFrame) -> pl.DataFrame:
    """Withhold guesses that are not worth telling, and ordinary ones where life may be at stake.

    Parameters
    ----------
    told : polars.DataFrame
        ``kind``, ``phase``, ``probability``, ``life``.

    Returns
    -------
    polars.DataFrame
        The same; ``kind``, ``phase`` and ``probability`` are null where nothing is told.
    """
    saving = pl.col("kind").is_in([str(kind) for kind in LIFE_SAFETY])
    worth = (pl.col("kind") != "") & (pl.col("probability") >= OFFERED) & (saving | ~pl.col("life"))
    return told.with_columns(
        pl.when(worth).then(name).alias(name) for name in ("kind", "phase", "probability")
    )


# --- training ---------------------------------------------------------------------------------


def _bare(told: pl.DataFrame, rows: npt.NDArray[np.int64]) -> Model:
    """Train all of a model but its last step, on some of the rows."""
    from sklearn.feature_extraction.text import TfidfVectorizer
    from sklearn.linear_model import SGDClassifier

    learnt = told[rows]
    grams = TfidfVectorizer(
        analyzer="char_wb", ngram_range=(2, 5), sublinear_tf=True, min_df=2, lowercase=False
    )
    seen = grams.fit_transform([_plain(text) for text in learnt["text"].to_list()])
    weight = learnt["weight"].to_numpy()

    def linear(x: Any, y: Any, weights: Floats) -> Any:
        made = SGDClassifier(
            loss="log_loss", alpha=_PENALTY, max_iter=_PASSES, tol=None, random_state=0
        )
        return made.fit(x, y, sample_weight=weights)

    kind = linear(seen, learnt["kind"].to_numpy().astype(str), weight)
    phased = np.flatnonzero(learnt["phase"].is_in(["begin", "end"]).to_numpy())
    ends = (learnt["phase"] == "end").to_numpy()[phased]
    phase = linear(seen[phased], ends, weight[phased])
    return Model(
        np.array(grams.get_feature_names_out(), dtype=np.str_),
        grams.idf_,
        np.array(kind.classes_, dtype=np.str_),
        kind.coef_.astype(np.float32),
        kind.intercept_,
        phase.coef_.astype(np.float32),
        phase.intercept_,
        np.zeros(0),
    )


def _guess_apart(
    told: pl.DataFrame, rest: npt.NDArray[np.int64], apart: npt.NDArray[np.int64]
) -> tuple[pl.DataFrame, "_Guess"]:
    """Guess some wordings with what others teach; say which guesses are right."""
    model = _bare(told, rest)
    asked = told[apart]
    guess = _guess(model, asked["text"].to_list())
    said = pl.DataFrame({"kind": guess.kind, "phase": guess.phase})
    right = (asked["kind"] == said["kind"]) & (asked["phase"] == said["phase"])
    return asked.with_columns(right=right), guess


def _how_sure(apart: Sequence[tuple[pl.DataFrame, "_Guess"]]) -> Floats:
    """Learn from guesses of wordings as they stand in the tables how often such a guess is right.

    What was only put together is not what a log says, and its share of right guesses neither.
    """
    from sklearn.linear_model import LogisticRegression

    plain = np.concatenate([rows["plain"].to_numpy() for rows, _ in apart])
    figures = np.concatenate([guess.figures for _, guess in apart])[plain]
    right = np.concatenate([rows["right"].to_numpy() for rows, _ in apart])[plain]
    mean, scale = figures.mean(axis=0), figures.std(axis=0) + _TINY
    made = LogisticRegression(max_iter=300).fit((figures - mean) / scale, right)
    return np.concatenate([mean, scale, made.coef_[0], made.intercept_])


def _odds(sure: Floats, figures: Floats) -> Floats:
    wide = figures.shape[1]
    mean, scale, weight = sure[:wide], sure[wide : 2 * wide], sure[2 * wide : 3 * wide]
    odds: Floats = 1 / (1 + np.exp(-((figures - mean) / scale @ weight + sure[-1])))
    return odds


# --- guessing ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Guess:
    """What a model makes of wordings, and the figures that tell how sure that is."""

    kind: npt.NDArray[np.str_]
    phase: npt.NDArray[np.str_]
    life: Floats
    figures: Floats


def _guess(model: Model, texts: Sequence[str]) -> _Guess:
    from sklearn.feature_extraction.text import TfidfVectorizer

    grams = TfidfVectorizer(
        analyzer="char_wb",
        ngram_range=(2, 5),
        sublinear_tf=True,
        lowercase=False,
        vocabulary={gram: i for i, gram in enumerate(model.grams.tolist())},
    )
    grams.idf_ = model.rarity
    plain = [_plain(text) for text in texts]
    seen: csr_matrix = grams.transform(plain)
    raw = 1 / (1 + np.exp(-(seen @ model.kind_weights.T.astype(np.float64) + model.kind_offsets)))
    share = (raw / raw.sum(axis=1, keepdims=True)).clip(_TINY, 1 - _TINY)
    best = share.argmax(axis=1)
    kind = model.kinds[best]
    ends = seen @ model.phase_weights[0].astype(np.float64) + model.phase_offset[0]
    single = np.isin(kind, [*(str(one) for one in MOMENTS), ""])
    phase = np.where(ends > 0, str(Phase.END), str(Phase.BEGIN))
    phase = np.where(single, np.where(kind == "", "", str(Phase.MOMENT)), phase)
    saving = np.isin(model.kinds, [str(one) for one in LIFE_SAFETY])
    ranked = np.sort(share, axis=1)
    top = np.log(ranked[:, -1] / (1 - ranked[:, -1]))
    known = np.array([_known(text, grams.vocabulary_) for text in plain])
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
    return _Guess(kind, phase.astype(np.str_), share[:, saving].sum(axis=1), figures)


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


def _plain(text: str) -> str:
    return " ".join(_words(text))


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W\d_]+|#", re.sub(r"\d+", "#", text.lower()))
