"""Site lists, zone schedules, weather, visits and outcomes as values; and the sun."""

from eventlab.context.climate import is_climate, parse_climate
from eventlab.context.context import Context
from eventlab.context.opening import open_hours
from eventlab.context.outcomes import PERSON, outcome_cause, outcome_words
from eventlab.context.parse import Parsed, parse
from eventlab.context.public_holidays import public_holidays, region_of
from eventlab.context.recognise import recognise
from eventlab.context.stations import Stations, at_sites, great_circle_km, nearest_stations

__all__ = [
    "PERSON",
    "Context",
    "Parsed",
    "Stations",
    "at_sites",
    "great_circle_km",
    "is_climate",
    "nearest_stations",
    "open_hours",
    "outcome_cause",
    "outcome_words",
    "parse",
    "parse_climate",
    "public_holidays",
    "recognise",
    "region_of",
]
