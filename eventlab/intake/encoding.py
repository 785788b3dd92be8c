"""Bytes to text: which encoding a file was written in, decided by its bytes alone."""

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass

from eventlab.errors import UnreadableFile

_SAMPLE = 1 << 16
_BLOCK = 1 << 22
_WIDE_NULS = 0.4  # at least this share of every second byte is NUL in UTF-16 of Latin text
_CONTROLS = 0.02  # text has fewer control characters than this; random bytes have about 0.1
_STRAY = 20  # so many lines that are no UTF-8 for each that is: the valid one is chance

# WHATWG windows-1252: the five bytes the code page leaves open stand for their control characters.
_CP1252 = "".join(
    chr(b) if b in (0x81, 0x8D, 0x8F, 0x90, 0x9D) else bytes([b]).decode("cp1252")
    for b in range(256)
)
_CONTROL = re.compile(rb"[\x01-\x08\x0e-\x19\x1c-\x1f\x7f]")
# What Western European text is made of beyond ASCII: Latin letters and signs, punctuation, €.
_LATIN = re.compile(r"[\x00-\x7f\u00a0-\u024f\u1e00-\u1eff\u2010-\u203a\u20ac\u2122]*")
_STRAY_BYTES = "eventlab-stray"
_NOT_TEXT = (
    (b"BZh91AY&SY", "a compressed file", "Unpack it first"),
    (b"\xfd7zXZ\x00", "a compressed file", "Unpack it first"),
    (b"\x28\xb5\x2f\xfd", "a compressed file", "Unpack it first"),
    (b"7z\xbc\xaf\x27\x1c", "an archive", "Unpack it first"),
    (b"Rar!\x1a\x07", "an archive", "Unpack it first"),
    (b"\xd0\xcf\x11\xe0", "an old office document", "Save it as CSV or text first"),
    (b"%PDF-", "a PDF", "Export the log as CSV or text"),
    (b"\x89PNG", "a picture", "Export the log as CSV or text"),
    (b"\xff\xd8\xff", "a picture", "Export the log as CSV or text"),
    (b"SQLite format 3\x00", "a database", "Export the log as CSV or text"),
    (b"PAR1", "a Parquet file", "Export the log as CSV or text"),
)


@dataclass(frozen=True, slots=True)
class Text:
    """The text of a file.

    Parameters
    ----------
    body : bytes
        The whole text in UTF-8, without a byte-order mark; line ends as they stood.
    encoding : str
        The encoding of the file: ``utf-8``, ``utf-8-sig``, ``utf-16-le``, ``utf-16-be``
        or ``cp1252``.
    evidence : tuple of str
        Why, in plain sentences.
    """

    body: bytes
    encoding: str
    evidence: tuple[str, ...]


def decode(data: bytes, *, name: str) -> Text:
    """Decode the bytes of a file.

    Parameters
    ----------
    data : bytes
        The file as it is.
    name : str
        Its name, for the message.

    Returns
    -------
    Text
        UTF-8 text; what could not be decoded is U+FFFD and said in the evidence.

    Raises
    ------
    UnreadableFile
        Where the file is empty or holds no text.
    """
    if not data:
        raise UnreadableFile("the file is empty (0 bytes)", where=name)
    for magic, what, do in _NOT_TEXT:
        if data.startswith(magic):
            raise UnreadableFile(f"this is {what}, not text", where=name, do=do)
    text = _decode(data)
    sample = text.body[:_SAMPLE]
    if len(_CONTROL.findall(sample)) > _CONTROLS * len(sample):
        raise UnreadableFile("these bytes are no text", where=name, do="Export it as CSV or text")
    return text


