"""Other languages of logs: their words, each with the English words of the lexicon it stands for.

A table ``tongue_*.csv`` holds patterns, and ``numerals.csv`` numbers in words. One set of rules, the
lexicon's, decides for all languages; a table here only says what its words are there.

- ``pattern``: one or more wordings, divided by `` / ``. A word may carry its endings: ``otwart|y,a``
  is ``otwarty`` and ``otwarta``, ``alarm|,u`` is ``alarm`` and ``alarmu``. ``#`` at its end asks for
  a number behind: ``eingang #`` is an input, ``eingang`` a place.
- ``means``: words of the lexicon, or ``p`` for a place.
- ``example``, ``kind``, ``phase``, ``mode``: a wording with the first form of the pattern in it, and
  what it says; without a kind it must stay unread.

All wordings are common practice, from memory.
"""

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from itertools import product

from eventlab.meaning.lexicon import Sort, lexicon
from eventlab.meaning.tables import rows

ENGLISH = "english"
TONGUES = ("german", "french", "spanish", "italian", "dutch", "polish", "swedish")
PLACE = "p"

_COMPOUNDING = {"german": ("s", "es", "n", "en", "e"), "dutch": ("s", "e", "en"), "swedish": ("s",)}
_ELIDING = frozenset({"french", "italian"})
_ELIDED = 6
_PART = 4
_PLAIN = str.maketrans({"ł": "l", "ø": "o", "ß": "ss", "æ": "ae", "œ": "oe", "’": "'"})
_TWO_LETTERS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa"})


def fold(word: str) -> str:
    """Write a word in small letters without accents."""
    word = word.lower().translate(_PLAIN)
    if word.isascii():
        return word
    return "".join(c for c in unicodedata.normalize("NFD", word) if not unicodedata.combining(c))


Pattern = tuple[tuple[str, ...], tuple[str, ...]]


@dataclass(frozen=True, eq=False)
class Tongue:
    """The words of one language.

    Parameters
    ----------
    name : str
        In English, small letters.
    patterns : dict
        First word to patterns with what they mean, longest first; words are folded.
    numerals : dict
        Words of a number to its figures.
    words : frozenset of str
        Every word of a pattern or a number.
    parts : frozenset of str
        Words that a longer word may be made of.
    quiet : frozenset of str
        Words that may stand within any pattern.
    life : frozenset of str
        Words that speak of life safety, and that English does not know.
    """

    name: str
    patterns: dict[str, tuple[Pattern, ...]] = field(default_factory=dict)
    numerals: dict[tuple[str, ...], str] = field(default_factory=dict)
    words: frozenset[str] = frozenset()
    parts: frozenset[str] = frozenset()
    quiet: frozenset[str] = frozenset()
    life: frozenset[str] = frozenset()
    _known: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def split(self, word: str) -> tuple[str, ...]:
        """Return the words of the language that a word is or is made of; nothing if it is none.

        Parameters
        ----------
        word : str
            In small letters.
        """
        held = self._known.get(word)
        if held is None:
            held = self._split(word)
            if len(self._known) < _HELD:
                self._known[word] = held
        return held

    def _split(self, word: str) -> tuple[str, ...]:
        plain = fold(word)
        if plain in self.words:
            return (plain,)
        if self.name in _ELIDING and "'" in plain:
            before, _, behind = plain.rpartition("'")
            if len(before) < _ELIDED and behind in self.words:
                return (behind,)
        if self.name in _COMPOUNDING and len(plain) > _PART:
            return self._compound(plain)
        return ()

    def _compound(self, word: str) -> tuple[str, ...]:
        if word in self.parts:
            return (word,)
        for end in range(len(word) - 3, 2, -1):
            head = word[:end]
            if head not in self.parts:
                continue
            for link in ("", *_COMPOUNDING[self.name]):
                if word.startswith(link, end):
                    rest = self._compound(word[end + len(link) :])
                    if rest:
                        return (head, *rest)
        return ()

    def speaks_of_life(self, word: str) -> bool:
        """Tell whether a word speaks of life safety in this language, and not in English."""
        return any(part in self.life for part in self.split(word))


