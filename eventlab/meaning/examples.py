"""Wordings with their meaning, for a model to learn from: what the lexicon makes of itself.

Things and states are put together as the rules allow, phrases stand alone, spellings are drawn
from those that stand for a word; each wording is then read by the tables, and what they read is
its meaning. Beside them stand wordings that mean nothing to an alarm log: names of places, other
matters of a building, words that nobody knows.
"""

import random
from collections import defaultdict
from collections.abc import Iterator
from functools import cache

import polars as pl

from eventlab.meaning.lexicon import Entry, Lexicon, Sort, lexicon
from eventlab.meaning.tables import rows
from eventlab.meaning.wording import understand_words
from eventlab.schema import MOMENTS, Schema

EXAMPLES: Schema = {
    "text": pl.String(),
    "kind": pl.String(),
    "phase": pl.String(),
    "plain": pl.Boolean(),
}
"""``kind`` and ``phase`` are empty for what means nothing; ``plain`` is true for wordings that
stand in the tables as they are, and false for what was only put together."""

_SEED = 1
_OF_THING = 5
_OF_STATE = 10
_TURNED = 0.15
"""Share of wordings with the state before the thing."""
_NAMES = 120
_MADE_UP = 150
_SYLLABLES = ("ba", "lo", "mi", "tre", "qua", "zor", "pel", "fin", "dar", "su", "ken", "wo")


@cache
def examples() -> pl.DataFrame:
    """Return wordings and what they mean; the same whenever the tables are the same.

    Returns
    -------
    polars.DataFrame
        Columns of ``EXAMPLES``, each text once.
    """
    known = lexicon()
    draw = random.Random(_SEED)  # noqa: S311  nothing secret is drawn
    plain = dict.fromkeys(_plain(known, draw), True)
    texts = plain | {text: False for text in _put_together(known, draw) if text not in plain}
    read = understand_words(pl.Series(list(texts))).unique("text", keep="first")
    told = read.filter(pl.col("kind").is_not_null()).select(
        "text", pl.col("kind", "phase").cast(pl.String)
    )
    moment = pl.col("kind").is_in([str(kind) for kind in MOMENTS])
    told = told.with_columns(phase=pl.when(moment).then(pl.lit("moment")).otherwise("phase"))
    told = told.with_columns(plain=pl.col("text").replace_strict(texts, return_dtype=pl.Boolean))
    nothing = pl.DataFrame({"text": list(dict.fromkeys(_nothing(known, draw)))}).with_columns(
        kind=pl.lit(""), phase=pl.lit(""), plain=pl.lit(value=False)
    )
    found = pl.concat([told, nothing.join(told, on="text", how="anti")])
    return found.select(EXAMPLES.keys()).sort("text")


def _entries(known: Lexicon) -> list[Entry]:
    return [entry for some in known.entries.values() for entry in some] + list(known.alone.values())


class _Spelling:
    """Writes the words of a pattern in one of their spellings."""

    def __init__(self, known: Lexicon, draw: random.Random) -> None:
        self._draw = draw
        self._as: dict[str, list[str]] = defaultdict(list)
        for word, means in known.words.items():
            if len(means) == 1:
                self._as[means[0]].append(word)

    def __call__(self, entry: Entry) -> str:
        return " ".join(self._one(word) for word in entry.pattern)

    def _one(self, word: str) -> str:
        others = self._as.get(word)
        return self._draw.choice(others) if others and self._draw.random() < 0.5 else word


def _plain(known: Lexicon, draw: random.Random) -> Iterator[str]:
    spelt = _Spelling(known, draw)
    for table in ("things", "states", "rules", "phrases"):
        for row in rows(table):
            yield row["example"]
    for entry in _entries(known):
        if entry.sort is Sort.PHRASE:
            yield " ".join(entry.pattern)
            yield spelt(entry)
            yield _placed(spelt(entry), "", draw)
        elif entry.sort in {Sort.THING, Sort.STATE}:
            yield spelt(entry)


def _put_together(known: Lexicon, draw: random.Random) -> Iterator[str]:
    spelt = _Spelling(known, draw)
    things: dict[str, list[Entry]] = defaultdict(list)
    states: dict[str, list[Entry]] = defaultdict(list)
    for entry in _entries(known):
        if entry.sort is Sort.THING:
            things[entry.value].append(entry)
        elif entry.sort is Sort.STATE:
            for name in {entry.value, entry.group} - {""}:
                states[name].append(entry)
    of_thing: dict[str, list[tuple[str, str, str]]] = defaultdict(list)
    of_state: dict[str, list[tuple[str, str, str]]] = defaultdict(list)
    for rule in known.rules:
        of_thing[rule[0]].append(rule)
        of_state[rule[1]].append(rule)

    def joined(thing: Entry | None, state: Entry | None, at: str) -> str:
        parts = [spelt(one) for one in (thing, state) if one is not None]
        if draw.random() < _TURNED:
            parts.reverse()
        return _placed(" ".join(parts), at, draw)

    for name, some in things.items():
        for thing in some:
            for _, state, at in draw.choices(of_thing[name], k=_OF_THING if of_thing[name] else 0):
                yield joined(thing, draw.choice(states[state]) if states[state] else None, at)
    for name, some in states.items():
        for said in some:
            rules = [rule for rule in of_state[name] if things[rule[0]]]
            for what, _, at in draw.choices(rules, k=_OF_STATE if rules else 0):
                yield joined(draw.choice(things[what]), said, at)


def _placed(text: str, at: str, draw: random.Random) -> str:
    """Put a wording beside the number of a point, a module or a user, or leave it alone."""
    chance = draw.random()
    if at == "point" or chance < 0.25:
        number = draw.randint(1, 99)
        return draw.choice([f"zone {number} {text}", f"{text} zone {number}", f"{text} {number}"])
    if at == "user" or chance < 0.32:
        return f"{text} user {draw.randint(1, 99)}"
    if at == "module":
        return f"{draw.choice(['expander', 'module', 'keypad'])} {draw.randint(1, 9)} {text}"
    return text


def _nothing(known: Lexicon, draw: random.Random) -> Iterator[str]:
    places = [
        " ".join(entry.pattern)
        for entry in _entries(known)
        if entry.sort in {Sort.PLACE, Sort.NAME}
    ]
    yield from places
    for _ in range(_NAMES):
        yield f"{draw.choice(places)} {draw.choice(places)}"
    for row in rows("other_matters"):
        yield row["wording"]
    for _ in range(_MADE_UP):
        words = draw.randint(1, 3)
        yield " ".join(
            "".join(draw.choices(_SYLLABLES, k=draw.randint(1, 3))) for _ in range(words)
        )
