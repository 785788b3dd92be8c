"""Whole lines from the head, the middle and the tail of a text, to judge it by."""

from eventlab.intake.lines import Lines, texts_of

_LINES = 500  # lines from each of the three
_BYTES = 1 << 18  # and no more bytes than this


def sample(lines: Lines, *, skip: int = 0) -> list[list[str]]:
    """Take whole lines, never cut by a number of bytes.

    Parameters
    ----------
    lines : Lines
        The text.
    skip : int
        Lines at the start to leave out (0 or 1).

    Returns
    -------
    list of lists of str
        Runs of consecutive lines without their ends: all lines of a small text, else three runs.
    """
    flat = lines.flat
    start = flat.find(b"\n") + 1 if skip else 0
    if len(flat) - start <= 3 * _BYTES:
        whole = texts_of(flat[start:])
        if len(whole) <= 3 * _LINES:
            return [whole]
        middle = (len(whole) - _LINES) // 2
        return [whole[:_LINES], whole[middle : middle + _LINES], whole[-_LINES:]]
    middle = flat.find(b"\n", (start + len(flat)) // 2) + 1
    last = flat.find(b"\n", len(flat) - _BYTES) + 1
    return [
        _block(flat, start)[:_LINES],
        _block(flat, middle)[:_LINES],
        texts_of(flat[last:])[-_LINES:] if last else [],
    ]


def _block(flat: bytes, begin: int) -> list[str]:
    """Cut the whole lines that begin within one block; at least one."""
    end = flat.rfind(b"\n", begin, begin + _BYTES) + 1
    return texts_of(flat[begin : end or flat.find(b"\n", begin) + 1 or len(flat)])
