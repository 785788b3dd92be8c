"""Files within files: compressed ones, folders in one file, workbooks of several sheets.

The export is what a person would see after unpacking: of a compressed file the content, so that
the same log plain and compressed is one export; of a workbook the file itself, as no text is in
it that could stand for it. Where a workbook has several sheets in use, each is an export of its
own: the name of the sheet on a first line, and the workbook behind it byte for byte.
"""

import gzip
import io
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO
from urllib.parse import quote, unquote

from eventlab.errors import InputError, UnreadableFile

LIMIT = 1 << 30
"""Bytes that one compressed file may unpack to; the screens accept no larger file either."""

MEMBERS = 10_000
"""Files that one archive may hold."""

RATIO = 300
"""Times that the content may be larger: a log of one line over and over reaches about 200."""

FREE = 1 << 26
"""Bytes of content below which the ratio does not matter."""

ZIP, GZIP = b"PK\x03\x04", b"\x1f\x8b"
_EMPTY_ZIP = b"PK\x05\x06"
_SHEET = b"eventlab: one sheet of a workbook: "
_PART = 1 << 20
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, NotImplementedError)
_SMALLER = "Unpack it first and take the folder"
_AGAIN = "Fetch or export it again"


@dataclass(frozen=True, slots=True)
class Piece:
    """One file to be read, by itself or within another.

    Parameters
    ----------
    path : Path
        The file on disk.
    inside : str
        Its name within that file; empty where it is the file itself.
    place : int or None
        Its place within an archive.
    sheet : str
        The one sheet of a workbook; empty where it is no workbook, or one with a single sheet.
    error : str
        Why it cannot be read; empty where nothing is known against it.
    packed : bool
        Whether the file is no text itself: compressed, or a workbook.
    """

    path: Path
    inside: str = ""
    place: int | None = None
    sheet: str = ""
    error: str = ""
    packed: bool = False

    @property
    def whole(self) -> bool:
        """Whether the export is a text, and the file on disk as it is."""
        return not (self.packed or self.sheet or self.place is not None)

    @property
    def name(self) -> str:
        """What to call it: ``archive.zip: TV01.csv``."""
        return ": ".join(part for part in (self.path.name, self.inside, self.sheet) if part)

    @property
    def shown(self) -> str:
        """The same with the folder, as it was named."""
        return ": ".join(part for part in (str(self.path), self.inside, self.sheet) if part)

    def bytes(self) -> bytes:
        """Give the bytes that are the export.

        Raises
        ------
        UnreadableFile
            Where they cannot be unpacked.
        OSError
            Where the file cannot be opened.
        """
        if self.place is None:
            data = content(self.path.read_bytes(), name=self.path.name)
        else:
            with self.path.open("rb") as file, _opened(file, self.path.name) as archive:
                data = _member(archive, archive.infolist()[self.place], self.name)
        return _SHEET + quote(self.sheet).encode() + b"\n" + data if self.sheet else data


def pieces(path: Path) -> list[Piece]:
    """List the files that one file holds; most hold themselves alone.

    Parameters
    ----------
    path : Path
        Any file.

    Returns
    -------
    list of Piece
        In the order in which they stand; members that cannot be read have their error.

    Raises
    ------
    UnreadableFile
        Where it is an archive that is damaged, encrypted, empty or too large.
    OSError
        Where it cannot be opened.
    """
    with path.open("rb") as file:
        start = file.read(len(ZIP))
        if start not in {ZIP, _EMPTY_ZIP}:
            return [Piece(path, packed=start.startswith(GZIP))]
        file.seek(0)
        with _opened(file, path.name) as archive:
            if _workbook(archive, path.name):
                return _sheets(Piece(path, packed=True), path.read_bytes())
            return list(_members(path, archive))


def content(data: bytes, *, name: str) -> bytes:
    """Give the content of a compressed file, or the bytes as they are.

    Parameters
    ----------
    data : bytes
        Any file.
    name : str
        Its name, for the message.

    Returns
    -------
    bytes
        Never compressed, but for a workbook.

    Raises
    ------
    UnreadableFile
        Where it is damaged, encrypted or too large, or holds several files or another archive.
    """
    if data.startswith(GZIP):
        inner = _gunzip(data, name)
        return _plain(inner, name)
    if not data.startswith((ZIP, _EMPTY_ZIP)):
        return data
    with _opened(io.BytesIO(data), name) as archive:
        if _workbook(archive, name):
            return data
        members = [info for _, info in _listed(archive, name)]
        if len(members) > 1:
            raise UnreadableFile(f"it holds {len(members)} files", where=name, do=_SMALLER)
        return _member(archive, members[0], name)


def sheet_of(data: bytes) -> tuple[bytes, str]:
    """Take the name of a sheet off a workbook; an empty name where none is before it."""
    if not data.startswith(_SHEET):
        return data, ""
    line, _, book = data.partition(b"\n")
    return book, unquote(line[len(_SHEET) :].decode(errors="replace"))


