"""Other languages of logs: their words, each with the English words of the lexicon it stands for.

A table ``tongue_*.csv`` holds patterns, ``numerals.csv`` numbers in words. One set of rules, the
lexicon's, decides for all languages; a table here only says what its words are there.

- ``pattern``: one or more wordings, divided by `` / ``. A word may carry its endings:
  ``otwart|y,a`` is ``otwarty`` and ``otwarta``, ``alarm|,u`` is ``alarm`` and ``alarmu``. ``#`` at
  its end asks for a number behind (``eingang #`` is an input, ``eingang`` a place), ``zone#`` at
  its beginning for the number of a point before. ``brand*`` is the beginning of words that speak of
  life safety, whatever they say of it; ``*küche`` what the names of places end in.
- ``means``: words of the lexicon, or ``p`` for a place.
- ``example``, ``kind``, ``phase``, ``mode``: a wording with the first form of the pattern in it,
  and what it says; without a kind it must stay unread.

All wordings are common practice, from memory.
"""

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache, cached_property
from itertools import product

from eventlab.meaning.lexicon import Sort, lexicon
from eventlab.meaning.tables import rows

ENGLISH = "english"
TONGUES = ("german", "french", "spanish", "italian", "dutch", "polish", "swedish")
PLACE = "p"
UNKNOWN_HEAD = "*"
"""Stands for the unknown beginning of a word that ends in a place or an opening: ``Waschküche``."""

