"""Drawn numbers that are the same on every machine, whatever else was drawn before.

Each thing that happens draws from a stream of its own, named by what it is for, so that a
longer run or another choice of sites changes nothing else. Only the bits of PCG64 are used,
which numpy promises to keep; shapes come from sums and comparisons, hardly from functions
that mathematical libraries round differently.
"""

import math
import zlib
from collections.abc import Sequence
from typing import TypeVar

import numpy as np

T = TypeVar("T")


class Draw:
    """One stream of draws.

    Parameters
    ----------
    seed : int
        The seed of the whole simulation.
    names : str or int
        What the stream is for; the same names give the same stream.
    """

    def __init__(self, seed: int, *names: str | int) -> None:
        key = zlib.crc32("/".join(str(name) for name in names).encode())
        self._random = np.random.Generator(np.random.PCG64([seed, key])).random

    def share(self) -> float:
        """Return a number from 0 to 1."""
        return float(self._random())

    def chance(self, share: float) -> bool:
        """Return true with a probability."""
        return self.share() < share

    def between(self, low: float, high: float) -> float:
        """Return a number between two others."""
        return low + (high - low) * self.share()

    def whole(self, low: int, high: int) -> int:
        """Return a whole number from low to high, both included."""
        return low + int(self.share() * (high - low + 1))

    def bell(self, mean: float, spread: float, low: float, high: float) -> float:
        """Return a bell-shaped number about a mean, kept within limits.

        The sum of twelve uniform numbers has variance 1 and needs no logarithm.
        """
        total = sum(self.share() for _ in range(12)) - 6.0
        return min(max(mean + spread * total, low), high)

    def wait(self, mean: float) -> float:
        """Return a waiting time of a process without memory, to the millionth."""
        return round(-mean * math.log(1.0 - self.share()), 6)

    def pick(self, choices: Sequence[T]) -> T:
        """Return one of several, all alike."""
        return choices[self.whole(0, len(choices) - 1)]

    def weighted(self, choices: Sequence[tuple[T, float]]) -> T:
        """Return one of several by weight."""
        left = self.share() * sum(weight for _, weight in choices)
        for choice, weight in choices:
            left -= weight
            if left < 0:
                return choice
        return choices[-1][0]
