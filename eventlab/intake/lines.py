"""The physical lines of a text: how many, where each begins, what each says."""

import re
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]

END = re.compile(r"\r\n|\r|\n")
_BLOCK = 1 << 22
_LF, _CR = 10, 13


@dataclass(frozen=True, slots=True)
class Line:
    """One physical line.

    Parameters
    ----------
    number : int
        1-based.
    text : str
        Without its line end.
    """

    number: int
    text: str


class Lines:
    """The lines of a UTF-8 text; a line ends with CRLF, LF or CR, and the last may end with none.

    Parameters
    ----------
    body : bytes
        The whole text.
    """

    def __init__(self, body: bytes) -> None:
        self.body = body
        self.flat, self.ends = _flatten(body)

    @cached_property
    def count(self) -> int:
        """The number of physical lines; a final line end makes no further line."""
        return self.flat.count(b"\n") + (not self.finished)

    @property
    def finished(self) -> bool:
        """Whether the text is empty or its last line has a line end."""
        return not self.flat or self.flat.endswith(b"\n")

    @property
    def first(self) -> str:
        """The first line, or the start of a very long one, for a look at it."""
        return self.flat[: self.flat.find(b"\n", 0, 1000)].decode("utf-8", errors="replace")

    @cached_property
    def starts(self) -> Ints:
        """Byte offset of the start of each line, and of the end of the text [int64, count + 1]."""
        view = np.frombuffer(self.flat, np.uint8)
        found = [np.zeros(1, np.int64)]
        found += [
            np.flatnonzero(view[at : at + _BLOCK] == _LF) + (at + 1)
            for at in range(0, len(view), _BLOCK)
        ]
        if not self.finished:
            found.append(np.array([len(view)], np.int64))
        return np.concatenate(found)

    def span(self, first: int, last: int) -> tuple[int, int]:
        """Give the byte range of the lines ``first`` to ``last`` [0-based] without the last end."""
        begin, end = int(self.starts[first]), int(self.starts[last + 1])
        if end > begin and self.flat[end - 1] == _LF:
            end -= 1
            if end > begin and self.flat[end - 1] == _CR:
                end -= 1
        return begin, end

    def text(self, first: int, last: int | None = None) -> str:
        """Give the text of one line or of several [0-based], without the last line end."""
        begin, end = self.span(first, first if last is None else last)
        return self.body[begin:end].decode("utf-8")


def texts_of(flat: bytes) -> list[str]:
    """Give the lines of a UTF-8 text with LF or CRLF ends, without these."""
    return flat.decode("utf-8").replace("\r\n", "\n").removesuffix("\n").split("\n")


def _flatten(body: bytes) -> tuple[bytes, tuple[str, ...]]:
    """Put LF for each lone CR, so that offsets stay; tell which line ends occur."""
    if b"\r" not in body:
        return body, ("LF",) if b"\n" in body else ()
    feeds, returns, pairs = body.count(b"\n"), body.count(b"\r"), body.count(b"\r\n")
    kinds = (("CRLF", pairs), ("LF", feeds - pairs), ("CR", returns - pairs))
    ends = tuple(kind for kind, number in kinds if number)
    if returns == pairs:
        return body, ends
    flat = bytearray(body)
    view = np.frombuffer(flat, np.uint8)
    at = np.flatnonzero(view == _CR)
    following = view[np.minimum(at + 1, len(view) - 1)]
    view[at[(following != _LF) | (at == len(view) - 1)]] = _LF
    return bytes(flat), ends
