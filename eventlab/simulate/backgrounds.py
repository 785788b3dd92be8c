"""Alarms that follow nothing: on which days they fall."""

import numpy as np
from numpy.typing import NDArray

BACKGROUNDS = ("poisson", "bad-days", "bad-spells", "season")
"""Independent; several on bad days; spells of one to five bad days; bad days in a season."""


def bad_days(
    draw: np.random.Generator,
    days: int,
    many: int,
    background: str,
    *,
    hours: NDArray[np.float64] | None = None,
) -> NDArray[np.int64]:
    """Draw the day of each of so many alarms.

    Parameters
    ----------
    draw : numpy.random.Generator
        Stream of the point.
    days : int
        How many days there are.
    many : int
        How many alarms.
    background : str
        One of ``BACKGROUNDS``.
    hours : numpy.ndarray, optional
        Armed time of each day, by which independent alarms are shared out; alike where left out.

    Returns
    -------
    numpy.ndarray of int
        Numbers of days, in no order.
    """
    if background == "poisson":
        share = None if hours is None else hours / hours.sum()
        return draw.choice(days, size=many, p=share).astype(np.int64)
    weight = np.ones(days)
    if background == "season":
        turn = draw.random() * 2 * np.pi
        weight = 3.5 + 2.5 * np.cos(2 * np.pi * np.arange(days) / 365.25 + turn)
    longest = 5 if background == "bad-spells" else 1
    day: list[int] = []
    while len(day) < many:
        first = int(draw.choice(days, p=weight / weight.sum()))
        for step in range(int(draw.integers(1, longest + 1))):
            day += [min(first + step, days - 1)] * int(draw.geometric(0.4))
    return np.array(day[:many], dtype=np.int64)
