"""Originals byte for byte beside the table, and what was noted about each.

For a file with hash ``H`` the folder holds ``H.zst`` (the bytes, compressed), ``H.json`` (name
and size, written when it was kept) and ``H.N.json``: the record of its N-th taking. Which record
is in force stands in the table alone, so a record without its commit means nothing. A record is
always written before the commit that puts it in force, and never changed afterwards.
"""

import hashlib
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

import orjson

from eventlab.errors import DamagedStore, StoreError
from eventlab.store.folders import HALF, Folder

_HASH = re.compile(r"[0-9a-f]{64}")
_RECORD = re.compile(r"([0-9a-f]{64})\.(\d+)\.json")
_PART = 1 << 20
# The lowest level: the export is kept on the way through intake, and text shrinks to a tenth.
_LEVEL = 1
_COPY = "Bring it back from a copy of the store."


@dataclass(frozen=True, slots=True)
class Kept:
    """An original as it was kept: its name and its size in bytes."""

    sha256: str
    name: str
    size: int


class Originals:
    """The folder of originals.

    Parameters
    ----------
    folder : Folder
        Made when the first original is kept.
    """

    def __init__(self, folder: Folder) -> None:
        self.folder = folder

    def keep(self, source: Path | bytes, *, sha256: str, name: str) -> None:
        """Keep the bytes; nothing happens where they are kept already.

        Parameters
        ----------
        source : Path or bytes
            The file or what is in it.
        sha256 : str
            Hash the bytes must have.
        name : str
            The file's name as given.

        Raises
        ------
        StoreError
            Where the bytes do not have the hash: the file changed while it was read.
        """
        packed = _name(sha256, "zst")
        if not self.folder.holds(packed):
            with self.folder.written(packed) as out:
                size = _pack(source, out, sha256, name)
        else:
            size = len(source) if isinstance(source, bytes) else source.stat().st_size
        note = _name(sha256, "json")
        if not self.folder.holds(note):
            said = {
                "name": name,
                "size": size,
                "kept_at": datetime.now(UTC).isoformat(timespec="seconds"),
            }
            with self.folder.written(note) as out:
                out.write(orjson.dumps(said, option=orjson.OPT_INDENT_2))

    def holds(self, sha256: str) -> bool:
        """Tell whether the bytes are kept."""
        return self.folder.holds(_name(sha256, "zst"))

    def read(self, sha256: str) -> bytes:
        """Return the bytes, checked against their hash.

        Raises
        ------
        DamagedStore
            Where they are missing or are not what they were.
        """
        import zstandard

        name = _name(sha256, "zst")
        try:
            with self.folder.read(name) as packed:
                data: bytes = zstandard.ZstdDecompressor().stream_reader(packed).read()
        except FileNotFoundError:
            raise DamagedStore(
                "the original is missing", where=self._where(name), do=_COPY
            ) from None
        except zstandard.ZstdError:
            data = b""
        if hashlib.sha256(data).hexdigest() != sha256:
            raise DamagedStore("the original is not what it was", where=self._where(name), do=_COPY)
        return data

    def kept(self, sha256: str) -> Kept:
        """Return what was noted when the original was kept; its hash where nothing was."""
        said = self._load(_name(sha256, "json")) or {}
        return Kept(sha256, str(said.get("name", sha256[:12])), int(said.get("size", 0)))

    def hashes(self) -> list[str]:
        """List the hashes of all originals kept, in order."""
        return sorted(
            name.removesuffix(".zst")
            for name in self._names()
            if name.endswith(".zst") and _HASH.fullmatch(name.removesuffix(".zst"))
        )

    def numbers(self) -> dict[str, list[int]]:
        """Return the numbers of the records of each hash, in order."""
        found: dict[str, list[int]] = {}
        for name in self._names():
            if match := _RECORD.fullmatch(name):
                found.setdefault(match[1], []).append(int(match[2]))
        return {sha256: sorted(numbers) for sha256, numbers in found.items()}

    def add_record(self, sha256: str, said: dict[str, Any], *, after: int) -> int:
        """Write a record under the next free number above ``after`` and return the number.

        Two writers never get the same number.
        """
        data = orjson.dumps(said)
        number = after + 1
        while not self.folder.create(_name(sha256, f"{number}.json"), data):
            number += 1
        return number

    def write_record(self, sha256: str, number: int, said: dict[str, Any]) -> None:
        """Write a record that is not in force yet."""
        with self.folder.written(_name(sha256, f"{number}.json")) as out:
            out.write(orjson.dumps(said))

    def record(self, sha256: str, number: int) -> dict[str, Any]:
        """Return a record.

        Raises
        ------
        DamagedStore
            Where it is missing or cannot be read.
        """
        name = _name(sha256, f"{number}.json")
        said = self._load(name)
        if said is None:
            raise DamagedStore(
                "the record of an export is missing or cannot be read",
                where=self._where(name),
                do=_COPY,
            )
        return said

    def drop_record(self, sha256: str, number: int) -> None:
        """Remove a record that never came into force, or has not been for long."""
        self.folder.remove(_name(sha256, f"{number}.json"))

    def remove(self, sha256: str) -> None:
        """Remove an original and all that was noted; the records last."""
        for end in ("zst", "json"):
            self.folder.remove(_name(sha256, end))
        for number in self.numbers().get(sha256, []):
            self.folder.remove(_name(sha256, f"{number}.json"))

    def forgotten(self, in_force: Callable[[str], int], *, older_than_s: float) -> list[str]:
        """List files that nobody needs: half written, and records that are not in force.

        Parameters
        ----------
        in_force : callable
            Number of the record in force of a hash.
        older_than_s : float
            Seconds that they must have been untouched: somebody may be writing them now, or
            reading with a table that was loaded before.
        """
        now = datetime.now(UTC).timestamp()
        old = {file.name for file in self.folder.files() if now - file.changed > older_than_s}
        records = ((name, _RECORD.fullmatch(name)) for name in old)
        stale = [name for name, it in records if it and int(it[2]) != abs(in_force(it[1]))]
        return [*stale, *(name for name in old if name.endswith(HALF))]

    def _names(self) -> list[str]:
        return [file.name for file in self.folder.files()]

    def _load(self, name: str) -> dict[str, Any] | None:
        try:
            with self.folder.read(name) as file:
                said = orjson.loads(file.read())
        except (FileNotFoundError, orjson.JSONDecodeError):
            return None
        return said if isinstance(said, dict) else None

    def _where(self, name: str) -> str:
        return f"{self.folder.uri}/{name}"


def _name(sha256: str, end: str) -> str:
    if not _HASH.fullmatch(sha256):
        raise StoreError(f"{sha256!r} is no hash of an export")
    return f"{sha256}.{end}"


def _pack(source: Path | bytes, out: IO[bytes], sha256: str, name: str) -> int:
    """Compress in parts; the hash is taken on the way."""
    import zstandard

    digest, size = hashlib.sha256(), 0
    with zstandard.ZstdCompressor(level=_LEVEL, write_checksum=True).stream_writer(
        out, closefd=False
    ) as packed:
        for part in _parts(source):
            digest.update(part)
            size += len(part)
            packed.write(part)
    if digest.hexdigest() != sha256:
        raise StoreError(
            "the file changed while it was read", where=name, do="Take it again when it is whole."
        )
    return size


def _parts(source: Path | bytes) -> Iterator[bytes | memoryview]:
    if isinstance(source, bytes):
        view = memoryview(source)
        for start in range(0, len(view), _PART):
            yield view[start : start + _PART]
        return
    with source.open("rb") as file:
        while part := file.read(_PART):
            yield part