def _decode(data: bytes) -> Text:
    if data.startswith(codecs.BOM_UTF8):
        inner = _decode_bytes(data[len(codecs.BOM_UTF8) :])
        if inner.encoding == "utf-8":
            said = ("UTF-8, as its byte-order mark says.", *inner.evidence[1:])
            return Text(inner.body, "utf-8-sig", said)
        return inner
    for mark, wide in ((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")):
        if data.startswith(mark):
            return _decode_wide(data[2:], wide, "as its byte-order mark says")
    wide = _wide_without_mark(data)
    if wide:
        return _decode_wide(data, wide, "as every second byte is zero")
    return _decode_bytes(data)


def _wide_without_mark(data: bytes) -> str:
    sample = data[:_SAMPLE]
    pairs = len(sample) // 2
    if not pairs:
        return ""
    first, second = sample[0::2].count(0) / pairs, sample[1::2].count(0) / pairs
    if second >= _WIDE_NULS and first <= second / 10:
        return "utf-16-le"
    if first >= _WIDE_NULS and second <= first / 10:
        return "utf-16-be"
    return ""


def _decode_wide(data: bytes, encoding: str, why: str) -> Text:
    said = [f"{encoding.upper()}, {why}."]
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        text = data.decode(encoding, errors="replace")
        if len(data) % 2 and text[-2:-1] in {"\r", "\n"}:
            text = text[:-1]  # half a character, at which a line would begin
        said.append("Some bytes are no characters in it; they stand as U+FFFD.")
    return Text(text.encode("utf-8"), encoding, tuple(said))


def _decode_bytes(data: bytes) -> Text:
    """Decode one-byte text: UTF-8 where it is valid, else Windows-1252 line by line."""
    if data.isascii():
        return Text(data, "utf-8", ("Plain ASCII, read as UTF-8.",))
    if _is_utf8(data):
        return Text(data, "utf-8", ("Valid UTF-8.",))
    valid, stray, cut = _count_lines(data)
    if valid * _STRAY < stray or not valid:
        said = ["Not UTF-8, so read as Windows-1252."]
        if not valid:
            return Text(b"".join(_old(block) for block in _blocks(data)), "cp1252", tuple(said))
        parts = [_either(line) for block in _blocks(data) for line in _cut(block)]
        kept = sum(utf8 for _, utf8 in parts)
        if kept:
            said.append(f"Lines that are UTF-8 all the same, and read so: {kept}.")
        return Text(b"".join(line for line, _ in parts), "cp1252", tuple(said))
    said = ["UTF-8."]
    if stray > cut:
        said.append(f"Lines that are not UTF-8, read as Windows-1252: {stray - cut}.")
    if cut:
        said.append("The file ends within a character, which stands as U+FFFD.")
    body = b"".join(_line(line, data) for block in _blocks(data) for line in _cut(block))
    return Text(body, "utf-8", tuple(said))


def _is_utf8(data: bytes) -> bool:
    decoder = codecs.getincrementaldecoder("utf-8")()
    view = memoryview(data)
    try:
        for at in range(0, len(data), _BLOCK):
            decoder.decode(view[at : at + _BLOCK])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def _blocks(data: bytes) -> Iterator[bytes]:
    """Cut into blocks that end at a line feed where there is one."""
    at = 0
    while at < len(data):
        end = data.rfind(b"\n", at, at + _BLOCK) + 1 or data.find(b"\n", at) + 1 or len(data)
        yield data[at:end]
        at = end


def _count_lines(data: bytes) -> tuple[int, int, int]:
    """Count lines with high bytes: valid UTF-8, not valid, and not valid only by a cut end."""
    valid = stray = cut = 0
    for block in _blocks(data):
        for line in _cut(block):
            if line.isascii():
                continue
            try:
                line.decode("utf-8")
                valid, cut = valid + 1, 0
            except UnicodeDecodeError as error:
                stray, cut = stray + 1, int(_is_cut(error, line) and data.endswith(line))
                valid += cut and not line[: error.start].isascii()
    return valid, stray, cut


def _is_cut(error: UnicodeDecodeError, line: bytes) -> bool:
    return error.reason == "unexpected end of data" and error.end == len(line)


def _cut(block: bytes) -> list[bytes]:
    return block.splitlines(keepends=True)


def _line(line: bytes, data: bytes) -> bytes:
    if line.isascii():
        return line
    try:
        line.decode("utf-8")
    except UnicodeDecodeError as error:
        if _is_cut(error, line) and data.endswith(line):
            return line.decode("utf-8", errors="replace").encode("utf-8")
        return line.decode("utf-8", errors=_STRAY_BYTES).encode("utf-8")
    return line


def _either(line: bytes) -> tuple[bytes, bool]:
    """Decode a line of a file in Windows-1252; as UTF-8 where it says Latin text in it.

    ``Ã©`` stands in no text, and no other signs than these make a valid line by chance.
    """
    if line.isascii():
        return line, False
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError:
        return _old(line), False
    return (line, True) if _LATIN.fullmatch(text.rstrip("\r\n")) else (_old(line), False)


def _stray(error: UnicodeError) -> tuple[str, int]:
    """Read bytes that are no UTF-8 within a line of it as Windows-1252."""
    if not isinstance(error, UnicodeDecodeError):
        raise error
    bad = error.object[error.start : error.end]
    return codecs.charmap_decode(bad, "strict", _CP1252)[0], error.end


codecs.register_error(_STRAY_BYTES, _stray)


def _old(block: bytes) -> bytes:
    return codecs.charmap_decode(block, "strict", _CP1252)[0].encode("utf-8")
