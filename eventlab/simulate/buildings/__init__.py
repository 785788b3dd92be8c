"""The buildings of Tarn Valley Libraries and Museums, each with its story."""

from eventlab.simulate.buildings.archive import ARCHIVE
from eventlab.simulate.buildings.boathouse import BOATHOUSE
from eventlab.simulate.buildings.branch_library import BRANCH_LIBRARY
from eventlab.simulate.buildings.glasshouse import GLASSHOUSE
from eventlab.simulate.buildings.mine_museum import MINE_MUSEUM
from eventlab.simulate.buildings.museum import MUSEUM
from eventlab.simulate.buildings.quiet import (
    CENTRAL_LIBRARY,
    HILLSIDE_LIBRARY,
    LOWER_READING_ROOM,
    UPPER_READING_ROOM,
)
from eventlab.simulate.buildings.school_museum import SCHOOL_MUSEUM
from eventlab.simulate.buildings.swimming_hall import SWIMMING_HALL
from eventlab.simulate.model import Building

BUILDINGS: tuple[Building, ...] = (
    CENTRAL_LIBRARY,
    GLASSHOUSE,
    ARCHIVE,
    BRANCH_LIBRARY,
    SWIMMING_HALL,
    BOATHOUSE,
    MUSEUM,
    MINE_MUSEUM,
    SCHOOL_MUSEUM,
    HILLSIDE_LIBRARY,
    UPPER_READING_ROOM,
    LOWER_READING_ROOM,
)
"""In the order of their ids."""

__all__ = ["BUILDINGS"]
