"""Whether a wording speaks of life safety: wide on purpose, for what no table reads.

A reading of the lexicon is exact. A guess about words that nobody wrote down is not, so before a
guess each word is looked at alone, in all languages, and parts of words count.
"""

from functools import cache

import polars as pl

from eventlab.meaning.lexicon import Lexicon, Sort, lexicon
from eventlab.meaning.marks import scan
from eventlab.meaning.tables import rows
from eventlab.meaning.templates import templates
from eventlab.meaning.tongues import english
from eventlab.meaning.wording import worded

_SHORT = 3
"""Letters up to which a word counts only as a whole: ``gas``, not ``Vegas``."""


def speaks_of_life(wordings: pl.Series) -> pl.DataFrame:
    """Tell which wordings hold a word that could be one of life safety.

    Parameters
    ----------
    wordings : polars.Series
        String.

    Returns
    -------
    polars.DataFrame
        ``text`` (each wording once, none null) and ``life``, Boolean.
    """
    split = templates(worded(wordings), english())
    known = lexicon()
    life = [
        _by_lexicon(template, known) or any(map(_alone, words))
        for words, template in split.select("words", "template").iter_rows()
    ]
    return split.select("text", life=pl.Series(life, dtype=pl.Boolean))


def _by_lexicon(template: str, known: Lexicon) -> bool:
    return any(
        mark.is_a(Sort.LIFE) or (mark.entry is not None and bool(mark.entry.life_safety))
        for mark in scan(tuple(template.split()), known)
    )


def _alone(word: str) -> bool:
    whole, parts = _words()
    small = word.lower()
    return small in whole or any(part in small for part in parts)


@cache
def _words() -> tuple[frozenset[str], tuple[str, ...]]:
    listed = {row["word"] for row in rows("life_words")}
    parts = tuple(sorted(word for word in listed if len(word) > _SHORT))
    return frozenset(listed), parts
