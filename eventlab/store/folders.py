"""A folder of a store, on this machine or on S3-compatible object storage.

Only what the store needs of one: a file appears whole or not at all, two writers never make the
same new file, and what is listed can be read. Object storage is spoken to through ``obstore``,
which reads the same environment (``AWS_ENDPOINT_URL``, ``AWS_ACCESS_KEY_ID``, …) as the table
library.
"""

import os
import re
import uuid
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from tempfile import SpooledTemporaryFile
from typing import IO, TYPE_CHECKING, Protocol

from eventlab.errors import StoreError, UsageError

if TYPE_CHECKING:
    from obstore.store import S3Store

_SCHEME = "://"
_S3 = "s3://"
_IN_MEMORY = 64 << 20
_TRACE = " 0: "  # so the table library begins to tell where in itself it was
_MARKS = re.compile(r"\x1b\[[0-9;]*m|<[^>]*>|↳")
HALF = ".part"
"""Ending of a file that is being written."""


@dataclass(frozen=True, slots=True)
class File:
    """A file of a folder: its name below the folder, size [bytes] and last change [s]."""

    name: str
    size: int
    changed: float


class Folder(Protocol):
    """A folder, with all that lies below it; names are relative and divided by ``/``."""

    @property
    def uri(self) -> str:
        """Its place, as the table library takes it."""

    def files(self) -> list[File]:
        """List the files, also of folders below; none where there is no such folder."""

    def folders(self) -> list[str]:
        """List the names of the folders in it."""

    def holds(self, name: str) -> bool:
        """Tell whether there is such a file."""

    def read(self, name: str) -> IO[bytes]:
        """Open a file; FileNotFoundError where there is none."""

    def written(self, name: str) -> AbstractContextManager[IO[bytes]]:
        """Open a file that appears under its name only when it is whole and kept."""

    def create(self, name: str, data: bytes) -> bool:
        """Write a new file; False, and nothing done, where there is one of that name."""

    def remove(self, name: str) -> None:
        """Remove a file, if it is there."""


def at(location: str | Path) -> str:
    """Return the place of a store as one text.

    Parameters
    ----------
    location : str or Path
        A folder, or ``s3://bucket/prefix``.

    Raises
    ------
    UsageError
        Where it is neither.
    """
    text = str(location)
    if _SCHEME not in text:
        return str(Path(location).absolute())
    if not text.startswith(_S3) or not text.removeprefix(_S3).strip("/"):
        raise UsageError(
            f"{text!r} is no place for a store",
            do="Name a folder, or s3://BUCKET/FOLDER.",
        )
    return text.rstrip("/")


def folder(uri: str) -> Folder:
    """Return the folder at a place that ``at`` gave, or below one."""
    return _Remote(uri) if is_remote(uri) else _Local(Path(uri))


def is_remote(uri: str) -> bool:
    """Tell whether a place is not on a file system of this machine."""
    return _SCHEME in uri


class _Local:
    def __init__(self, path: Path) -> None:
        self._path = path

    @property
    def uri(self) -> str:
        return str(self._path)

    def files(self) -> list[File]:
        found = []
        for path in self._path.rglob("*") if self._path.is_dir() else ():
            with suppress(FileNotFoundError):  # another process has just removed it
                told = path.stat()
                if path.is_file():
                    name = path.relative_to(self._path).as_posix()
                    found.append(File(name, told.st_size, told.st_mtime))
        return found

    def folders(self) -> list[str]:
        if not self._path.is_dir():
            return []
        return sorted(path.name for path in self._path.iterdir() if path.is_dir())

    def holds(self, name: str) -> bool:
        return (self._path / name).exists()

    def read(self, name: str) -> IO[bytes]:
        return (self._path / name).open("rb")

    @contextmanager
    def written(self, name: str) -> Iterator[IO[bytes]]:
        path = self._path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_name(f"{path.name}.{uuid.uuid4().hex}{HALF}")
        try:
            with part.open("wb") as out:
                yield out
                out.flush()
                os.fsync(out.fileno())
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)

    def create(self, name: str, data: bytes) -> bool:
        path = self._path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            path.touch(exist_ok=False)
        except FileExistsError:
            return False
        with self.written(name) as out:
            out.write(data)
        return True

    def remove(self, name: str) -> None:
        (self._path / name).unlink(missing_ok=True)


class _Remote:
    def __init__(self, uri: str) -> None:
        self._uri = uri
        self._opened: S3Store | None = None

    @property
    def uri(self) -> str:
        return self._uri

    @property
    def _store(self) -> "S3Store":
        from obstore.store import S3Store

        if self._opened is None:
            bucket, _, prefix = self._uri.removeprefix(_S3).partition("/")
            with _refusals(self._uri):
                self._opened = S3Store(bucket, prefix=prefix or None)
        return self._opened

    def files(self) -> list[File]:
        import obstore

        with _refusals(self._uri):
            return [
                File(one["path"], one["size"], one["last_modified"].timestamp())
                for some in obstore.list(self._store)
                for one in some
            ]

    def folders(self) -> list[str]:
        import obstore

        with _refusals(self._uri):
            found = obstore.list_with_delimiter(self._store)["common_prefixes"]
        return sorted(name.rstrip("/") for name in found)

    def holds(self, name: str) -> bool:
        import obstore

        try:
            with _refusals(self._uri):
                obstore.head(self._store, name)
        except FileNotFoundError:
            return False
        return True

    def read(self, name: str) -> IO[bytes]:
        import obstore

        with _refusals(self._uri):
            return BytesIO(obstore.get(self._store, name).bytes())

    @contextmanager
    def written(self, name: str) -> Iterator[IO[bytes]]:
        import obstore

        # Sent only when it is whole; in one piece or in several it then appears at once.
        with SpooledTemporaryFile(_IN_MEMORY) as out:
            yield out
            out.seek(0)
            with _refusals(self._uri):
                obstore.put(self._store, name, out)

    def create(self, name: str, data: bytes) -> bool:
        import obstore
        from obstore.exceptions import AlreadyExistsError

        try:
            obstore.put(self._store, name, data, mode="create")
        except AlreadyExistsError:
            return False
        return True

    def remove(self, name: str) -> None:
        import obstore

        with suppress(FileNotFoundError), _refusals(self._uri):
            obstore.delete(self._store, name)


def unreachable(error: Exception, uri: str) -> StoreError:
    """Return the error for people where a store cannot be got at."""
    do = "See that the folder and what is in it may be read."
    if is_remote(uri):
        do = "See that it can be reached, and that AWS_ENDPOINT_URL and the keys are right."
    return StoreError(f"the store cannot be reached ({told(error)})", where=uri, do=do)


def told(error: BaseException) -> str:
    """Return what a library's error says in one line: no colours, no markup, not too long."""
    said = " ".join(_MARKS.sub(" ", str(error)).split())
    return said.partition(_TRACE)[0][:200]


@contextmanager
def _refusals(uri: str) -> Iterator[None]:
    from obstore.exceptions import BaseError

    try:
        yield
    except BaseError as error:
        raise unreachable(error, uri) from error
