"""Whatever the bytes: every physical line in one place, and raw text as it stood."""

from hypothesis import given, settings
from hypothesis import strategies as st

from eventlab.errors import UnreadableFile
from eventlab.intake import read_bytes
from eventlab.intake.cells import record, split
from eventlab.intake.lines import Lines
from eventlab.intake.scan import LITERAL, ODD, PLAIN, QUOTED, scan
from tests.intake.test_sheet import account, physical_lines

NASTY = st.text(alphabet='a1 ,;\t|"\n\r:.é\x00\ufeff', max_size=120)
MARKS = set('",;\t|\r\n')
CELL = st.one_of(
    st.sampled_from(["", "7", "Zone 3", "01/02/2025 10:00", '"', 'a"b', " ", "x,y", "a\nb", "é"]),
    st.text(alphabet='a1," \r\n', max_size=6),
)


@st.composite
def tables(draw):
    """Write a table as a careful or a careless program would, with lines between."""
    delimiter = draw(st.sampled_from(",;\t|"))
    width = draw(st.integers(1, 4))
    end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    careful = draw(st.booleans())
    out = []
    for _ in range(draw(st.integers(0, 12))):
        row = draw(st.lists(CELL, min_size=width, max_size=width))
        if careful:
            row = ['"' + c.replace('"', '""') + '"' if set(c) & MARKS else c for c in row]
        out.append(delimiter.join(row))
        if draw(st.integers(0, 5)) == 0:
            out.append(draw(st.sampled_from(["", "Total: 5", "Page 1", f"a{delimiter}", '"'])))
    return end.join(out) + draw(st.sampled_from(["", end]))


def check(data):
    try:
        sheet = read_bytes(data, name="any.csv")
    except UnreadableFile:
        return None
    account(sheet)
    return sheet


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=200))
def test_random_bytes(data):
    check(data)


@settings(max_examples=500, deadline=None)
@given(NASTY)
def test_random_text(text):
    sheet = check(text.encode())
    body = text.removeprefix("\ufeff")
    if sheet is not None and sheet.encoding.startswith("utf-8"):
        assert sheet.lines == physical_lines(body)


@settings(max_examples=400, deadline=None)
@given(tables(), st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]))
def test_random_tables(text, encoding):
    sheet = check(text.encode(encoding))
    if sheet is not None and encoding != "cp1252":
        assert sheet.lines == physical_lines(text)


PLACE = st.text(alphabet='aé" \n\r;:', max_size=8)
NOTE = st.text(alphabet='a", \t|', max_size=8)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.tuples(PLACE, NOTE, st.sampled_from(["", "7", "0012"])), min_size=2, max_size=30),
    st.sampled_from(["\n", "\r\n"]),
    st.booleans(),
)
def test_what_a_proper_program_wrote_comes_back_to_the_letter(rows, end, all_quoted):
    """RFC 4180 section 2: rules 5 to 7."""
    dated = [(f"2025-01-{i % 28 + 1:02d} 10:00:00", *row) for i, row in enumerate(rows)]
    out = [
        ",".join(
            '"' + c.replace('"', '""') + '"' if all_quoted or set(c) & MARKS else c for c in row
        )
        for row in [("Date", "Place", "Note", "Zone"), *dated]
    ]
    sheet = check((end.join(out) + end).encode())
    assert sheet is not None
    assert sheet.header == ("Date", "Place", "Note", "Zone")
    assert sheet.cells.drop("row").rows() == [tuple(c or None for c in row) for row in dated]


@settings(max_examples=500, deadline=None)
@given(NASTY, st.sampled_from(",;\t|"))
def test_the_scan_of_all_lines_agrees_with_the_reader_of_one(text, delimiter):
    lines = Lines(text.encode())
    found = scan(lines, delimiter)
    assert len(found.kind) == lines.count
    for i in range(lines.count):
        line = lines.text(i)
        kind = found.kind[i]
        if not line.strip(delimiter + "".join(map(chr, range(33)))):
            continue
        read = record(line, delimiter)
        assert read is not None or kind == ODD, (line, kind)
        if kind != ODD:
            assert found.width[i] == len(split(line, delimiter)), line
        assert (kind == PLAIN) == ('"' not in line)
        if kind in {PLAIN, LITERAL}:
            assert split(line, delimiter) == tuple(line.split(delimiter))
        assert kind in {PLAIN, LITERAL, QUOTED, ODD}


WORD = st.text(alphabet="abcZé7:.", min_size=1, max_size=6)
PHRASE = st.lists(WORD, max_size=3).map(" ".join)


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(PHRASE, PHRASE, WORD), min_size=2, max_size=20), st.booleans())
def test_a_ruled_listing_comes_back_to_the_letter(rows, padded):
    dated = [(f"{i % 28 + 1:02d}/01/2025", *row) for i, row in enumerate(rows)]
    heads = ("Date", "Place", "Note", "Zone")
    widths = [max(len(row[n]) for row in (heads, *dated)) for n in range(4)]
    lines = [
        " ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        for row in (heads, ["-" * width for width in widths], *dated)
    ]
    sheet = check("".join((line if padded else line.rstrip()) + "\n" for line in lines).encode())
    assert sheet is not None
    assert sheet.header == heads, sheet.evidence
    assert sheet.cells.drop("row").rows() == [tuple(c or None for c in row) for row in dated]


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(PHRASE, WORD), min_size=2, max_size=20), st.booleans())
def test_a_listing_of_keys_comes_back_to_the_letter(rows, blanks):
    text = "".join(
        f"Date: 2025-01-01 10:{i % 60:02d}\nPlace: {place}\nZone no.: {zone}\n" + "\n" * blanks
        for i, (place, zone) in enumerate(rows)
    )
    sheet = check(text.encode())
    assert sheet is not None
    assert sheet.header == ("Date", "Place", "Zone no."), sheet.evidence
    assert sheet.cells.drop("row").rows() == [
        (f"2025-01-01 10:{i % 60:02d}", place or None, zone) for i, (place, zone) in enumerate(rows)
    ]
    step = 3 + blanks
    assert sheet.cells["row"].to_list() == list(range(1, step * len(rows), step))
