"""How often the dates of made-up exports are read right, asked about, or read wrong.

``python -m tests.benchmarks.dates [EXPORTS]`` prints a table, 12 exports of each form unless told
otherwise. What is asked is answered with the truth, and counts as wrong where that reads wrong.
"""

import sys
from collections import Counter
from collections.abc import Iterator

from eventlab.intake import read_bytes
from eventlab.meaning import Known, read_log
from tests.meaning.dated_exports import FORMS, LANGUAGES, Export, make


def judge(export: Export) -> tuple[str, str]:
    """Return ``right``, ``asked``, ``unread`` or ``wrong``, and the questions or what is wrong."""
    sheet = read_bytes(export.text.encode(), name="log.csv")
    answers: dict[str, str] = {}
    for _ in range(6):
        known = Known(site="A", time_zone="UTC", answers=answers)
        found = read_log(sheet, known)
        if not found.questions:
            break
        for question in found.questions:
            if question.choices and export.answers[question.key] not in {
                choice.value for choice in question.choices
            }:
                more = question.key == "year" and len(question.choices) == 6
                if not more:
                    return "wrong", f"the truth is no choice: {question}"
            answers[question.key] = export.answers[question.key]
    else:
        return "wrong", f"asked for ever: {found.questions}"
    walls = found.events.sort("row", "piece")["wall"].to_list()
    if len(walls) != len(export.truth):
        return "wrong", f"{len(walls)} rows for {len(export.truth)}"
    pairs = zip(walls, export.truth, strict=True)
    other = [(wall, true) for wall, true in pairs if wall is not None and wall != true]
    if other:
        return "wrong", f"{len(other)} of {len(walls)}, such as {other[0]} ({answers})"
    if walls.count(None) > export.truth.count(None):
        return "unread", str(walls.count(None))
    return ("asked", " ".join(answers)) if answers else ("right", "")


def exports(each: int, seed: int = 0) -> Iterator[tuple[str, str, int, Export]]:
    """Make exports of each form, in the languages in turn."""
    for place, (name, form) in enumerate(FORMS.items()):
        for number in range(each):
            language = LANGUAGES[number % len(LANGUAGES)]
            one = seed + place * 100_000 + number
            yield name, language, one, make(one, form, language)


def main() -> None:
    """Print the table."""
    each = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    table: dict[str, Counter[str]] = {}
    total: Counter[str] = Counter()
    for name, language, number, export in exports(each, seed):
        verdict, why = judge(export)
        table.setdefault(name, Counter())[verdict] += 1
        total[verdict] += 1
        if verdict in {"wrong", "unread"}:
            print(f"{verdict}: {name}, {language}, {number}: {why}")
    kinds = ("right", "asked", "unread", "wrong")
    for name, found in [*table.items(), ("all", total)]:
        print(f"{name:<24}" + "".join(f"{found[kind]:>8}" for kind in kinds))


if __name__ == "__main__":
    main()
