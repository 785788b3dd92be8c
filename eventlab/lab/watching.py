"""A folder that files are dropped into: each is taken once, when nobody writes to it any more."""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from eventlab.errors import InputError
from eventlab.lab.lab import Lab
from eventlab.lab.result import FileResult
from eventlab.schema import Role

_UNDER_WAY = (".part", ".partial", ".tmp", ".temp", ".crdownload", ".download", ".filepart", "~")
"""How programs name a file that they are still bringing (common practice)."""

_LINE_ENDS = (b"\n", b"\r", b"\n\x00", b"\r\x00")

Stamp = tuple[int, int]
"""Size [bytes] and time of the last change [ns]."""


class Stop(Protocol):
    """A wish to stop, as a `threading.Event` keeps it."""

    def is_set(self) -> bool:
        """Say whether it was told."""

    def wait(self, seconds: float, /) -> object:
        """Wait so long, or until it is told."""


@dataclass
class Watch:
    """What is in a folder, and what of it was taken.

    Polling finds changes on any file system, network folders too, which notices of the operating
    system do not. A file is taken when its size and time of change have stood still.

    Parameters
    ----------
    lab : Lab
        The open store.
    folder : Path
        The folder; all that is below it counts, but for hidden files and the store itself.
    settle_s : float
        So long a file must not have changed before it is taken [s].
    said : mapping
        ``site``, ``time_zone``, ``answers`` for all files, as ``Lab.take`` has them.

    Raises
    ------
    InputError
        Where there is no such folder.
    """

    lab: Lab
    folder: Path
    settle_s: float = 5.0
    said: Mapping[str, object] = field(default_factory=dict)
    _still: dict[Path, tuple[Stamp, float]] = field(default_factory=dict)
    _done: dict[Path, Stamp] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not self.folder.is_dir():
            raise InputError("there is no such folder", where=str(self.folder))

    def look(self) -> list[FileResult]:
        """Look once, and take what has become ready.

        Returns
        -------
        list of FileResult
            Of the files that were taken, or would not be; a file that waits for an answer, or
            cannot be read, comes up again only when it has changed.
        """
        now = time.monotonic()
        here = self._files()
        self._done = {path: stamp for path, stamp in self._done.items() if path in here}
        self._still = {
            path: self._still[path]
            if path in self._still and self._still[path][0] == stamp
            else (stamp, now)
            for path, stamp in here.items()
            if self._done.get(path) != stamp
        }
        ready = [path for path, (_, since) in self._still.items() if now - since >= self.settle_s]
        if not ready:
            return []
        results = self.lab.take(ready, **self.said)  # type: ignore[arg-type]  # by name
        for one in results:
            self._replace_cut(one)
        for path in ready:
            # A change while it was read makes it a new file: it is looked at again.
            self._done[path] = self._still.pop(path)[0]
        return results

    def run(self, *, every_s: float, stop: Stop, tell: Callable[[list[FileResult]], None]) -> None:
        """Look again and again until told to stop.

        Parameters
        ----------
        every_s : float
            Pause between two looks [s].
        stop : Stop
            Set from elsewhere; a file that is being taken is taken to its end.
        tell : callable
            Told the results of each look that had any.
        """
        while not stop.is_set():
            results = self.look()
            if results:
                tell(results)
            stop.wait(every_s)

    def _files(self) -> dict[Path, Stamp]:
        found = {}
        store = Path(str(self.lab.store.place.root)).resolve()
        for path in sorted(self.folder.rglob("*")):
            parts = path.relative_to(self.folder).parts
            if any(part.startswith((".", "~$")) for part in parts):
                continue
            if path.name.lower().endswith(_UNDER_WAY) or store in path.resolve().parents:
                continue
            try:
                told = path.stat()
            except OSError:
                continue  # taken away since the folder was listed
            if path.is_file() and told.st_size:
                found[path] = (told.st_size, told.st_mtime_ns)
        return found

    def _replace_cut(self, one: FileResult) -> None:
        """Take out an earlier export of which this one is the whole: it ended within a row."""
        if one.role is not Role.LOG or one.error or one.questions or one.already:
            return
        path = Path(one.path)
        if not path.is_file():
            return
        for export, _ in self.lab.store.takings():
            if export.name != path.name or export.sha256 == one.sha256:
                continue
            before = self.lab.store.original(export.sha256)
            if before.endswith(_LINE_ENDS):
                continue
            with path.open("rb") as file:
                begins_so = file.read(len(before)) == before
            if begins_so:
                self.lab.retake(export=export.sha256, drop=True)
