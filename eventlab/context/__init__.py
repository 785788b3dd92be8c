"""Site lists, zone schedules, weather, visits and outcomes as values; and the sun."""

from eventlab.context.context import Context
from eventlab.context.parse import Parsed, parse
from eventlab.context.recognise import recognise

__all__ = ["Context", "Parsed", "parse", "recognise"]
