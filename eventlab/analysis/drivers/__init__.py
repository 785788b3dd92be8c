"""What the alarms of a point follow: sun, clock, temperature, wind, rain, arming."""

from eventlab.analysis.drivers.find import find
from eventlab.analysis.drivers.inside import inside
from eventlab.analysis.drivers.profile import CHARTS, Profile, profile
from eventlab.analysis.drivers.screen import LEAST_DAYS

__all__ = ["CHARTS", "LEAST_DAYS", "Profile", "find", "inside", "profile"]
