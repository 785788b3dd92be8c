"""Which character stands between the cells: ranked evidence over a fixed list."""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from eventlab.errors import UnreadableFile
from eventlab.intake.cells import QUOTE, record
from eventlab.intake.columns import shape

# Letters, spaces and colons stand inside clock times and wordings and never win.
# Of equals the earlier one is told first.
NAMES = {
    "\t": "tab",
    ",": "comma",
    ";": "semicolon",
    "|": "vertical bar",
    "^": "caret",
    "~": "tilde",
}
_PROSE = (",", ";")  # the two that stand in sentences too

_REACH = 20  # lines a cell may run over in the sample
_WIDTHS = 6  # widths looked at for each character
_CLEAN_LINES = 200
# Share of the sample that the table must fill, beyond the lines in it of another width.
_FILL = 0.1
_FILL_PAIRS = 0.2  # two cells are easily met by chance
_FILL_PROSE = 0.4  # most easily where sentences hold a comma
_EVEN_PAIRS = 0.75  # share of the table's lines that are full, two cells
_EVEN_PROSE = 0.9  # the same where it looks like a comma in a sentence
_TIE = 0.03  # two characters whose values are closer than this are looked at again
_ALIKE = 0.1  # by how much the cells of one must be more alike, column by column
_SHAPES = 4  # shapes that cells of one column have

