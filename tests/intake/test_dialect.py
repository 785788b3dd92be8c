"""The delimiter is chosen from a fixed list, by ranked evidence."""

import pytest

from eventlab.intake.dialect import choose, declared


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("sep=;", ";"),
        ("SEP=,\r", ","),
        ('"sep=|"', "|"),
        ("sep=\t", "\t"),
        ("sep=x", None),
        ("sep= ", None),
        ('sep="', None),
        ("sep=§", None),
        ("separator=;", None),
        ("Date;Zone", None),
    ],
)
def test_a_declared_delimiter(line, told):
    assert declared(line) == told


def test_the_runners_up_are_told():
    lines = [f"0{i};Door, front;Alarm" for i in range(9)]
    dialect = choose([lines])
    assert dialect.delimiter == ";"
    assert [g.delimiter for g in dialect.ranked] == [";", ","]
    assert dialect.ranked[0].value > dialect.ranked[1].value
    assert "next best comma (9 of 9 sampled lines have 2 cells)" in dialect.evidence


@pytest.mark.parametrize(
    "lines",
    [
        [f"Zone {i}: alarm at 10:0{i}:00" for i in range(8)],
        ["Hello, world"],
        [f"The door {i} was open, so the guard came" * (i % 3 > 0) + f"Line {i}" for i in range(9)],
        [f"name={i}" for i in range(8)],
    ],
)
def test_letters_spaces_and_colons_never_divide(lines):
    assert choose([lines]).delimiter is None


def test_delimiters_within_quotes_are_not_counted():
    lines = [f'0{i},"a;b;c;{i}","d, e"' for i in range(9)]
    dialect = choose([lines])
    assert (dialect.delimiter, dialect.width) == (",", 3)


def test_a_long_preamble_does_not_hide_a_short_table():
    lines = [*(f"Remark {i}, for the reader" for i in range(6)), "a;b;c", *["1;2;3"] * 4]
    assert choose([lines]).delimiter == ";"