def is_workbook(data: bytes) -> bool:
    """Tell whether bytes are a workbook of sheets."""
    if not data.startswith(ZIP):
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _workbook(archive, "")
    except (*_BROKEN, UnreadableFile):
        return False


def _opened(file: IO[bytes], name: str) -> zipfile.ZipFile:
    try:
        archive = zipfile.ZipFile(file)
    except _BROKEN as error:
        raise UnreadableFile("the archive is damaged", where=name, do=_AGAIN) from error
    _check_size(archive, name)
    return archive


def _check_size(archive: zipfile.ZipFile, name: str) -> None:
    infos = archive.infolist()
    if len(infos) > MEMBERS:
        found = f"it holds {len(infos)} files, more than {MEMBERS}"
        raise UnreadableFile(found, where=name, do=_SMALLER)
    size, packed = sum(i.file_size for i in infos), sum(i.compress_size for i in infos)
    if size > LIMIT or (size > FREE and size > RATIO * packed):
        found = f"it unpacks to {size >> 20} MiB from {packed >> 10} KiB, which is too much"
        raise UnreadableFile(found, where=name, do=_SMALLER)


def _workbook(archive: zipfile.ZipFile, name: str) -> bool:
    """Tell a workbook from an archive; other documents that are archives inside are refused."""
    names = set(archive.namelist())
    if "[Content_Types].xml" in names and "xl/workbook.xml" in names:
        return True
    if "[Content_Types].xml" in names or {"mimetype", "META-INF/manifest.xml"} <= names:
        found = "this is a document, but no .xlsx workbook"
        raise UnreadableFile(found, where=name, do="Save it as .xlsx, CSV or text")
    return False


def _listed(archive: zipfile.ZipFile, name: str) -> list[tuple[int, zipfile.ZipInfo]]:
    """List the members that are files a person put there."""
    found = []
    for place, info in enumerate(archive.infolist()):
        parts = info.filename.replace("\\", "/").split("/")
        hidden = any(part.startswith(".") or part == "__MACOSX" for part in parts)
        if not info.is_dir() and not hidden:
            found.append((place, info))
    if not found:
        raise UnreadableFile("the archive is empty", where=name, do=_AGAIN)
    return found


def _members(path: Path, archive: zipfile.ZipFile) -> Iterator[Piece]:
    for place, info in _listed(archive, path.name):
        called = "".join(c if c.isprintable() else "\ufffd" for c in info.filename)
        piece = Piece(path, called, place)
        try:
            data = _member(archive, info, piece.name)
            if data.startswith(ZIP):
                yield from _sheets(piece, data)
            else:
                yield piece
        except InputError as error:
            yield Piece(path, called, place, error=str(error))


def _sheets(piece: Piece, data: bytes) -> list[Piece]:
    from eventlab.intake.workbook import used_sheets

    used = used_sheets(data, name=piece.name)
    if len(used) < 2:
        return [piece]
    return [replace(piece, sheet=sheet) for sheet in used]


def _member(archive: zipfile.ZipFile, info: zipfile.ZipInfo, name: str) -> bytes:
    if info.flag_bits & 1:
        raise UnreadableFile(
            "it is locked with a password", where=name, do="Unpack it with the password first"
        )
    try:
        with archive.open(info) as file:
            data = _limited(file, info.compress_size, name)
    except NotImplementedError as error:
        found = "it is compressed in a way that is not known here"
        raise UnreadableFile(found, where=name, do=_SMALLER) from error
    except (*_BROKEN, RuntimeError) as error:
        raise UnreadableFile("the archive is damaged", where=name, do=_AGAIN) from error
    return _plain(data, name)


def _gunzip(data: bytes, name: str) -> bytes:
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(data)) as file:
            return _limited(file, len(data), name)
    except EOFError as error:
        found = "the compressed file ends too early: a part of it is missing"
        raise UnreadableFile(found, where=name, do=_AGAIN) from error
    except _BROKEN as error:
        raise UnreadableFile("the compressed file is damaged", where=name, do=_AGAIN) from error


def _limited(file: IO[bytes] | gzip.GzipFile, packed: int, name: str) -> bytes:
    """Read no more than the limits allow, whatever the archive says of itself."""
    out = io.BytesIO()
    while part := file.read(_PART):
        size = out.write(part) and out.tell()
        if size > LIMIT or (size > FREE and size > RATIO * packed):
            found = f"it unpacks to more than {size >> 20} MiB from {packed >> 10} KiB"
            raise UnreadableFile(f"{found}, which is too much", where=name, do=_SMALLER)
    return out.getvalue()


def _plain(data: bytes, name: str) -> bytes:
    """Refuse an archive within an archive."""
    packed = data.startswith((GZIP, _EMPTY_ZIP)) or (data.startswith(ZIP) and not is_workbook(data))
    if packed or data[257:262] == b"ustar":
        raise UnreadableFile("it is an archive within a compressed file", where=name, do=_SMALLER)
    return data
