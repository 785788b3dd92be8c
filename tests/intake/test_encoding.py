"""Bytes become text by the rules of UTF-8, UTF-16 and the WHATWG table of windows-1252."""

import pytest

from eventlab.intake.encoding import decode


@pytest.mark.parametrize("end", ["\n", "\r"])
def test_each_line_of_a_mixed_file_is_read_its_own_way(end):
    data = "Prüfung".encode() + end.encode() + "Prüfung".encode("cp1252") + b"\n"
    text = decode(data, name="x")
    assert text.body.decode() == f"Prüfung{end}Prüfung\n"
    assert text.encoding == "utf-8"


def test_a_cut_last_character_does_not_change_the_encoding():
    text = decode("Prüfung, geprüf, ü".encode()[:-1], name="x")
    assert text.encoding == "utf-8"
    assert text.body.decode() == "Prüfung, geprüf, \ufffd"
    assert "ends within a character" in text.evidence[-1]


def test_every_byte_of_windows_1252():
    """The WHATWG encoding standard: the five open bytes stand for the same code points."""
    data = bytes(range(0x80, 0x100))
    body = decode(b"line one\nline " + data + b"\n", name="x").body.decode()[14:-1]
    assert len(body) == 128
    assert [body[b - 0x80] for b in (0x81, 0x8D, 0x8F, 0x90, 0x9D)] == list("\x81\x8d\x8f\x90\x9d")
    assert body[0] == "€"
    assert body[0x7F] == "ÿ"


def test_long_text_is_decoded_in_blocks():
    line = "Prüfung;".encode("cp1252") * 100 + b"\n"
    text = decode(line * 12_000, name="x")
    assert text.encoding == "cp1252"
    assert text.body == line.decode("cp1252").encode() * 12_000
    valid = "Prüfung\n".encode() * 1_200_000
    assert decode(valid, name="x").body == valid


def test_broken_utf_16_is_said():
    text = decode(b"\xff\xfe" + "ab".encode("utf-16-le") + b"\x00\xd8c\x00" + b"x", name="x")
    assert text.encoding == "utf-16-le"
    assert text.body.decode().startswith("ab\ufffd")
    assert "U+FFFD" in text.evidence[-1]
