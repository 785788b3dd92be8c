"""Files of known dialect are read as they are labelled, whole and cut."""

import hashlib
import random
import re

import polars as pl
import pytest

from eventlab.errors import UnreadableFile, UsageError
from eventlab.intake import Line, open_sheet, read_bytes
from tests.intake.corpus import SAMPLES, cells, table

END = re.compile(r"\r\n|\r|\n")


def physical_lines(text):
    """Count by the rule itself: CRLF, LF or CR ends a line, the last may end with none."""
    parts = END.split(text)
    return len(parts) - (parts[-1] == "")


def account(sheet):
    """Check that every line is in one place only, and raw text stands where it says."""
    assert sheet.lines == sheet.rows + sheet.other
    rows = pl.concat([sheet.cells["row"], sheet.broken["row"]])
    assert rows.n_unique() == len(rows)
    assert sheet.cells["row"].is_sorted()
    assert sheet.broken["row"].is_sorted()
    raw = sheet.raw(rows)
    assert raw["row"].to_list() == rows.to_list()
    taken = [n for row, text in raw.rows() for n in range(row, row + 1 + len(END.findall(text)))]
    around = [line.number for line in (*sheet.preamble, *sheet.footer)]
    head = [] if sheet.header_line is None else [sheet.header_line]
    every = [*taken, *around, *head]
    assert len(set(every)) == len(every), "no line is in two places"
    assert not every or 1 <= min(every) <= max(every) <= sheet.lines
    assert sheet.other >= len(taken) - len(rows) + len(around) + len(head)
    assert sheet.broken["raw"].to_list() == sheet.raw(sheet.broken["row"])["raw"].to_list()
    assert sheet.evidence


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda s: s.name)
def test_a_labelled_file_is_read_as_labelled(sample):
    sheet = read_bytes(sample.data, name="log.csv")
    account(sheet)
    told = "\n".join(sheet.evidence)
    assert sheet.delimiter == sample.delimiter, told
    assert sheet.encoding == sample.encoding, told
    assert sheet.header == sample.header, told
    assert sheet.header_line == sample.header_line, told
    assert tuple(sheet.cells.drop("row").rows()) == sample.rows, told
    if sample.numbers is not None:
        assert tuple(sheet.cells["row"]) == sample.numbers
    assert tuple(sheet.broken["raw"]) == sample.broken, told
    assert tuple(line.text.strip("\f") for line in sheet.preamble) == sample.preamble, told
    assert tuple(line.text for line in sheet.footer) == sample.footer, told
    assert sheet.other == sample.other, told
    assert sheet.quoted == sample.quoted
    assert sample.says in told


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda s: s.name)
def test_a_cut_file_is_accounted_for_and_its_whole_rows_are_read_as_before(sample):
    rng = random.Random(sample.name)
    whole = read_bytes(sample.data, name="log.csv")
    enough = len(sample.data) * 3 // 4
    for cut in [rng.randrange(1, len(sample.data)) for _ in range(12)]:
        try:
            part = read_bytes(sample.data[:cut], name="log.csv")
        except UnreadableFile:
            assert not sample.data[:cut].strip(b"\r\n\t\f ,;\xef\xbb\xbf\xff\xfe\x00"), cut
            continue
        account(part)
        if cut < enough or whole.cells.height < 5 or part.delimiter != whole.delimiter:
            continue
        complete = whole.cells.filter(pl.col("row") < part.lines)
        spans = whole.raw(complete["row"])["raw"].str.count_matches(r"\r\n|\r|\n")
        complete = complete.filter(complete["row"] + spans.cast(pl.Int64) < part.lines)
        if part.cells.width == whole.cells.width:
            read = part.cells.join(complete, on="row", how="semi")
            assert read.equals(complete), (cut, part.evidence)


def test_the_file_is_named_and_hashed_as_it_is(tmp_path):
    path = tmp_path / "some log.csv"
    path.write_bytes(b"\xef\xbb\xbf" + table().encode())
    sheet = open_sheet(path)
    assert sheet.name == "some log.csv"
    assert sheet.size == path.stat().st_size
    assert sheet.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert open_sheet(str(path), name="given.csv").name == "given.csv"


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf", "blank lines"),
        (b"\n\r\n  \n", "blank lines"),
        (b"PK\x03\x04rest", "archive is damaged"),
        (b"\x1f\x8brest", "ends too early"),
        (b"\x1f\x8bno compression method", "damaged"),
        (b"7z\xbc\xaf\x27\x1crest", "Unpack"),
        (b"a,b;c,d;e\n" * 4, "divided by comma .* or by semicolon .*nothing decides.*sep="),
        (b"%PDF-1.7", "PDF"),
        (bytes(range(256)) * 40, "no text"),
    ],
)
def test_what_is_no_table_is_told_with_what_to_do(data, said):
    with pytest.raises(UnreadableFile, match=said) as caught:
        read_bytes(data, name="odd.bin")
    assert caught.value.where == "odd.bin"


