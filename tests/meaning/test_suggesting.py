"""Guesses at wordings that nothing explains: how often right, and never at the cost of a life.

Measured in full by ``python -m tests.proving.wordings``; here on a quarter of the wordings.
"""

import numpy as np
import polars as pl
import pytest
from scipy.stats import binomtest

from eventlab.meaning.examples import examples
from eventlab.meaning.guessing import guess
from eventlab.meaning.life_words import speaks_of_life
from eventlab.meaning.suggesting import (
    LIFE_SHARE,
    OFFERED,
    _bare,
    corpus,
    fitted,
    folds,
    held_out,
    offered,
    suggest,
)
from eventlab.schema import LIFE_SAFETY, MOMENTS, TAUGHT, Kind, empty
from tests.proving.wordings import by_template, strangers

LIFE = [str(kind) for kind in LIFE_SAFETY]


def quarter(told):
    return told.filter((pl.int_range(pl.len()) % 4 == 0) | (pl.col("weight") > 1))


@pytest.fixture(scope="module")
def told():
    return quarter(corpus(empty(TAUGHT)))


@pytest.fixture(scope="module")
def model(told):
    return fitted(told)


def test_examples_are_read_by_the_tables_and_each_kind_has_some():
    found = examples()
    assert found["text"].n_unique() == found.height
    kinds = set(found["kind"]) - {""}
    assert kinds >= {str(kind) for kind in Kind} - {"unread", "handling"}
    moments = found.filter(pl.col("kind").is_in([str(kind) for kind in MOMENTS]))
    assert set(moments["phase"]) == {"moment"}


def test_folds_keep_a_word_from_the_model_wherever_it_stands():
    texts = pl.Series(["mains fail", "Mains 4 lost", "zone 3 lost", "zone 7 alarm", "siren alarm"])
    parts = folds(texts)
    assert sorted(i for _, apart in parts for i in apart) == list(range(5))
    words = [set(text.lower().split()) - {"3", "4", "7"} for text in texts]
    for rest, apart in parts:
        seen = set().union(*(words[i] for i in rest)) if len(rest) else set()
        assert all(words[i] - seen for i in apart)


@pytest.mark.parametrize(("divide", "floor"), [(by_template, 0.85), (folds, 0.7)])
def test_what_is_offered_of_wordings_held_out_is_right_as_often_as_said(told, divide, floor):
    found = held_out(told, divide(told["text"])).filter("plain")
    shown = found.filter(pl.col("guess") != "", pl.col("probability") >= OFFERED)
    assert shown.height > 0.15 * found.height
    # The floor would be missed by chance once in a thousand runs if the share were just that.
    assert binomtest(int(shown["right"].sum()), shown.height, floor, "less").pvalue > 1e-3
    # Calibration: the mean of what is told lies near the share that is right.
    said, so = shown["probability"].mean(), shown["right"].mean()
    assert abs(said - so) < 0.08
    brier = ((found["probability"] - found["right"].cast(float)) ** 2).mean()
    assert brier < found["right"].mean() * (1 - found["right"].mean())


def test_of_strangers_most_of_what_is_offered_is_right(model):
    some = strangers()
    found = some.join(suggest(model, some["text"]), on="text", suffix="_told")
    shown = found.filter(pl.col("kind_told").is_not_null())
    right = int((shown["kind"] == shown["kind_told"]).sum())
    assert binomtest(right, shown.height, 0.6, "less").pvalue > 1e-3


def test_no_ordinary_kind_is_offered_where_life_may_be_at_stake(model):
    texts = pl.Series(
        [
            *strangers().filter(pl.col("kind").is_in(LIFE))["text"],
            "Panic button low bat lost again",
            "Smoke head mains gone",
            "Rauchmelder Netz weg",
            "Napad strefa batt low low",
            "Fumée zone 4 mains fail again",
            "Resident did not check in",
            "Överfall linje bruten",
        ]
    )
    found = suggest(model, texts)
    assert found["life"].all()
    assert set(found["kind"].drop_nulls()) <= set(LIFE)


def test_what_the_model_itself_takes_for_life_safety_withholds_what_is_ordinary():
    rows = pl.DataFrame(
        {
            "kind": ["tamper", "tamper", "fire", "", "tamper"],
            "phase": ["begin", "begin", "begin", "", "begin"],
            "probability": [0.99, 0.99, 0.7, 0.99, OFFERED - 0.01],
            "life": [False, True, True, False, False],
        }
    )
    assert offered(rows)["kind"].to_list() == ["tamper", None, "fire", None, None]
    assert 0 < LIFE_SHARE < 0.5


@pytest.mark.parametrize(
    ("text", "life"),
    [
        ("Smoke bobbin", True),
        ("smokealarm 4", True),
        ("Brandmelder Halle", True),
        ("CO level", True),
        ("Zone 4 bobbin swapped", False),
        ("Fire door held", True),  # wide on purpose: a person looks
        ("Vegas room", False),
    ],
)
def test_words_of_life_safety_are_found_wide(text, life):
    assert speaks_of_life(pl.Series([text]))["life"].to_list() == [life]


def test_what_people_taught_is_learnt_from(model):
    taught = pl.DataFrame(
        {"wording": ["Bobbin lane 4 swapped"], "kind": ["sensor-fault"], "phase": ["begin"]}
    )
    rows = quarter(corpus(taught))
    other = _bare(rows, np.arange(rows.height))
    asked = ["Bobbin lane swapped again", "Bobbin 7 lane swapped"]
    assert suggest(model, pl.Series(asked))["kind"].to_list() == [None, None]
    assert guess(other, asked).kind.tolist() == ["sensor-fault", "sensor-fault"]


def test_what_the_tables_read_or_know_to_have_two_readings_is_not_guessed(model):
    asked = pl.Series(["Mains fail", "System reset", "Mains fail, battery low", "Closed 4"])
    assert suggest(model, asked)["kind"].null_count() == 4


def test_nothing_asked_nothing_said(model):
    assert suggest(model, pl.Series([], dtype=pl.String)).is_empty()
    found = suggest(model, pl.Series(["", "4711", None]))
    assert found["kind"].null_count() == found.height == 2
