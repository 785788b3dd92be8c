"""What was made of texts before: a text that comes again is not read again.

The few texts of a small file are looked at time and again while its columns are told apart, and
files of one kind share most of theirs. Reading one text with all the ways to write it costs as
much as reading hundreds, so what was made of each is kept.
"""

from collections.abc import Callable
from threading import Lock

import polars as pl

_FEW = 400
"""Texts at a time above which reading them anew costs less than looking each of them up."""

_LONGEST = 1_000
"""Characters above which a text is not kept."""

_KEPT = 4096
"""Texts kept at most; then the keeping begins anew."""


class Remembered:
    """A reading of texts that keeps what it made of each.

    Parameters
    ----------
    read : callable
        Takes distinct texts (String, no nulls) and gives ``text`` and what it made of it: one row
        for each, several or none, in the order of the texts. What it makes of a text must hang on
        that text alone.
    """

    def __init__(self, read: Callable[[pl.Series], pl.DataFrame]) -> None:
        self._read = read
        self._lock = Lock()
        self._nothing: pl.DataFrame | None = None
        self._kept: pl.DataFrame | None = None
        self._rows: dict[str, range] = {}

    def __call__(self, texts: pl.Series) -> pl.DataFrame:
        """Read texts.

        Parameters
        ----------
        texts : polars.Series of String
            No nulls; where there are many, distinct.

        Returns
        -------
        polars.DataFrame
            As the reading gives it, in the order of the texts.
        """
        if not len(texts):
            if self._nothing is None:
                self._nothing = self._read(pl.Series("text", [], dtype=pl.String))
            return self._nothing
        held: list[str] = texts.to_list() if len(texts) <= _FEW else []
        if not held or max(map(len, held)) > _LONGEST:
            return self._read(texts)
        with self._lock:
            new = [text for text in dict.fromkeys(held) if text not in self._rows]
            if new:
                self._keep(new)
            kept, rows = self._kept, [row for text in held for row in self._rows[text]]
            if len(self._rows) > _KEPT:
                self._kept, self._rows = None, {}
        assert kept is not None  # noqa: S101  # some text was read
        return kept[pl.Series(rows, dtype=pl.UInt32)]

    def _keep(self, new: list[str]) -> None:
        told = self._read(pl.Series("text", new, dtype=pl.String))
        at = 0 if self._kept is None else self._kept.height
        self._rows.update(dict.fromkeys(new, range(0)))
        for row, text in enumerate(told["text"].to_list(), start=at):
            begin = self._rows[text].start if self._rows[text] else row
            self._rows[text] = range(begin, row + 1)
        self._kept = told if self._kept is None else pl.concat([self._kept, told], rechunk=True)
