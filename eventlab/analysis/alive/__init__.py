"""Is it still listening? What must be alive at a site, and how each of it stands."""

from eventlab.analysis.alive.families import FAMILIES, Family
from eventlab.analysis.alive.lanes import Lanes, lanes
from eventlab.analysis.alive.walked import Walked, walked

__all__ = ["FAMILIES", "Family", "Lanes", "Walked", "lanes", "walked"]
