"""Is it still listening? What must be alive at a site, what of it stands, and what was seen of it."""

from eventlab.analysis.alive.families import FAMILIES, Family
from eventlab.analysis.alive.lanes import Lanes, lanes
from eventlab.analysis.alive.walked import Walked, walked

__all__ = ["FAMILIES", "Family", "Lanes", "Walked", "lanes", "walked"]
