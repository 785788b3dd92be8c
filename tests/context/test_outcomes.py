"""Words of recorded outcomes; usual words are common practice."""

import polars as pl
import pytest

from eventlab.context import PERSON, outcome_cause, outcome_words
from eventlab.schema import Cause


def causes(*texts):
    frame = pl.DataFrame({"text": texts}, schema={"text": pl.String})
    return frame.select(outcome_cause(pl.col("text"))).to_series().to_list()


def test_every_row_of_the_table_reads_its_example():
    table = outcome_words()
    assert set(table["cause"]) == {str(cause) for cause in Cause} | {PERSON}
    assert causes(*table["example"]) == table["cause"].to_list()


def test_our_own_words_are_known():
    assert causes(*map(str, Cause)) == [str(cause) for cause in Cause]


@pytest.mark.parametrize(
    ("text", "cause"),
    [
        ("Sun on detector", "environment"),
        ("SPIDER IN PIR", "environment"),
        ("late at the keypad", "person-entering"),
        ("exit error", "person-leaving"),
        ("User error.", PERSON),
        ("faulty contact, replaced", "detector"),
        ("power cut", "power"),
        ("engineer on site", "service"),
        ("burglary", "intrusion"),
        ("no cause found", "unexplained"),
    ],
)
def test_usual_words(text, cause):
    assert causes(text) == [cause]


@pytest.mark.parametrize(
    "text",
    ["xyz", "", None, "false alarm", "not an intruder", "no storm", "storm or burglary",
     "faulty contact or mouse", "without wind"],
)  # fmt: skip
def test_nothing_is_guessed(text):
    assert causes(text) == [None]
