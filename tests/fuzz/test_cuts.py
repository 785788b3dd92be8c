"""A file cut anywhere: what was before the cut is read as ever, the row cut is told or the same."""

import random
import re

import polars as pl
import pytest

from tests.fuzz.reading import SAMPLES, TOLD, read_rows, read_sheet, read_whole

FILES = sorted(path for path in SAMPLES.rglob("*") if path.is_file())
END = re.compile(r"\r\n|\r|\n")


def last_two(data, sheet):
    """Give the offset at which the last two rows begin."""
    wide = sheet.encoding.startswith("utf-16")
    feed = "\n".encode("utf-16-le" if wide else "ascii")
    at = len(data)
    for _ in range(2 + sheet.lines - int(sheet.cells["row"][-1])):
        at = data.rfind(feed, 0, at - len(feed))
    return at + len(feed)


def check(whole, told, data, cut, name, *, sheet_only):
    """Compare the file cut at a byte with the whole one."""
    sheet, reading = read_whole(data[:cut], name, sheet_only=sheet_only)
    if sheet is None:
        assert not data[:cut].strip(b"\xff\xfe\xef\xbb\xbf\x00\r\n\t ")
        return
    finished = sheet._text.finished
    spans = whole.raw(whole.cells["row"])["raw"].str.count_matches(END.pattern).cast(pl.Int64)
    ends = whole.cells["row"] + spans
    before = whole.cells.filter(ends < sheet.lines + int(finished))
    begun = whole.cells.filter(
        (whole.cells["row"] <= sheet.lines) & (ends >= sheet.lines + finished)
    )
    heading = whole.header_line is not None and whole.header_line >= sheet.lines - (not finished)
    if heading:
        return  # nothing but the heading, or less, is there
    if before.height:
        assert sheet.header == whole.header
    same = sheet.cells.join(before, on="row", how="semi")
    assert same.equals(before), (cut, sheet.evidence)
    for row in begun["row"]:
        now = sheet.cells.filter(pl.col("row") == row)
        if now.height:
            assert now.equals(begun.filter(pl.col("row") == row)), (cut, now.rows())
        else:
            assert row in sheet.broken["row"], (cut, sheet.evidence, sheet.footer)
    if reading is None or not hasattr(reading, "events") or reading.questions:
        return
    rows = {*before["row"], *same["row"]}
    columns = [name for name in TOLD if name in told.columns]
    here = reading.events.filter(pl.col("row").is_in(rows)).select(columns)
    there = told.filter(pl.col("row").is_in(rows)).select(columns)
    assert here.equals(there), cut


def small(data):
    """Give the first and the last lines of a file."""
    wide = "utf-16-le" if data.startswith(b"\xff\xfe") else "latin-1"
    lines = data.decode(wide).splitlines(keepends=True)
    return "".join([*lines[:40], *lines[-4:]]).encode(wide) if len(lines) > 44 else data


def run(data, name, *, every, anywhere, on):
    """Cut at each n-th byte of the last two rows and at random bytes; each ``on``-th to events."""
    whole = read_sheet(data, name)
    told = getattr(read_rows(whole), "events", None)
    rng = random.Random(name)
    places = list(range(last_two(data, whole), len(data)))[::every]
    places += [rng.randrange(1, len(data)) for _ in range(anywhere)]
    for n, cut in enumerate(places):
        check(whole, told, data, cut, name, sheet_only=n % on > 0)


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_a_sample_cut_here_and_there(path):
    run(small(path.read_bytes()), path.name, every=3, anywhere=15, on=40)


@pytest.mark.slow
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("path", FILES, ids=lambda p: p.name)
def test_a_sample_cut_at_every_byte_of_its_end_and_anywhere(path):
    run(path.read_bytes(), path.name, every=1, anywhere=200, on=10)
