"""What the polars CSV reader does, as far as the intake leans on it or keeps away from it.

A change of these with a new polars asks for another look at ``eventlab/intake/reader.py``.
"""

from itertools import accumulate

import polars as pl
import pytest
from polars.exceptions import ComputeError, PolarsError

SCHEMA = {"c0": pl.String, "c1": pl.String, "c2": pl.String}


def read(body, *, quote=None, **more):
    return pl.read_csv(body, has_header=False, schema=SCHEMA, quote_char=quote, **more).rows()


@pytest.mark.parametrize("extra", ["9", ""])
@pytest.mark.parametrize("at", [0, 1, 70_000, 199_999])
def test_a_cell_too_many_raises_wherever_it_stands(extra, at):
    """The proof of the fast way rests on this, also when threads share the file."""
    lines = ["a,b,c"] * 200_000
    lines[at] += "," + extra
    with pytest.raises(PolarsError):
        read("\n".join(lines).encode() + b"\n")


def test_a_cell_too_many_raises_at_the_borders_of_the_pieces_that_threads_share():
    lines = ["abcdef,b,cdefghi"] * 600_000
    body = "\n".join(lines).encode() + b"\n"
    frame = pl.read_csv(body, has_header=False, schema=SCHEMA, quote_char=None)
    borders = list(accumulate(len(chunk) for chunk in frame["c0"].get_chunks()))[:-1]
    assert borders, "large enough to be shared"
    size = len(lines[0]) + 1
    for border in borders[:6]:
        for line in (border - 1, border):
            at = (line + 1) * size - 1
            with pytest.raises(PolarsError):
                read(body[:at] + b"," + body[at:])


def test_an_empty_cell_too_many_in_an_unended_last_line_is_dropped_so_we_look_at_the_end():
    assert read(b"a,b,c\nd,e,f,") == [("a", "b", "c"), ("d", "e", "f")]
    with pytest.raises(PolarsError):
        read(b"a,b,c\nd,e,f,\n")


def test_a_cell_too_many_raises_among_quotes():
    with pytest.raises(ComputeError):
        read(b'"a","b","c"\n"a","b","c","d"\n', quote='"')


def test_cells_too_many_are_dropped_in_silence_if_asked_so_we_never_ask():
    assert read(b"a,b,c\nd,e,f,g\n", truncate_ragged_lines=True) == [
        ("a", "b", "c"),
        ("d", "e", "f"),
    ]


def test_cells_too_few_are_padded_in_silence_so_delimiters_are_counted():
    assert read(b"a,b,c\nTotal\n") == [("a", "b", "c"), ("Total", None, None)]


def test_zeros_stay_as_text_and_go_if_types_are_inferred():
    assert pl.read_csv(b"a\n0012\n", infer_schema=False).rows() == [("0012",)]
    assert pl.read_csv(b"a\n0012\n").rows() == [(12,)]


def test_lone_carriage_returns_end_no_line_so_they_become_line_feeds_first():
    frame = pl.read_csv(b"a,b\r1,2\r3,4\r", infer_schema=False)
    assert frame.height == 0


def test_crlf_and_lf_may_be_mixed():
    assert read(b"a,b,c\r\nd,e,f\ng,h,\r\n") == [("a", "b", "c"), ("d", "e", "f"), ("g", "h", None)]
    assert read(b'"a",b,"c"\r\nd,e,"f"\n', quote='"') == [("a", "b", "c"), ("d", "e", "f")]


def test_a_blank_line_is_a_row_of_nulls():
    assert read(b"a,b,c\n\nd,e,f\n") == [("a", "b", "c"), (None, None, None), ("d", "e", "f")]


def test_quoted_nothing_is_an_empty_text_and_bare_nothing_is_null():
    assert read(b'"",b,\n', quote='"') == [("", "b", None)]


def test_doubled_quotes_and_line_ends_within_cells():
    assert read(b'a,"x ""y""","m\nn"\n', quote='"') == [("a", 'x "y"', "m\nn")]


def test_a_stray_quote_spoils_the_file_unless_quoting_is_off():
    body = b'a,5" x,c\nd,e,f\n'
    with pytest.raises(PolarsError):
        read(body, quote='"')
    assert read(body) == [("a", '5" x', "c"), ("d", "e", "f")]


def test_headings_twice_are_renamed_so_columns_are_named_by_position():
    assert pl.read_csv(b"a,a\n1,2\n").columns == ["a", "a_duplicated_0"]


def test_text_that_is_no_utf_8_is_refused():
    for body in ("a,b,é\n".encode("cp1252"), "a,b,c\n".encode("utf-16")):
        with pytest.raises(PolarsError):
            read(body)


def test_spaces_and_zero_bytes_are_kept():
    assert read(b" a ,b\x00, \n") == [(" a ", "b\x00", " ")]


def test_lines_can_be_skipped_unparsed():
    assert read(b"Tarn Museum\n\na,b,c\n", skip_lines=2) == [("a", "b", "c")]
