"""What goes into the store and what it tells back; plain values, no handles."""

from collections.abc import Mapping
from dataclasses import dataclass, field

DOUBLED = "doubled"
"""Answer of an export: ``yes`` where each of its rows stands there twice and counts once."""


@dataclass(frozen=True, slots=True)
class Export:
    """One exported file as it is taken: the bytes by their hash, and how they were read.

    Parameters
    ----------
    sha256 : str
        Hash of the bytes as they are, 64 hexadecimal digits.
    name : str
        The file's name as given, no folder.
    answers : mapping of str to str
        The answers that settled what the file leaves open.
    site, time_zone : str, optional
        The site and the time zone the file was read with, where given for the whole file.
    reading : str
        Version of the reader; what follows a ``+`` is this file's own (its answers).
    rows, lines : int
        Rows of its table, and lines in the file.
    notes : mapping of str to str
        What else was noted about its reading; no part of what makes two takings the same.
    """

    sha256: str
    name: str
    answers: Mapping[str, str] = field(default_factory=dict)
    site: str | None = None
    time_zone: str | None = None
    reading: str = ""
    rows: int = 0
    lines: int = 0
    notes: Mapping[str, str] = field(default_factory=dict)

    def same_question(self, other: "Export") -> bool:
        """Tell whether the other export is the same bytes read with the same answers."""
        return (
            self.sha256 == other.sha256
            and dict(self.answers) == dict(other.answers)
            and self.site == other.site
            and self.time_zone == other.time_zone
        )


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one export; ``rows == read + repeated + unread``.

    Parameters
    ----------
    rows : int
        Rows of the file's table.
    read, unread : int
        Rows with an event that is new in the store; rows newly stored as unread.
    events : int
        Events newly stored, unread rows not counted.
    repeated : int
        Rows whose events were all stored already, unread ones too.
    doubtful : int
        Rows newly read with an event whose time is doubtful.
    seam : int
        Rows in a step of the clock that is the last of one export and the first of another;
        there the count stays open and the larger one is kept.
    already : bool
        True where the same bytes were taken before with the same answers: nothing was done.
    rough : tuple of str
        Sites where stored rows of a coarser clock tell the same times: rebuild them, and the
        finer rows win.
    """

    rows: int
    read: int
    events: int
    repeated: int
    unread: int
    doubtful: int
    seam: int
    already: bool = False
    rough: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What a rebuild did.

    Parameters
    ----------
    sites : tuple of str
        Sites made anew; an empty name is "site not known".
    exports, dropped : tuple of str
        Hashes of the exports read again, and of those taken out.
    before, after : int
        Events of these sites, unread rows among them.
    """

    sites: tuple[str, ...]
    exports: tuple[str, ...]
    dropped: tuple[str, ...]
    before: int
    after: int


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong in the store: what, where it stands, and what to do.

    ``waits`` marks an original that only waits to be taken: nothing is wrong with the store.
    """

    what: str
    where: str
    do: str
    waits: bool = False


@dataclass(frozen=True, slots=True)
class Tidied:
    """What upkeep did.

    Parameters
    ----------
    files_joined, files_removed : int
        Small files that were joined to larger ones; old files removed.
    leftovers : int
        Half-written or dropped files removed.
    problem : str, optional
        What had to be left for another time.
    """

    files_joined: int
    files_removed: int
    leftovers: int
    problem: str | None = None

    def __str__(self) -> str:
        done = (
            f"{self.files_joined} small files joined, {self.files_removed} old files and "
            f"{self.leftovers} leftovers removed"
        )
        return f"{done}; {self.problem}" if self.problem else done
