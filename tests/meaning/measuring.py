"""Measure how many made-up exports are read right, asked about, refused in part, or read wrong.

``python -m tests.meaning.measuring [how many] [seed]``.
"""

import random
import sys
from collections import Counter

from tests.meaning.exports import reading
from tests.meaning.written import Layout, happenings, layouts, written

FIELDS = ("wall", "kind", "phase", "zone", "area", "person")


def said(found) -> Counter:
    """Return the events of a reading as comparable tuples, unread ones by their time alone."""
    return Counter(tuple(event[name] for name in FIELDS) for event in found.events.to_dicts())


def judge(text: str, truth: list[tuple], **known) -> tuple[str, list[str]]:
    """Say what became of one export: right, asked, refused (rows kept unread), or wrong."""
    found = reading(text, **known)
    if found.questions:
        return "asked", [question.key for question in found.questions]
    told = said(found)
    if told == Counter(truth):
        return "right", []
    read = Counter({key: n for key, n in told.items() if key[1] != "unread"})
    if not read - Counter(truth) and found.unread:
        return "refused", []
    return "wrong", []


def answerable(text: str, truth: list[tuple], depth: int = 3, **known) -> bool:
    """Tell whether one of the choices of each question leads to the truth."""
    found = reading(text, **known)
    if not found.questions:
        return said(found) == Counter(truth)
    if not depth:
        return False
    first = found.questions[0]
    given = known.pop("answers", {})
    return any(
        answerable(text, truth, depth - 1, answers={**given, first.key: choice.value}, **known)
        for choice in first.choices
    )


def export(seed: int, layout: Layout) -> tuple[str, list[tuple]]:
    """Make one export and its truth."""
    rng = random.Random(seed)
    return written(rng, happenings(rng), layout)


def main() -> None:
    """Count and print."""
    many = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    count: Counter = Counter()
    keys: Counter = Counter()
    for number, layout in layouts(seed, many=many):
        text, truth = export(seed * 100_000 + number, layout)
        verdict, asked = judge(text, truth)
        headed = "headed" if layout.language else "bare"
        count[headed, verdict] += 1
        keys.update((headed, key) for key in asked)
        if asked and number % 5 == 0:
            count[headed, "asked, looked at"] += 1
            count[headed, "asked, a choice is right"] += answerable(text, truth)
        if verdict in {"wrong", "refused"}:
            print(number, verdict, layout)
    print(many, "exports, seed", seed)
    for key, value in sorted(count.items()):
        print(*key, value)
    print(dict(keys))


if __name__ == "__main__":
    main()
