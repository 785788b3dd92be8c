"""How often guesses at wordings that nothing explains are right, measured on wordings held out.

``python -m tests.proving.wordings`` prints it; it takes a minute. Nothing is written.

- *by template*: the wording, its numbers taken out, is in no wording that was learnt from.
- *by word*: no wording that was learnt from holds its rarest word, however it is inflected there.
- *strangers*: ``tests/meaning/strangers.csv``, common practice, written by hand before any model
  was trained; those that the tables do not read.
"""

import zlib
from pathlib import Path

import numpy as np
import polars as pl
from scipy.stats import binomtest

from eventlab.meaning.suggesting import (
    FOLDS,
    OFFERED,
    corpus,
    fitted,
    folds,
    held_out,
    suggest,
)
from eventlab.meaning.taught import forms
from eventlab.meaning.wording import understand_words
from eventlab.schema import LIFE_SAFETY, TAUGHT, empty

WANTED = 0.95
STRANGERS = Path(__file__).parent.parent / "meaning" / "strangers.csv"
WORDINGS = STRANGERS.with_name("wordings.csv")


def by_template(texts):
    """Divide wordings so that no template stands on both sides."""
    form = texts.to_frame("text").join(forms(texts), on="text", how="left", maintain_order="left")
    number = np.array([zlib.crc32((f or "").encode()) % FOLDS for f in form["form"].to_list()])
    every = np.arange(len(number))
    return [(every[number != fold], every[number == fold]) for fold in range(FOLDS)]


def share_at(told, wanted=WANTED):
    """Return the share that is suggested, and how many of these are right.

    The bar of each fold is the least probability above which so many guesses of the other folds
    are right.
    """
    suggested, right = 0, 0
    picked = np.zeros(told.height, dtype=bool)
    fold = told["fold"].to_numpy()
    chance = np.where(told["guess"] == "", 0.0, told["probability"])
    good = told["right"].to_numpy()
    for number in np.unique(fold):
        bar = least(chance[fold != number], good[fold != number], wanted)
        mine = (fold == number) & (chance >= bar)
        picked |= mine
        suggested += int(mine.sum())
        right += int(good[mine].sum())
    return picked, suggested, right


def least(chance, good, wanted):
    """Return the least probability above which a share of guesses is right."""
    order = np.argsort(-chance, kind="stable")
    share = np.cumsum(good[order]) / np.arange(1, len(order) + 1)
    enough = np.flatnonzero(share >= wanted)
    return chance[order][enough[-1]] if enough.size else np.inf


def between(right, of):
    """Write a share with its exact interval (Clopper, Pearson 1934; 95 %)."""
    if not of:
        return "none"
    found = binomtest(right, of).proportion_ci(0.95)
    low, high = 100 * found.low, 100 * found.high
    return f"{100 * right / of:.1f} % ({low:.1f} to {high:.1f}; {right} of {of})"


def spread(told, picked, draws=400):
    """Return an interval of the share suggested, words or templates drawn again as wholes."""
    draw = np.random.default_rng(1)
    groups = told.with_columns(p=pl.Series(picked)).group_by("group").agg(pl.len(), pl.sum("p"))
    size, hit = groups["len"].to_numpy(), groups["p"].to_numpy()
    lots = draw.integers(len(size), size=(draws, len(size)))
    return np.percentile(hit[lots].sum(1) / size[lots].sum(1), [2.5, 97.5])


def measure(told, parts, groups):
    """Guess what is held out, and keep wordings as they stand in the tables."""
    found = held_out(told, parts)
    fold = np.empty(told.height, dtype=int)
    for number, (_, apart) in enumerate(parts):
        fold[apart] = number
    return found.with_columns(fold=pl.Series(fold), group=pl.Series(groups)).filter("plain")


