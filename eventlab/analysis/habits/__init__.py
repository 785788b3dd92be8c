"""When places are opened and closed, learned from each place itself; and what was out of it."""

from eventlab.analysis.habits.bands import bands
from eventlab.analysis.habits.cases import Habits, habits
from eventlab.analysis.habits.find import find
from eventlab.analysis.habits.rhythm import CLOSED_DAY

__all__ = ["CLOSED_DAY", "Habits", "bands", "find", "habits"]
