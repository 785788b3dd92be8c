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

import zlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.meaning.carried import MORE_SAID
from eventlab.meaning.examples import EXAMPLES, examples
from eventlab.meaning.guessing import TINY, Floats, Guess, Model, guess, odds, plain, words_of
from eventlab.meaning.leftover import LEFT_OVER
from eventlab.meaning.life_words import speaks_of_life
from eventlab.meaning.sentence import UNKNOWN_WORDING
from eventlab.meaning.taught import forms
from eventlab.meaning.wording import understand_words
from eventlab.schema import LIFE_SAFETY, Schema

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

_OPEN = (UNKNOWN_WORDING, LEFT_OVER, MORE_SAID)
"""Why a wording is not understood, where a guess may be worth telling."""

_PASSES = 6
_PENALTY = 5e-6
_CONFIRMED = 5.0
"""What a wording that a person taught weighs against one of the lexicon's own."""


def fitted(told: pl.DataFrame) -> Model:
    """Train a model; it takes seconds.

    Parameters
    ----------
    told : polars.DataFrame
        As ``corpus`` gives it.

    Returns
    -------
    Model
        The same whenever tables and taught wordings are the same.
    """
    apart = [_guess_apart(told, *part) for part in folds(told["text"])]
    bare = _bare(told, np.arange(told.height))
    return replace(bare, sure=_how_sure(apart))


def corpus(taught: pl.DataFrame) -> pl.DataFrame:
    """Return what a model learns from.

    Parameters
    ----------
    taught : polars.DataFrame
        What is in force of what people taught: ``wording``, ``kind``, ``phase``.

    Returns
    -------
    polars.DataFrame
        Columns of ``EXAMPLES``, and ``weight``.
    """
    own = examples().with_columns(weight=pl.lit(1.0))
    said = taught.select(
        "kind", "phase", text="wording", plain=pl.lit(value=True), weight=pl.lit(_CONFIRMED)
    )
    # Twice, once in its form: what stands once in all wordings is not looked at.
    again = said.join(forms(said["text"]), on="text").with_columns(text="form")
    both = pl.concat([said.select(own.columns), again.select(own.columns), own]).unique(
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
    words = [frozenset(words_of(text)) - {"#"} for text in texts.to_list()]
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
    for number, (rows, said) in enumerate(apart):
        sure = _how_sure([one for i, one in enumerate(apart) if i != number])
        found.append(
            rows.with_columns(
                guess=said.kind,
                guess_phase=said.phase,
                probability=odds(sure, said.figures),
                life_share=said.life,
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
    made = guess(model, texts.to_list())
    told = pl.DataFrame(
        {
            "text": texts,
            "kind": made.kind,
            "phase": made.phase,
            "probability": odds(model.sure, made.figures),
            "share": made.life,
        }
    ).join(speaks_of_life(texts), on="text", how="left", maintain_order="left")
    told = told.with_columns(life=pl.col("life") | (pl.col("share") >= LIFE_SHARE))
    # Words with two readings are for a person; what the tables read needs no guess.
    read = understand_words(texts).unique("text", keep="first").select("text", "problem")
    told = told.join(read, on="text", how="left", maintain_order="left").with_columns(
        kind=pl.when(pl.col("problem").is_in(_OPEN)).then("kind").otherwise(pl.lit(""))
    )
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
    seen = grams.fit_transform([plain(text) for text in learnt["text"].to_list()])
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
) -> tuple[pl.DataFrame, "Guess"]:
    """Guess some wordings with what others teach; say which guesses are right."""
    model = _bare(told, rest)
    asked = told[apart]
    made = guess(model, asked["text"].to_list())
    said = pl.DataFrame({"kind": made.kind, "phase": made.phase})
    right = (asked["kind"] == said["kind"]) & (asked["phase"] == said["phase"])
    return asked.with_columns(right=right), made


def _how_sure(apart: Sequence[tuple[pl.DataFrame, "Guess"]]) -> Floats:
    """Learn from guesses of wordings as they stand in the tables how often such a guess is right.

    What was only put together is not what a log says, and its share of right guesses neither.
    """
    from sklearn.linear_model import LogisticRegression

    plain = np.concatenate([rows["plain"].to_numpy() for rows, _ in apart])
    figures = np.concatenate([made.figures for _, made in apart])[plain]
    right = np.concatenate([rows["right"].to_numpy() for rows, _ in apart])[plain]
    mean, scale = figures.mean(axis=0), figures.std(axis=0) + TINY
    sure = LogisticRegression(max_iter=300).fit((figures - mean) / scale, right)
    return np.concatenate([mean, scale, sure.coef_[0], sure.intercept_])
