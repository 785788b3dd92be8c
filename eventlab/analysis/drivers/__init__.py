"""What the alarms of a point follow: sun, clock, temperature, wind, rain, arming."""

from eventlab.analysis.drivers.find import find

__all__ = ["find"]