def test_a_file_that_cannot_be_opened_is_told(tmp_path):
    with pytest.raises(UnreadableFile, match=r"gone\.csv: No such file"):
        open_sheet(tmp_path / "gone.csv")
    with pytest.raises(UnreadableFile):
        open_sheet(tmp_path)


def test_raw_text_is_exactly_what_stood_there():
    data = b'Date,Text\r\n01/02/2025,"a\r\nb\nc"\r\n02/02/2025, d \r03/02/2025,e\r'
    sheet = read_bytes(data, name="log.csv")
    assert sheet.raw([6, 2]).rows() == [(6, "03/02/2025,e"), (2, '01/02/2025,"a\r\nb\nc"')]
    assert sheet.raw(sheet.cells["row"])["raw"].to_list() == [
        '01/02/2025,"a\r\nb\nc"',
        "02/02/2025, d ",
        "03/02/2025,e",
    ]
    assert sheet.raw([]).schema == {"row": pl.Int64, "raw": pl.String}
    with pytest.raises(UsageError):
        sheet.raw([0])
    with pytest.raises(UsageError):
        sheet.raw([7])


def test_lines_around_the_table_keep_their_numbers():
    data = ("Tarn Museum\n\n" + table() + "Total: 6\n").encode()
    sheet = read_bytes(data, name="log.csv")
    assert sheet.preamble == (Line(1, "Tarn Museum"),)
    assert sheet.footer == (Line(10, "Total: 6"),)


def test_the_frames_have_the_promised_shape():
    sheet = read_bytes(table().encode(), name="log.csv")
    assert sheet.cells.schema == {"row": pl.Int64, **{f"c{i}": pl.String for i in range(4)}}
    assert sheet.broken.schema == {"row": pl.Int64, "raw": pl.String, "problem": pl.String}
    empty = read_bytes(b"Date,Zone,Event\r\n", name="log.csv")
    assert empty.cells.schema == {"row": pl.Int64, **{f"c{i}": pl.String for i in range(3)}}
    assert empty.rows == 0


def test_a_broken_row_says_why():
    data = (table() + '05/02/2025 09:00:00,"x\n' + table(head=None) + "05/02/2025 09").encode()
    sheet = read_bytes(data, name="log.csv")
    assert sheet.broken["problem"].to_list() == [
        "2 cells where the table has 4; a quotation mark is not closed",
        "1 cell where the table has 4; the file ends here",
    ]


def test_the_evidence_is_in_plain_sentences():
    sheet = read_bytes(table(";").encode("cp1252"), name="log.csv")
    assert sheet.evidence == (
        "Not UTF-8, so read as Windows-1252.",
        "Lines end with LF.",
        (
            "Cells are divided by semicolon (7 of 7 sampled lines have 4 cells); "
            "no other character fits."
        ),
        "Line 1 is the heading: it is unlike the rows below it.",
    )


def test_a_large_file_with_irregular_lines_keeps_its_numbers():
    """Row numbers stay exact where pages, blanks and broken rows stand between many rows."""
    rng = random.Random(7)
    lines, good, broken = ["Date,Zone,Event"], [], []
    for i in range(20_000):
        chance = rng.random()
        if chance < 0.002:
            lines.append("Date,Zone,Event")
        elif chance < 0.004:
            lines.append("")
        lines.append(f"2025-01-{i % 28 + 1:02d} 10:{i % 60:02d}:00,{i},Alarm")
        if chance > 0.998:
            lines[-1] += ",extra"
            broken.append(len(lines))
        else:
            good.append((len(lines), str(i)))
    sheet = read_bytes("\n".join(lines).encode(), name="log.csv")
    account(sheet)
    assert sheet.cells.select("row", "c1").rows() == good
    assert sheet.broken["row"].to_list() == broken


def test_headings_survive_a_file_of_two_glued_exports():
    data = (table() + table()).encode()
    sheet = read_bytes(data, name="log.csv")
    assert tuple(sheet.cells.drop("row").rows()) == cells() * 2
    assert sheet.other == 2
