"""Events in one time-series table, every row kept once, exactly."""

from eventlab.store.store import Store
from eventlab.store.table import fetch
from eventlab.store.values import Export, Problem, Rebuilt, Taken, Tidied

__all__ = ["Export", "Problem", "Rebuilt", "Store", "Taken", "Tidied", "fetch"]