_COMPOUNDING = {"german": ("s", "es", "n", "en", "e"), "dutch": ("s", "e", "en"), "swedish": ("s",)}
_ELIDING = frozenset({"french", "italian"})
_ELIDED = 6
_PART, _FRONT = 4, 3
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
    stems : tuple of str
        Beginnings of words that may speak of life safety.
    behind_point : dict
        Patterns that count behind the number of a point.
    ends : tuple of str
        What the names of places end in, longest first.
    heads : frozenset of str
        Words that a longer word may begin with.
    """

    name: str
    patterns: dict[str, tuple[Pattern, ...]] = field(default_factory=dict)
    numerals: dict[tuple[str, ...], str] = field(default_factory=dict)
    words: frozenset[str] = frozenset()
    parts: frozenset[str] = frozenset()
    quiet: frozenset[str] = frozenset()
    life: frozenset[str] = frozenset()
    stems: tuple[str, ...] = ()
    behind_point: dict[str, tuple[Pattern, ...]] = field(default_factory=dict)
    ends: tuple[str, ...] = ()
    heads: frozenset[str] = frozenset()
    _known: dict[str, tuple[str, ...]] = field(default_factory=dict)

    @cached_property
    def counted(self) -> frozenset[str]:
        """Every word of a number."""
        return frozenset(word for number in self.numerals for word in number)

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
            return self.compound(plain) or self._ending(plain)
        return ()

    def compound(self, word: str) -> tuple[str, ...]:
        """Return the words that a longer one is made of, folded; nothing where it is none."""
        if word in self.parts:
            return (word,)
        for end in range(len(word) - 3, 2, -1):
            head = word[:end]
            if head not in self.heads:
                continue
            for link in ("", *_COMPOUNDING[self.name]):
                if word.startswith(link, end):
                    rest = self.compound(word[end + len(link) :])
                    if rest:
                        return (head, *rest)
        return ()

    def _ending(self, word: str) -> tuple[str, ...]:
        """Take the place or the opening that an unknown word ends in."""
        for end in self.ends:
            if word.endswith(end) and len(word) >= len(end) + _FRONT:
                return () if word.startswith(self.stems) else (UNKNOWN_HEAD, end)
        return ()

    def may_speak_of_life(self, word: str) -> bool:
        """Tell whether a word that is not known begins as words of life safety do."""
        return bool(self.stems) and fold(word).startswith(self.stems)

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


def _folded(words: tuple[str, ...], name: str) -> Iterator[tuple[str, ...]]:
    """Give the forms without accents, ``ä`` as ``a`` and as ``ae``; no elided article is kept."""
    if name in _ELIDING:
        words = tuple(word.rpartition("'")[2] or word for word in words)
    yield tuple(fold(word) for word in words)
    yield tuple(fold(word.lower().translate(_TWO_LETTERS)) for word in words)


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
        for form in _folded(tuple(spelled.split()), name)
    }


def _tongue(name: str) -> Tongue:
    known = lexicon()
    found: dict[tuple[str, ...], tuple[str, ...]] = {}
    stems: set[str] = set()
    ends: set[str] = set()
    for row in rows(f"tongue_{name}"):
        means = tuple(p for w in row["means"].split() for p in known.words.get(w, (w,)))
        for spelled in forms(row["pattern"]):
            for words in _folded(spelled, name):
                if words[0].endswith("*"):
                    stems.add(words[0][:-1])
                elif words[0].startswith("*"):
                    ends.add(words[0][1:])
                else:
                    found.setdefault(words, means)
    behind = {words[1:]: means for words, means in found.items() if words[0] == _POINT}
    found = {words: means for words, means in found.items() if words[0] != _POINT}
    single = {words[0]: means for words, means in found.items() if len(words) == 1}
    sorts = {
        word: [entry for entry in known.entries.get(means[:2], ()) if entry.pattern == means]
        for word, means in single.items()
    }

    def sorted_as(word: str, *wanted: Sort, but: frozenset[str] = frozenset()) -> bool:
        return any(e.sort in wanted and e.value not in but for e in sorts[word])

    _keep_alarms(found, single)
    quiet = frozenset(word for word, means in single.items() if set(means) <= known.noise)
    unsure = {w for w in single if sorted_as(w, Sort.HEDGE, Sort.SOFT, Sort.BY, Sort.VIA)}
    short = {
        word
        for word in single
        if len(word) == _PART - 1
        and (single[word] == (PLACE,) or sorted_as(word, Sort.THING) or word in _SHORT)
    }
    parts = frozenset({word for word in single if len(word) >= _PART} | short) - quiet - unsure
    states = {w for w in parts if sorted_as(w, Sort.STATE, but=frozenset({"alarm", "fail"}))}
    every = [*found, *behind, *numerals(name)]
    tongue = Tongue(
        name,
        _by_first(found),
        numerals(name),
        frozenset(word for pattern in every for word in pattern if word != "#"),
        parts,
        quiet,
        frozenset(
            word
            for word, means in single.items()
            if len(word) >= _PART
            and word not in known.vocabulary
            and word not in known.words
            and _speaks_of_life(means)
        ),
        tuple(sorted(stems)),
        _by_first(behind),
        tuple(sorted(ends, key=lambda word: (-len(word), word))),
        frozenset(parts - states),
    )
    _add_compounds(tongue, found, single)
    return tongue


def _keep_alarms(
    found: dict[tuple[str, ...], tuple[str, ...]], single: dict[str, tuple[str, ...]]
) -> None:
    """Let an alarm of life safety be told as one: beside a mains loss it must not be lost."""
    known = lexicon()
    alarms = tuple(word for word, means in single.items() if means == ("alarm",))
    for words, means in found.items():
        subject = any(
            entry.sort is Sort.THING and entry.life_safety and entry.pattern == means
            for entry in known.entries.get(means[:2], ())
        )
        if subject and any(word.endswith(alarms) for word in words):
            found[words] = (*means, "alarm")
            if len(words) == 1:
                single[words[0]] = found[words]


def _add_compounds(
    tongue: Tongue,
    found: dict[tuple[str, ...], tuple[str, ...]],
    single: dict[str, tuple[str, ...]],
) -> None:
    """Let compounds that stand within a pattern be read by themselves too."""
    if tongue.name not in _COMPOUNDING:
        return
    for word in {word for pattern in found for word in pattern} - single.keys():
        made = tongue.compound(word)
        if made:
            means = tuple(part for one in made for part in single[one])
            tongue.patterns[word] = (*tongue.patterns.get(word, ()), ((word,), means))


_SHORT = frozenset({"fel", "weg", "hot"})
"""Short words that stand at the end of longer ones: ``batterifel``."""
_POINT = "zone#"


def _by_first(patterns: dict[tuple[str, ...], tuple[str, ...]]) -> dict[str, tuple[Pattern, ...]]:
    """Give patterns by their first word, longest first."""
    firsts: dict[str, list[Pattern]] = {}
    for words, means in patterns.items():
        firsts.setdefault(words[0], []).append((words, means))
    return {
        first: tuple(sorted(some, key=lambda pattern: -len(pattern[0])))
        for first, some in firsts.items()
    }


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


@cache
def _life() -> re.Pattern[str]:
    return re.compile("|".join(sorted({word for tongue in tongues() for word in tongue.life})))


def speak_of_life(word: str, tongue: Tongue) -> bool:
    """Tell whether a word speaks of life safety in another language than one.

    Parameters
    ----------
    word : str
        In small letters.
    tongue : Tongue
        The language that does not know it.
    """
    if not _life().search(fold(word)):
        return False
    return any(other.speaks_of_life(word) for other in tongues() if other is not tongue)
