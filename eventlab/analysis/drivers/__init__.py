"""What the alarms of a point follow: sun, clock, temperature, wind, rain, arming."""

from eventlab.analysis.drivers.find import find
from eventlab.analysis.drivers.inside import inside

__all__ = ["find", "inside"]
