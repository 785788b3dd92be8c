"""What a context file of each role becomes, and what makes two of its rows one thing."""

from eventlab.schema import (
    OUTCOME,
    SCHEDULE,
    SITE,
    USER,
    VISIT,
    WEATHER,
    ZONE,
    Role,
    Schema,
)

SHAPES: dict[Role, Schema] = {
    Role.SITES: SITE,
    Role.ZONES: ZONE,
    Role.WEATHER: WEATHER,
    Role.VISITS: VISIT,
    Role.OUTCOMES: OUTCOME,
    Role.SCHEDULE: SCHEDULE,
    Role.USERS: USER,
}
KEYS: dict[Role, tuple[str, ...]] = {
    Role.SITES: ("site",),
    Role.ZONES: ("site", "zone", "area"),
    Role.WEATHER: ("site", "station", "at"),
    Role.VISITS: ("site", "at", "zones", "work"),
    Role.OUTCOMES: ("site", "at", "outcome"),
    Role.SCHEDULE: ("site", "area", "weekday", "opens", "from"),
    Role.USERS: ("site", "person", "since"),
}
"""What makes a row of each role one thing; a later row of the same thing replaces it."""
