"""What was made of texts is kept: it must be as if each had been read anew."""

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from eventlab.meaning import remembered
from eventlab.meaning.remembered import Remembered


def letters(texts):
    """Give a row for each letter of a text: several for some, none for an empty one."""
    rows = [(text, letter) for text in texts for letter in text]
    return pl.DataFrame(rows, schema={"text": pl.String, "letter": pl.String}, orient="row")


def series(texts):
    return pl.Series("text", texts, dtype=pl.String)


@given(st.lists(st.lists(st.text("abé ", max_size=3), max_size=6, unique=True), max_size=8))
def test_what_is_kept_is_what_is_read(asked):
    read = Remembered(letters)
    for texts in asked:
        assert read(series(texts)).equals(letters(texts))


def test_no_text_is_read_twice():
    seen = []

    def read(texts):
        seen.extend(texts)
        return letters(texts)

    kept = Remembered(read)
    for texts in (["ab", "c"], ["c", "d"], ["d", "c", "ab"]):
        kept(series(texts))
    assert seen == ["ab", "c", "d"]


def test_many_texts_and_long_ones_are_not_kept(monkeypatch):
    monkeypatch.setattr(remembered, "_KEPT", 10)
    kept = Remembered(letters)
    for number in range(50):
        texts = [f"{number}a", f"{number}b"]
        assert kept(series(texts)).equals(letters(texts))
        assert len(kept._rows) <= 10
    long = ["x" * 2_000]
    assert kept(series(long)).equals(letters(long))
    assert long[0] not in kept._rows
