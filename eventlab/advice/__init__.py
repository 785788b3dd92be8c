"""What to check, what it costs in detection, how to prove it, and what to mind."""

from eventlab.advice.advise import advise
from eventlab.advice.points import described

__all__ = ["advise", "described"]
