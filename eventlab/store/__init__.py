"""Events in one time-series table, every row kept once, exactly."""

from eventlab.store.store import Store
from eventlab.store.table import fetch
from eventlab.store.taking import SitesMeet
from eventlab.store.values import DOUBLED, Export, Problem, Rebuilt, Taken, Tidied

__all__ = [
    "DOUBLED",
    "Export",
    "Problem",
    "Rebuilt",
    "SitesMeet",
    "Store",
    "Taken",
    "Tidied",
    "fetch",
]
