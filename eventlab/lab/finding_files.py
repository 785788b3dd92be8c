"""Which files are meant, what each is, and in which order they are taken."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from eventlab.errors import EventlabError, InputError
from eventlab.intake import Piece, Sheet, pieces, read_bytes
from eventlab.lab.taking_context import context_role
from eventlab.meaning import Roles, as_log
from eventlab.schema import Role

HEAD = 256 * 1024
"""Bytes at the start of a file that are enough to recognise what it is."""

KEPT = 64 * 1024 * 1024
"""Bytes of small files that are kept read between recognising and taking."""

ORDER = (
    *(Role.SITES, Role.ZONES, Role.SCHEDULE, Role.USERS),
    *(Role.WEATHER, Role.VISITS, Role.OUTCOMES),
    Role.LOG,
)
"""Context before logs: a log is read with what its site's lists tell."""


@dataclass(frozen=True)
class Found:
    """One file with what it was recognised as, or why it was not.

    Parameters
    ----------
    piece : Piece
        The file, by itself or within another.
    role : Role or None
        What it is.
    error : str or None
        Why nothing can be done with it.
    sheet : Sheet or None
        The whole file, where it was small enough to be read at once.
    roles : Roles or None
        The columns of a log that was read whole.
    unknown : bool
        Whether it was read and is nothing that is known here.
    """

    piece: Piece
    role: Role | None
    error: str | None = None
    sheet: Sheet | None = None
    roles: Roles | None = None
    unknown: bool = False

    @property
    def path(self) -> Path:
        """The file on disk."""
        return self.piece.path

    def original(self) -> Path | bytes:
        """Give what is kept of it: the file on disk where it is the export as it is."""
        return self.path if self.piece.whole else self.piece.bytes()

    def opened(self) -> Sheet:
        """Give its table, read now where that has not been done."""
        return self.sheet or read_bytes(self.piece.bytes(), name=self.piece.name)


def find_files(paths: Iterable[str | Path]) -> list[Path]:
    """List the files that are meant: each file once, folders with all that is in them.

    Parameters
    ----------
    paths : iterable of str or Path
        Files and folders.

    Returns
    -------
    list of Path
        Sorted within each folder; hidden files are left out.

    Raises
    ------
    InputError
        Where a path does not exist, or there is no file at all.
    """
    files: dict[Path, None] = {}
    for given in paths:
        path = Path(given)
        if path.is_dir():
            inside = (p for p in sorted(path.rglob("*")) if p.is_file())
            for file in inside:
                hidden = any(part.startswith(".") for part in file.relative_to(path).parts)
                if not hidden:
                    files[file] = None
        elif path.is_file():
            files[path] = None
        else:
            raise InputError("there is no such file or folder", where=str(given))
    if not files:
        raise InputError("there is no file to take", do="Name an exported log or a folder of them.")
    return list(files)


def recognise_all(files: Iterable[Path]) -> list[Found]:
    """Recognise by content what each file is; context files come first.

    An archive is the files in it. A workbook is its sheets; those that are nothing known, beside
    one that is, are only told with it.

    Parameters
    ----------
    files : iterable of Path
        Files of any kind.

    Returns
    -------
    list of Found
        In the order in which they are to be taken.
    """
    found = []
    spare = KEPT
    for piece in (piece for path in files for piece in _pieces(path)):
        one = piece if isinstance(piece, Found) else _recognise(piece)
        if one.sheet is not None:
            spare -= one.sheet.size
            if spare < 0:
                one = replace(one, sheet=None, roles=None)
        found.append(one)
    books = {(one.path, one.piece.place) for one in found if one.role and one.piece.sheet}
    found = [one for one in found if not (one.unknown and (one.path, one.piece.place) in books)]
    return sorted(found, key=lambda one: ORDER.index(one.role) if one.role else len(ORDER))


def _pieces(path: Path) -> list[Piece] | list[Found]:
    try:
        return pieces(path)
    except EventlabError as error:
        return [Found(Piece(path), None, str(error))]
    except OSError as error:
        told = f"{path.name}: the file cannot be opened ({error.strerror})"
        return [Found(Piece(path), None, told)]


def _recognise(piece: Piece) -> Found:
    if piece.error:
        return Found(piece, None, piece.error)
    try:
        sheet, whole, head = _head(piece)
    except EventlabError as error:
        return Found(piece, None, str(error))
    except OSError as error:
        told = f"{piece.name}: the file cannot be opened ({error.strerror})"
        return Found(piece, None, told)
    role = context_role(head, sheet)
    roles = as_log(sheet) if role is None else None
    if roles is not None:
        role = Role.LOG
    if role is None:
        return Found(
            piece,
            None,
            f"{piece.name}: this is no event log and no context file that is known here. "
            "A log needs a column that says when and one that says what happened.",
            unknown=True,
        )
    return Found(piece, role, None, sheet, roles) if whole else Found(piece, role)


def _head(piece: Piece) -> tuple[Sheet, bool, bytes]:
    """Read the start of a file, or all of a small or packed one; also its first bytes."""
    with piece.path.open("rb") as file:
        head = file.read(HEAD)
    if len(head) < HEAD or not piece.whole:
        data = piece.bytes()
        return read_bytes(data, name=piece.name), True, data[:HEAD]
    # Cut behind the last whole line: half a row, or half a character, says nothing.
    cut = max(head.rfind(b"\n"), head.rfind(b"\r"))
    if cut > 0:
        head = head[: cut + (2 if head[cut + 1 : cut + 2] == b"\x00" else 1)]
    return read_bytes(head, name=piece.name), False, head
