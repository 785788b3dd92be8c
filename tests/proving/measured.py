"""The table of how often each pattern is right: each measurement keeps rows of its own patterns."""

import csv
from collections.abc import Sequence
from pathlib import Path

TABLE = Path(__file__).parents[2] / "eventlab" / "analysis" / "data" / "confidence.csv"
HEAD = ("pattern", "margin", "events_min", "confidence", "cases", "basis")


def written() -> list[list[str]]:
    """Give the rows of the table as they stand."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))[1:]


def text(rows: Sequence[Sequence[object]]) -> list[list[str]]:
    """Give measured rows as the table writes them."""
    return [["" if value is None else str(value) for value in row] for row in rows]


def put(rows: Sequence[Sequence[object]]) -> Path:
    """Replace the rows of the measured patterns; those of others stay where they are."""
    patterns = {str(row[0]) for row in rows}
    kept = [row for row in written() if row[0] not in patterns]
    with TABLE.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file, lineterminator="\n").writerows([HEAD, *kept, *text(rows)])
    return TABLE