def report(name, told):
    """Print one way of holding out."""
    picked, suggested, right = share_at(told)
    low, high = spread(told, picked)
    print(f"\n{name}: {told.height} wordings; kind and phase right in {told['right'].mean():.3f}")
    print(
        f"  suggested at 95 % precision: {100 * suggested / told.height:.1f} % "
        f"({100 * low:.1f} to {100 * high:.1f}); of these right: {between(right, suggested)}"
    )
    offered = told.filter(pl.col("probability") >= OFFERED, pl.col("guess") != "")
    print(
        f"  offered on screen (from {OFFERED}): {100 * offered.height / told.height:.1f} %; right: "
        f"{between(int(offered['right'].sum()), offered.height)}"
    )
    brier = ((told["probability"] - told["right"].cast(pl.Float64)) ** 2).mean()
    flat = told["right"].mean()
    print(f"  Brier score {brier:.3f} (of the bare share {flat * (1 - flat):.3f})")
    print("  told         wordings  right")
    bands = told.with_columns(band=(pl.col("probability") * 10).floor().cast(pl.Int64))
    for band, some in sorted(bands.group_by("band")):
        told_mean, is_mean = some["probability"].mean(), some["right"].mean()
        print(f"  {told_mean:.2f} ({band[0] / 10:.1f}…)  {some.height:8d}  {is_mean:.2f}")
    print("  kind                  wordings  suggested at 95 %  of these right")
    kinds = (
        told.with_columns(picked=pl.Series(picked))
        .group_by("kind")
        .agg(pl.len(), pl.sum("picked"), ok=(pl.col("picked") & pl.col("right")).sum())
    )
    for kind, of, hit, ok in kinds.sort("kind").iter_rows():
        print(f"  {kind:20s}  {of:8d}  {100 * hit / of:15.1f} %  {ok} of {hit}")
    return least(
        np.where(told["guess"] == "", 0.0, told["probability"]), told["right"].to_numpy(), WANTED
    )


def strangers():
    """Return wordings written by hand that the tables do not read, with what they mean."""
    told = pl.read_csv(STRANGERS, schema_overrides=dict.fromkeys(["kind", "phase"], pl.String))
    read = understand_words(told["text"]).filter(pl.col("kind").is_not_null())
    return told.join(read, on="text", how="anti").fill_null("")


def main():
    """Measure and print."""
    told = corpus(empty(TAUGHT))
    print(f"{told.height} wordings to learn from, {told['plain'].sum()} as the tables have them")
    form = told.join(forms(told["text"]), on="text", how="left", maintain_order="left")["form"]
    report("by template", measure(told, by_template(told["text"]), form))
    parts = folds(told["text"])
    words = told["text"].str.to_lowercase().str.extract_all(r"\p{L}+")
    count = dict(words.explode().value_counts().iter_rows())
    rarest = [min(some, key=lambda w: (count[w], w), default="") for some in words.to_list()]
    bar = report("by word", measure(told, parts, rarest))
    model = fitted(told)
    some = strangers()
    found = some.join(suggest(model, some["text"]), on="text", suffix="_told")
    good = (pl.col("kind") == pl.col("kind_told")) & (pl.col("phase") == pl.col("phase_told"))
    found = found.with_columns(right=good.fill_null(value=False))
    print(f"\nstrangers: {found.height} wordings, {(found['kind'] == '').sum()} mean nothing here")
    for name, least_told in (
        (f"offered (from {OFFERED})", OFFERED),
        ("above the bar by word", bar),
    ):
        offered = found.filter(
            pl.col("kind_told").is_not_null(), pl.col("probability") >= least_told
        )
        print(
            f"  {name}: {between(offered.height, found.height)}; right: "
            f"{between(int(offered['right'].sum()), offered.height)}"
        )
    ordinary = ~pl.col("kind_told").is_in([str(kind) for kind in LIFE_SAFETY])
    lost = found.filter(pl.col("kind").is_in([str(kind) for kind in LIFE_SAFETY]) & ordinary)
    print(f"  life safety offered as something ordinary: {lost.height}")
    unread = pl.read_csv(WORDINGS, infer_schema=False).filter(pl.col("kind").is_null())["text"]
    guess = suggest(model, unread.unique())
    print(
        f"\nwordings that must stay unread ({guess.height}): offered "
        f"{guess['kind'].count()}, a person must decide {int(guess['life'].sum())}"
    )


if __name__ == "__main__":
    main()
