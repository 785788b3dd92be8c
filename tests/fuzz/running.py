"""Running many inputs: what went wrong with which number, and how long the slowest took."""

import time
import traceback
from dataclasses import dataclass, field
from functools import cache

from tests.fuzz.inputs import make
from tests.fuzz.reading import SAMPLES, read_whole

LIMIT_S = 2.0  # of work on one input


@cache
def _warm():
    """Load what the first file of a process waits for: tables and libraries."""
    for path in sorted((SAMPLES / "logs").iterdir())[:3]:
        read_whole(path.read_bytes()[:20_000], path.name)


@dataclass
class Ran:
    """What became of some inputs."""

    number: int = 0
    refused: int = 0
    asked: int = 0
    rows: int = 0
    slowest_s: float = 0.0
    wrong: list[str] = field(default_factory=list)

    def add(self, other):
        """Join what became of others."""
        self.number += other.number
        self.refused += other.refused
        self.asked += other.asked
        self.rows += other.rows
        self.slowest_s = max(self.slowest_s, other.slowest_s)
        self.wrong += other.wrong

    def one(self, called, data, *, sheet_only=False):
        """Read one input."""
        _warm()
        self.number += 1
        began = time.process_time()
        try:
            sheet, reading = read_whole(data, "log.csv", sheet_only=sheet_only)
        except KeyboardInterrupt:
            raise
        except BaseException:  # noqa: BLE001  # also a panic of the library below
            self.wrong.append(f"{called}: {traceback.format_exc(limit=-4)}")
            return
        took = time.process_time() - began
        self.slowest_s = max(self.slowest_s, took)
        self.refused += sheet is None
        self.asked += bool(getattr(reading, "questions", ()))
        self.rows += sheet.rows if sheet else 0
        if took > LIMIT_S:
            self.wrong.append(f"{called}: {took:.1f} s for {len(data)} bytes")


def run(first, number, *, sheet_only=False):
    """Run the inputs of these numbers."""
    ran = Ran()
    for n in range(first, first + number):
        ran.one(n, make(n), sheet_only=sheet_only)
    return ran
