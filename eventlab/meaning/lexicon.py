"""The words of the trade: what stands in ``data/`` as patterns ready to be looked up.

- ``words``: spellings and abbreviations, each brought to the word the patterns are written in.
- ``things``: what may be spoken of. A *condition* (tamper, mains, battery) decides before a
  *subject* (fire, panic, intruder), a subject before a *carrier* (zone, keypad, siren).
- ``states``: what may be said of it (fail, restored, low), each with its group.
- ``rules``: thing and state to kind and phase; ``at`` narrows a rule to what carries the thing.
- ``phrases``: fixed wordings; those marked ``alone`` count only where nothing else is said, those
  with a ``problem`` have two readings and are never decided.
- ``uses``: single words that change nothing (noise, aside), say how (mode), make a reading unsafe
  (hedge; soft: but not within the name of a numbered point), belong to names of places (name,
  place, head), may speak of life safety (life), or open an operator's note (handling).
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum, auto
from functools import cache

from eventlab.meaning.tables import data_version, rows
from eventlab.schema import Kind, Mode, Phase

__all__ = ["Entry", "Lexicon", "Reading", "Sort", "data_version", "lexicon"]


class Sort(Enum):
    """What a stretch of words is; earlier ones win where one pattern is several."""

    PHRASE = auto()
    NAME = auto()
    PLACE = auto()
    THING = auto()
    STATE = auto()
    MODE = auto()
    BY = auto()
    VIA = auto()
    NOISE = auto()
    ASIDE = auto()
    HEDGE = auto()
    SOFT = auto()
    LIFE = auto()


@dataclass(frozen=True, slots=True)
class Reading:
    """What a rule or a phrase makes of the words; a problem where they have two readings."""

    kind: Kind
    phase: Phase
    mode: Mode | None = None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """One pattern of the lexicon.

    Parameters
    ----------
    sort : Sort
        What it is.
    value : str
        The thing, the state, the mode, or the use.
    pattern : tuple of str
        Its words.
    rank : str
        Of a thing: ``condition``, ``subject`` or ``carrier``.
    group : str
        Of a state: ``up``, ``good``, ``bad`` or nothing. Of a phrase that counts alone: ``yes``,
        or ``unpointed`` where it does not count beside a numbered point either.
    number : str
        Of a thing: what a number behind it is: ``zone``, ``area``, ``user``, ``own`` (with the
        words of the pattern a label), another noun of a label, or nothing.
    life_safety : str
        Of a thing or a phrase: the kind of life safety it speaks of.
    reading : Reading or None
        Of a phrase.
    """

    sort: Sort
    value: str
    pattern: tuple[str, ...]
    rank: str = ""
    group: str = ""
    number: str = ""
    life_safety: str = ""
    reading: Reading | None = None


@dataclass(frozen=True)
class Lexicon:
    """All patterns and rules.

    Parameters
    ----------
    words : dict
        Spelling to the words it stands for.
    entries : dict
        First two words of a pattern (or its one) to its entries, longest first.
    alone : dict
        Patterns that count only where nothing else is said.
    handling : dict
        First word to patterns that open a note of an operator.
    rules : dict
        (thing, state, at) to a reading.
    noise : frozenset of str
        Words that may stand within any pattern.
    skipped : frozenset of str
        The same, and the marks that join words: ``entry/exit``.
    heads : frozenset of str
        Words that before a place belong to its name: ``server room``, ``bell tower``.
    places : frozenset of str
        Words for places that stand in no other pattern.
    vocabulary : frozenset of str
        Every word that stands in a pattern.
    """

    words: dict[str, tuple[str, ...]]
    entries: dict[tuple[str, ...], tuple[Entry, ...]]
    alone: dict[tuple[str, ...], Entry]
    handling: dict[str, tuple[tuple[str, ...], ...]]
    rules: dict[tuple[str, str, str], Reading]
    noise: frozenset[str]
    skipped: frozenset[str]
    heads: frozenset[str]
    places: frozenset[str]
    vocabulary: frozenset[str]


def _used(use: str) -> frozenset[str]:
    """Return the words of one use."""
    return frozenset(row["pattern"] for row in rows("uses") if row["use"].partition(":")[0] == use)


def _spellings() -> dict[str, tuple[str, ...]]:
    return {row["word"]: tuple(row["means"].split()) for row in rows("words")}


def _reading(row: dict[str, str]) -> Reading:
    if row["problem"]:
        return Reading(Kind.UNREAD, Phase.MOMENT, problem=row["problem"])
    return Reading(
        Kind(row["kind"]), Phase(row["phase"]), Mode(row["mode"]) if row["mode"] else None
    )


_USES = {
    "by": Sort.BY,
    "via": Sort.VIA,
    "noise": Sort.NOISE,
    "aside": Sort.ASIDE,
    "hedge": Sort.HEDGE,
    "soft": Sort.SOFT,
    "name": Sort.NAME,
    "place": Sort.PLACE,
    "life": Sort.LIFE,
}


def _entries(words: dict[str, tuple[str, ...]]) -> Iterator[tuple[Entry, bool]]:
    """Give every entry, and whether it counts alone only."""
    noise = _used("noise")

    def plain(text: str) -> tuple[str, ...]:
        every = [part for word in text.split() for part in words.get(word, (word,))]
        telling = [word for word in every if word not in noise]
        return tuple(telling if len(telling) > 1 else every)

    for row in rows("phrases"):
        pattern = plain(row["pattern"])
        alone = row["alone"]
        reading = _reading(row)
        yield (
            Entry(
                Sort.PHRASE,
                row["pattern"],
                pattern,
                group=alone,
                life_safety=row["life_safety"],
                reading=reading,
            ),
            bool(alone),
        )
    for row in rows("things"):
        yield (
            Entry(
                Sort.THING,
                row["thing"],
                plain(row["pattern"]),
                rank=row["rank"],
                number=row["number"],
                life_safety=row["life_safety"],
            ),
            False,
        )
    for row in rows("states"):
        pattern = plain(row["pattern"])
        yield Entry(Sort.STATE, row["state"], pattern, group=row["group"]), False
    for row in rows("uses"):
        use, _, value = row["use"].partition(":")
        if use not in {"handling", "head"}:
            sort = Sort.MODE if use == "mode" else _USES[use]
            life = value if sort is Sort.LIFE else ""
            yield Entry(sort, value or use, plain(row["pattern"]), life_safety=life), False


@cache
def lexicon() -> Lexicon:
    """Load the lexicon.

    Returns
    -------
    Lexicon
        Loaded once for the process.
    """
    words = _spellings()
    best: dict[tuple[str, ...], Entry] = {}
    alone: dict[tuple[str, ...], Entry] = {}
    for entry, only in _entries(words):
        table = alone if only else best
        held = table.get(entry.pattern)
        if held is None or entry.sort.value < held.sort.value:
            table[entry.pattern] = entry
    firsts: dict[tuple[str, ...], list[Entry]] = {}
    for entry in best.values():
        firsts.setdefault(entry.pattern[:2], []).append(entry)
    notes: dict[str, list[tuple[str, ...]]] = {}
    for row in rows("uses"):
        if row["use"] == "handling":
            pattern = tuple(p for w in row["pattern"].split() for p in words.get(w, (w,)))
            notes.setdefault(pattern[0], []).append(pattern)
    rules = {(row["thing"], row["state"], row["at"]): _reading(row) for row in rows("rules")}
    patterns = [*best, *alone, *(pattern for some in notes.values() for pattern in some)]
    count = Counter(word for pattern in patterns for word in set(pattern))
    return Lexicon(
        words,
        {
            first: tuple(sorted(some, key=lambda entry: -len(entry.pattern)))
            for first, some in firsts.items()
        },
        alone,
        {first: tuple(sorted(some, key=len, reverse=True)) for first, some in notes.items()},
        rules,
        _used("noise"),
        _used("noise") | {"/", "&"},
        _used("head"),
        frozenset(word for word in _used("place") if count[word] == 1),
        frozenset(word for pattern in patterns for word in pattern),
    )
