"""The fast way gives what the careful way gives, or leaves the file to it."""

import random

import pytest

from eventlab.intake import fast, read_bytes, reader, sheet
from tests.intake.test_sheet import account

HEAD = "Date,Zone,Event\n"


def rows(number, *, start=0):
    return [
        f"{i % 28 + 1:02d}/01/2025 10:{i % 60:02d}:00,{i:04d},{'Alarm' if i % 3 else ''}\n"
        for i in range(start, start + number)
    ]


@pytest.fixture(autouse=True)
def small_limits(monkeypatch):
    monkeypatch.setattr(fast, "SMALL", 1)
    monkeypatch.setattr(fast, "END", 400)


@pytest.fixture
def ways(monkeypatch):
    """Count which way was taken."""
    taken = []
    real = fast.read_large

    def watched(*args, **kwargs):
        out = real(*args, **kwargs)
        taken.append(out is not None)
        return out

    monkeypatch.setattr(sheet, "read_large", watched)
    return taken


def both(text, monkeypatch):
    quick = read_bytes(text.encode(), name="log.csv")
    with monkeypatch.context() as patch:
        patch.setattr(sheet, "read_large", lambda *_, **__: None)
        slow = read_bytes(text.encode(), name="log.csv")
    return quick, slow


def same(one, other):
    for name in (
        "lines", "rows", "other", "header", "header_line", "preamble", "footer", "quoted",
        "delimiter", "evidence",
    ):  # fmt: skip
        assert getattr(one, name) == getattr(other, name), name
    assert one.cells.equals(other.cells)
    assert one.broken.equals(other.broken)
    account(one)


MIDDLE = rows(500)
CLEAN = {
    "plain": HEAD + "".join(MIDDLE),
    "no final end": HEAD + "".join(MIDDLE).rstrip("\n"),
    "crlf": (HEAD + "".join(MIDDLE)).replace("\n", "\r\n"),
    "cr": (HEAD + "".join(MIDDLE)).replace("\n", "\r"),
    "no heading": "".join(MIDDLE),
    "around": "Tarn Museum\n\n" + HEAD + "".join(MIDDLE) + "\nTotal: 500\nEnd of report\n",
    "sep": "sep=,\n" + HEAD + "".join(MIDDLE),
    "one column": "Event\n" + "".join(f"{i}\n" for i in range(500)),
}


@pytest.mark.parametrize("name", CLEAN)
def test_a_clean_file_goes_the_fast_way(name, monkeypatch, ways):
    quick, slow = both(CLEAN[name], monkeypatch)
    assert ways[0], "the fast way"
    same(quick, slow)


ODD = {
    "heading again": HEAD,
    "blank": "\n",
    "blank cells": " , ,\n",
    "empty cells": ",,\n",
    "short": "01/01/2025 10:00:00,7\n",
    "long": "01/01/2025 10:00:00,7,Alarm,x\n",
    "long by nothing": "01/01/2025 10:00:00,7,Alarm,\n",
    "short and long": "01/01/2025 10:00:00,7\n01/01/2025 10:00:00,7,Alarm,\n",
    "quote": '01/01/2025 10:00:00,7,"Alarm, front"\n',
    "open quote": '01/01/2025 10:00:00,7,"Alarm\n',
    "over two lines": '01/01/2025 10:00:00,7,"Alarm\nfront"\n',
    "lone cr": "01/01/2025 10:00:00,7,Alarm\r01/01/2025 10:00:00,8,Alarm\n",
}


@pytest.mark.parametrize("name", ODD)
def test_one_odd_line_in_the_middle_is_never_missed(name, monkeypatch, ways):
    text = HEAD + "".join(MIDDLE[:250]) + ODD[name] + "".join(MIDDLE[250:])
    quick, slow = both(text, monkeypatch)
    assert ways[0] == (name == "lone cr")
    same(quick, slow)


def test_a_short_row_is_not_made_up_for_by_a_long_last_one(monkeypatch, ways):
    """The sums would be right: polars passes over this one cell too many."""
    text = HEAD + "".join(MIDDLE[:250]) + ODD["short"] + "".join(MIDDLE[250:])
    quick, slow = both(text.rstrip("\n") + ",", monkeypatch)
    assert not ways[0]
    same(quick, slow)
    assert quick.broken.height == 1


def test_random_odd_lines_anywhere_are_never_missed(monkeypatch):
    rng = random.Random(5)
    for _ in range(60):
        lines = [HEAD, *rows(120)]
        for _ in range(rng.randrange(4)):
            lines.insert(rng.randrange(len(lines)), rng.choice(list(ODD.values())))
        quick, slow = both("".join(lines), monkeypatch)
        same(quick, slow)


@pytest.mark.parametrize("lie", ["drop", "pad", "other text"])
def test_a_reader_that_lost_something_is_not_believed(lie, monkeypatch):
    """Whatever polars gives is added up against the text; a wrong sum goes line by line."""
    real = reader.pl.read_csv

    def wrong(*args, **kwargs):
        frame = real(*args, **kwargs)
        if lie == "drop":
            return frame.head(frame.height - 1)
        if lie == "pad":
            return frame.with_columns(c1=reader.pl.lit(None, reader.pl.String))
        return frame.with_columns(reader.pl.col("c2") + "x")

    honest = read_bytes((HEAD + "".join(MIDDLE)).encode(), name="log.csv")
    quoted = HEAD + "".join(line.replace(",0", ',"0').replace(",A", '","A') for line in MIDDLE)
    monkeypatch.setattr(reader.pl, "read_csv", wrong)
    same(read_bytes((HEAD + "".join(MIDDLE)).encode(), name="log.csv"), honest)
    account(read_bytes(quoted.encode(), name="log.csv"))