_HELD = 200_000


def forms(pattern: str) -> Iterator[tuple[str, ...]]:
    """Give every form of a pattern of a table: its alternatives with all their endings.

    Parameters
    ----------
    pattern : str
        As a table writes it.

    Yields
    ------
    tuple of str
        Words, as they are spelled.
    """
    for one in pattern.split(" / "):
        spelled = []
        for word in one.split():
            stem, bar, endings = word.partition("|")
            spelled.append([stem + end for end in endings.split(",")] if bar else [word])
        yield from product(*spelled)


def _folded(words: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    """Give the forms without accents: ``ä`` as ``a`` and as ``ae``."""
    yield tuple(fold(word) for word in words)
    two = tuple(fold(word.lower().translate(_TWO_LETTERS)) for word in words)
    yield two


def _speaks_of_life(means: tuple[str, ...]) -> bool:
    known = lexicon()
    return any(
        entry.sort is Sort.LIFE or entry.life_safety not in {"", "unknown"}
        for word in means
        for entry in known.entries.get((word,), ())
    )


@cache
def numerals(name: str) -> dict[tuple[str, ...], str]:
    """Return the numbers from 1 to 99 in the words of a language, folded, with their figures."""
    return {
        tuple(form): row["number"]
        for row in rows("numerals")
        if row["tongue"] == name
        for spelled in row["words"].split(" / ")
        for form in _folded(tuple(spelled.split()))
    }


def _tongue(name: str) -> Tongue:
    known = lexicon()
    found: dict[tuple[str, ...], tuple[str, ...]] = {}
    for row in rows(f"tongue_{name}"):
        means = tuple(p for w in row["means"].split() for p in known.words.get(w, (w,)))
        for spelled in forms(row["pattern"]):
            for words in _folded(spelled):
                found.setdefault(words, means)
    firsts: dict[str, list[Pattern]] = {}
    for words, means in found.items():
        firsts.setdefault(words[0], []).append((words, means))
    single = {words[0]: means for words, means in found.items() if len(words) == 1}
    quiet = frozenset(word for word, means in single.items() if set(means) <= known.noise)
    unsure = frozenset(
        word
        for word, means in single.items()
        for entry in known.entries.get(means, ())
        if entry.sort in {Sort.HEDGE, Sort.SOFT, Sort.BY, Sort.VIA} and entry.pattern == means
    )
    telling = frozenset(
        word
        for word, means in single.items()
        if means == (PLACE,)
        or any(e.sort is Sort.THING and e.pattern == means for e in known.entries.get(means, ()))
    )
    words = frozenset(word for pattern in found for word in pattern if word != "#")
    numbers = numerals(name)
    return Tongue(
        name,
        {
            first: tuple(sorted(some, key=lambda pattern: -len(pattern[0])))
            for first, some in firsts.items()
        },
        numbers,
        words | {word for number in numbers for word in number},
        frozenset(
            word
            for word in words - quiet - unsure
            if len(word) >= _PART or (len(word) == _PART - 1 and word in telling)
        ),
        quiet,
        frozenset(
            word
            for word, means in single.items()
            if len(word) >= _PART
            and word not in known.vocabulary
            and word not in known.words
            and _speaks_of_life(means)
        ),
    )


@cache
def english() -> Tongue:
    """Return what English adds to its lexicon: numbers in words."""
    numbers = numerals(ENGLISH)
    return Tongue(
        ENGLISH, numerals=numbers, words=frozenset(word for number in numbers for word in number)
    )


@cache
def tongues() -> tuple[Tongue, ...]:
    """Return all languages but English."""
    return tuple(_tongue(name) for name in TONGUES)