# 10:15:30,123 with the comma of a fraction; four digits are a code with its qualifier.
_FRACTION = re.compile(r"(:\d\d:\d\d),((?:\d{1,3}|\d{5,6}) (?!\d))")
_DIGIT = re.compile(r"\d")
_NUMBER = re.compile(r"[-+]?\d+([.,]\d+)*%?")
_SEP = re.compile(r'"?sep=([^\w"\s]|\t|_)"?', re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Guess:
    """How well one character explains the sample.

    Parameters
    ----------
    delimiter : str
        The character.
    width : int
        Cells of a full line.
    full : int
        Sampled lines of that width within the table.
    odd : int
        Lines of another width within the table.
    lines : int
        All sampled lines that are not blank; a record over several lines counts once.
    value : float
        Share of the sample that is explained, times the share of cells that are whole, times
        ``1 - 1 / width``, as two cells are more easily met by chance than five [0..1].
    """

    delimiter: str
    width: int
    full: int
    odd: int
    lines: int
    value: float


@dataclass(frozen=True, slots=True)
class Dialect:
    """How the lines of a file are cut into cells.

    Parameters
    ----------
    delimiter : str or None
        None where no character divides the lines.
    width : int
        Cells of a full line; 1 where there is no delimiter.
    ranked : tuple of Guess
        All candidates that explain anything, best first.
    evidence : str
        One sentence.
    """

    delimiter: str | None
    width: int
    ranked: tuple[Guess, ...]
    evidence: str


def declared(line: str) -> str | None:
    """Give the delimiter that a first line such as ``sep=;`` declares, else None.

    Parameters
    ----------
    line : str
        The first line of the file.

    Returns
    -------
    str or None
        One ASCII character.
    """
    found = _SEP.fullmatch(line.strip("\ufeff \r\n"))
    return found.group(1) if found and found.group(1).isascii() else None


def choose(blocks: Sequence[Sequence[str]], *, told: str | None = None, name: str = "") -> Dialect:
    """Choose the delimiter from whole lines of the head, middle and tail.

    Parameters
    ----------
    blocks : sequence of sequences of str
        Runs of consecutive lines.
    told : str, optional
        The delimiter the file declares itself.
    name : str
        The file, for the message.

    Returns
    -------
    Dialect
        Ranked: the longest stretch at one width, and cells that hold no other delimiter.

    Raises
    ------
    UnreadableFile
        Where two delimiters explain the file equally well.
    """
    candidates = (told,) if told else tuple(NAMES)
    guesses = [g for d in candidates if (g := _weigh(blocks, d)) is not None]
    order = {d: i for i, d in enumerate(candidates)}
    guesses.sort(key=lambda g: (-round(g.value, 3), -g.width, order[g.delimiter]))
    ranked = tuple(guesses)
    if told:
        said = f"The first line declares the delimiter {told!r}"
        if ranked:
            return Dialect(told, ranked[0].width, ranked, f"{said}.")
        other = choose(blocks, name=name)
        evidence = f"{said}, which divides no line. {other.evidence}"
        return Dialect(other.delimiter, other.width, other.ranked, evidence)
    good = [g for g in ranked if _enough(g, blocks)]
    if not good:
        return _undivided(ranked, f"; {_say(ranked[0])} is too weak" if ranked else "")
    best = _decided(good, blocks, name)
    said = f"Cells are divided by {_say(best)}"
    others = [g for g in ranked if g is not best]
    rest = f"; next best {_say(others[0])}" if others else "; no other character fits"
    return Dialect(best.delimiter, best.width, ranked, said + rest + ".")


def _decided(good: Sequence[Guess], blocks: Sequence[Sequence[str]], name: str) -> Guess:
    """Give the best; of equals the one whose columns hold cells that look alike."""
    tied = [g for g in good if good[0].value - g.value < _TIE and g.full == good[0].full]
    if len(tied) == 1:
        return good[0]
    tied.sort(key=lambda g: -_alike(g, blocks))
    first, second = (_alike(g, blocks) for g in tied[:2])
    if first - second < _ALIKE:
        raise UnreadableFile(
            f"its cells may be divided by {_say(tied[0])} or by {_say(tied[1])}, "
            "and nothing decides between them",
            where=name,
            do=f"Write sep={tied[0].delimiter} or sep={tied[1].delimiter} on a line of its own "
            "above all others in a copy of the file",
        )
    return tied[0]


def _alike(guess: Guess, blocks: Sequence[Sequence[str]]) -> float:
    """Share of cells that have one of the few shapes that are frequent in their column [0..1]."""
    rows = [
        cells
        for block in blocks
        for cells in _records(block, guess.delimiter)
        if len(cells) == guess.width
    ][:_CLEAN_LINES]
    columns = [Counter(shape(cell) for cell in column) for column in zip(*rows, strict=True)]
    same = sum(n for column in columns for _, n in column.most_common(_SHAPES))
    return same / max(1, sum(column.total() for column in columns))


def undivided(dialect: Dialect) -> Dialect:
    """Give the reading in which each line is one cell.

    Parameters
    ----------
    dialect : Dialect
        A reading that did not hold for the whole file.

    Returns
    -------
    Dialect
        Without a delimiter.
    """
    return _undivided(dialect.ranked, "")


def _undivided(ranked: tuple[Guess, ...], why: str) -> Dialect:
    return Dialect(None, 1, ranked, f"No delimiter found, so each line is one cell{why}.")


def _say(guess: Guess) -> str:
    name = NAMES.get(guess.delimiter, repr(guess.delimiter))
    return f"{name} ({guess.full} of {guess.lines} sampled lines have {guess.width} cells)"


def _enough(guess: Guess, blocks: Sequence[Sequence[str]]) -> bool:
    fill = (guess.full - guess.odd) / guess.lines
    even = guess.full / (guess.full + guess.odd)
    if guess.width > 2:
        return fill >= _FILL
    if fill < _FILL_PAIRS or even < _EVEN_PAIRS:
        return False
    if guess.delimiter not in _PROSE:
        return True
    if fill < _FILL_PROSE:
        return False
    spaced = sum(line.count(guess.delimiter + " ") for block in blocks for line in block)
    total = sum(line.count(guess.delimiter) for block in blocks for line in block)
    return spaced * 2 < total or (even >= _EVEN_PROSE and guess.full > 2)


def _without_fractions(blocks: Sequence[Sequence[str]]) -> Sequence[Sequence[str]]:
    """Take the comma out of fractions of a second, unless a heading is divided by as many commas.

    ``18:00:00,131 Burglary`` may be a time and a code as well.
    """
    first = next((line for block in blocks for line in block if _FRACTION.search(line)), None)
    if first is None:
        return blocks
    for line in blocks[0]:
        if line == first:
            break
        if not _DIGIT.search(line) and line.count(",") == first.count(","):
            return blocks
    return [[_FRACTION.sub(r"\1.\2", line) for line in block] for block in blocks]


def _weigh(blocks: Sequence[Sequence[str]], delimiter: str) -> Guess | None:
    if delimiter == ",":
        blocks = _without_fractions(blocks)
    rows = [cells for block in blocks for cells in _records(block, delimiter)]
    widths = Counter(len(cells) for cells in rows if len(cells) > 1)
    if not widths:
        return None
    best: Guess | None = None
    for width, _ in widths.most_common(_WIDTHS):
        full, odd = _stretch([len(cells) for cells in rows], width)
        if best is None or (full - odd, width) > (best.full - best.odd, best.width):
            best = Guess(delimiter, width, full, odd, len(rows), (full - odd) / len(rows))
    if best is None:
        return None
    whole = _whole([c for c in rows if len(c) == best.width], delimiter)
    value = best.value * whole * (1 - 1 / best.width)
    return Guess(delimiter, best.width, best.full, best.odd, best.lines, value)


def _records(block: Sequence[str], delimiter: str) -> Iterator[tuple[str, ...]]:
    """Cells of the records that begin in these lines; blank lines are left out."""
    at = 0
    while at < len(block):
        line = block[at]
        at += 1
        if not line.strip():
            continue
        if QUOTE not in line:
            yield tuple(line.split(delimiter))
            continue
        single = record(line, delimiter) or record(line, delimiter, loose=True)
        if single is not None:
            yield single.cells
            continue
        several = None
        if line.startswith(QUOTE) or delimiter + QUOTE in line:
            several = record("\n".join(block[at - 1 : at - 1 + _REACH]), delimiter)
        if several is None:
            yield tuple(line.split(delimiter))
            continue
        yield several.cells
        used = "\n".join(block[at - 1 : at - 1 + _REACH])[: several.end].count("\n")
        at += used


def _stretch(widths: Sequence[int], width: int) -> tuple[int, int]:
    """Find the stretch of lines with the most of this width over others; give both counts."""
    best = (0, 0)
    full = odd = 0
    for this in widths:
        if this == width:
            full += 1
        else:
            odd += 1
        if odd > full:
            full = odd = 0
        elif full - odd > best[0] - best[1]:
            best = (full, odd)
    return best


def _whole(rows: Sequence[tuple[str, ...]], delimiter: str) -> float:
    """Share of cells that hold no other candidate, but in numbers and sentences."""
    step = max(1, len(rows) // _CLEAN_LINES)
    cells = [cell.strip() for row in rows[::step] for cell in row]
    others = re.compile("[" + re.escape("".join(d for d in NAMES if d != delimiter)) + r"](?=\S)")
    clean = sum(1 for cell in cells if _NUMBER.fullmatch(cell) or not others.search(cell))
    return clean / len(cells) if cells else 0.0
