"""Listings whose columns stand at fixed places, with spaces between and no delimiter."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import polars as pl

from eventlab.intake.columns import RULE, shape
from eventlab.intake.grid import Grid, columns_of, join
from eventlab.intake.lines import Lines, texts_of
from eventlab.intake.table import unused

_LINES = 1000  # lines looked at
_REACH = 400  # characters of each
_LEAST = 3  # rows that show where the columns stand, without a ruled line
_CLEAR = 0.98  # share of rows that leave a gap free
_CLEAR_NAMED = 0.85  # the same where a heading begins behind the gap
_BEHIND = 0.3  # share of rows with something behind a gap, where no heading says so
_FIT = 0.8  # share of rows that must fit in the end
_TOP = 6  # shapes of the first word that rows have


@dataclass(frozen=True, slots=True)
class Cuts:
    """Where the columns stand.

    Parameters
    ----------
    starts : tuple of int
        First character of each column, ascending, the first 0.
    gaps : tuple of (int, int)
        Characters that stay free before each column but the first.
    heading : int or None
        The line of the headings [0-based], where one was seen.
    shapes : frozenset of str
        Shapes of the first cell of rows.
    evidence : str
        Why, in a sentence.
    """

    starts: tuple[int, ...]
    gaps: tuple[tuple[int, int], ...]
    heading: int | None
    shapes: frozenset[str]
    evidence: str

    def cells(self, line: str) -> tuple[str, ...]:
        """Cut one line where the gaps before the columns are free; cells stripped."""
        free = [
            begin for begin, (a, b) in zip(self.starts[1:], self.gaps, strict=True)
            if not line[a:b].strip()
        ]  # fmt: skip
        return tuple(line[a:b].strip() for a, b in pairwise([0, *free, None]))

    def named(self, line: str) -> tuple[str, ...]:
        """Give each word of a heading to the column that it stands over most."""
        cells: list[list[str]] = [[] for _ in self.starts]
        ends = [*self.starts[1:], max(len(line), self.starts[-1]) + 1]
        for word in re.finditer(r"\S+", line):
            over = [
                min(word.end(), end) - max(word.start(), begin)
                for begin, end in zip(self.starts, ends, strict=True)
            ]
            cells[int(np.argmax(over))].append(word.group())
        return tuple(" ".join(words) for words in cells)


def find_fixed(lines: Lines) -> Grid | None:
    """Find columns at fixed places.

    Parameters
    ----------
    lines : Lines
        The text, in which no delimiter was found.

    Returns
    -------
    Grid or None
        None where the lines do not share such places.
    """
    texts = texts_of(lines.flat)
    if any("\t" in text for text in texts[:_LINES]):
        return None
    cuts = find_cuts(texts)
    delimiter = unused(lines)
    if cuts is None or delimiter is None:
        return None
    body = "".join(f"{line}\n" for line in _grid(texts, cuts, delimiter))
    return Grid(Lines(body.encode()), delimiter, len(cuts.starts), cuts.evidence)


def find_cuts(texts: Sequence[str]) -> Cuts | None:
    """Find where the columns stand, from a ruled line or from the gaps that all rows share."""
    sample = [(n, text[:_REACH].rstrip()) for n, text in enumerate(texts[:_LINES])]
    sample = [(n, text) for n, text in sample if text]
    ruled = next((place for place, (_, text) in enumerate(sample) if _columns_ruled(text)), None)
    if ruled is not None:
        return _from_rule(sample, ruled)
    rows = _rows(sample)
    if len(rows) < _LEAST:
        return None
    first = min(rows)
    above = next(((n, text) for n, text in reversed(sample) if n < first), None)
    if above is not None and re.search(r"\d", above[1]):
        above = None
    gaps = _gaps([text for _, text in sample if _ in rows], above[1] if above else "")
    if not gaps:
        return None
    starts = (0, *(end for _, end in gaps))
    heading = above[0] if above else None
    return _checked(list(rows.values()), starts, gaps, heading, "the gaps that its rows share")


def _columns_ruled(text: str) -> bool:
    return (
        bool(RULE.fullmatch(text)) and len(re.findall(r"[-=_]{2,}", text)) > 1 and "|" not in text
    )


def _from_rule(sample: Sequence[tuple[int, str]], ruled: int) -> Cuts | None:
    spans = [found.span() for found in re.finditer(r"[-=_]+", sample[ruled][1])]
    starts = (0, *(begin for begin, _ in spans[1:]))
    gaps = tuple((end, begin) for (_, end), (begin, _) in pairwise(spans))
    below = _rows(sample[ruled + 1 :])
    heading = sample[ruled - 1][0] if ruled else None
    return _checked(
        list(below.values()), starts, gaps, heading, f"the ruled line {sample[ruled][0] + 1}"
    )


def _checked(
    rows: Sequence[str],
    starts: tuple[int, ...],
    gaps: tuple[tuple[int, int], ...],
    heading: int | None,
    why: str,
) -> Cuts | None:
    trial = Cuts(starts, gaps, heading, frozenset(), "")
    cut = [trial.cells(row) for row in rows]
    full = [cells for cells in cut if len(cells) == len(starts) and sum(map(bool, cells)) > 1]
    if not full or len(full) < _FIT * len(rows):
        return None
    top = Counter(shape(cells[0]) for cells in full).most_common(_TOP)
    said = (
        f"Columns stand at fixed places, by {why}: {len(starts)} columns "
        f"({len(full)} of {len(rows)} sampled rows fit)."
    )
    return Cuts(starts, gaps, heading, frozenset(s for s, _ in top), said)


def _rows(sample: Sequence[tuple[int, str]]) -> dict[int, str]:
    """Give the lines whose first word has the shape that most such lines share."""
    firsts = {n: shape(text.split()[0]) for n, text in sample if not RULE.fullmatch(text)}
    counted = Counter(first for first in firsts.values() if "9" in first)
    if not counted:
        return {}
    most = counted.most_common(1)[0][1]
    kept = {first for first, number in counted.items() if number * 10 >= most}
    return {n: text for n, text in sample if firsts.get(n) in kept}


def _gaps(rows: Sequence[str], heading: str) -> tuple[tuple[int, int], ...]:
    """Find the runs of places that all rows leave free."""
    size = max(map(len, rows))
    taken = np.zeros((len(rows), size), np.bool_)
    for row, text in zip(taken, rows, strict=True):
        row[: len(text)] = [not c.isspace() for c in text]
    free = 1 - taken.mean(axis=0)
    behind = np.array([taken[:, at:].any(axis=1).mean() for at in range(size)])
    named = {found.start() for found in re.finditer(r"\S+", heading)}
    found: list[tuple[int, int]] = []
    at = 0
    while at < size:
        begin = at
        while at < size and free[at] >= _CLEAR_NAMED:
            at += 1
        if at == begin:
            at += 1
            continue
        clear = bool((free[begin:at] >= _CLEAR).all())
        headed = at in named and not heading[begin:at].strip()
        wide = at - begin > 1 and clear and behind[min(at, size - 1)] >= _BEHIND
        if begin > 0 and at < size and (headed or wide):
            found.append((begin, at))
    return tuple(found)


def _grid(texts: Sequence[str], cuts: Cuts, delimiter: str) -> list[str]:
    """Write each line as its cells: full where it fits, else as far as it does."""
    frame = pl.DataFrame({"text": texts}, schema={"text": pl.String})
    text, ends = pl.col("text"), [*cuts.starts[1:], None]
    cells = frame.select(
        text.str.slice(begin, None if end is None else end - begin).str.strip_chars().alias(name)
        for name, begin, end in zip(columns_of(len(ends)), cuts.starts, ends, strict=True)
    )
    free = [text.str.slice(a, b - a).str.strip_chars() == "" for a, b in cuts.gaps]
    fits = frame.select(pl.all_horizontal(free))["text"]
    filled = cells.select(pl.sum_horizontal((pl.all() != "").cast(pl.Int32)))["c0"]
    lined = join(cells, delimiter).to_list()
    heading = texts[cuts.heading] if cuts.heading is not None else None
    for n in np.flatnonzero(~(fits & (filled > 1)).to_numpy()).tolist():
        line = texts[n]
        cut = cuts.cells(line) if shape(cuts.cells(line)[0]) in cuts.shapes else (line.strip(),)
        lined[n] = join(pl.DataFrame([cut], schema=columns_of(len(cut)), orient="row"), delimiter)[
            0
        ]
    for n in _drawn(texts):
        lined[n] = ""
    if heading:
        named = cuts.named(heading)
        told = join(pl.DataFrame([named], schema=columns_of(len(named)), orient="row"), delimiter)[
            0
        ]
        for n, line in enumerate(texts):
            if line == heading:
                lined[n] = told
    return lined


def _drawn(texts: Sequence[str]) -> list[int]:
    return [n for n, line in enumerate(texts) if line[:1] in "-=_+| " and RULE.fullmatch(line)]
