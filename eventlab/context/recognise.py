"""What a file is, told by its headings alone."""

from collections.abc import Sequence

from eventlab.context.headings import fold, understood
from eventlab.schema import Role

_EVENT_WORDS = frozenset(
    {
        "event",
        "events",
        "eventtext",
        "eventtype",
        "eventcode",
        "eventdescription",
        "code",
        "qualifier",
        "message",
        "signal",
        "alarm",
        "user",
        "userno",
        "usernumber",
        "priority",
        "operator",
    }
)
_CLOCK_WORDS = frozenset(
    {"date", "time", "datetime", "timestamp", "datetimeutc", "timeutc", "eventtime", "eventdate"}
)

_SAYS: dict[Role, frozenset[str]] = {
    Role.OUTCOMES: frozenset({"outcome", "passed_on", "attended"}),
    Role.VISITS: frozenset({"work", "technician"}),
    Role.WEATHER: frozenset(
        {"temperature_c", "wind_m_s", "gust_m_s", "rain_mm", "cloud_oktas", "ghi_w_m2"}
    ),
    Role.SCHEDULE: frozenset({"opens", "closes"}),
    Role.ZONES: frozenset({"name", "detector", "use", "area", "armed_in", "facing_deg"}),
    Role.SITES: frozenset(
        {"name", "time_zone", "latitude", "trade", "grade", "entry_delay_s", "next_service"}
    ),
}
NEEDED: dict[Role, tuple[str, ...]] = {
    Role.SITES: ("site",),
    Role.ZONES: ("site", "zone"),
    Role.WEATHER: ("at",),
    Role.VISITS: ("site", "at"),
    Role.OUTCOMES: ("site", "at"),
    Role.SCHEDULE: ("site", "weekday"),
    Role.USERS: ("site", "person"),
}
"""Columns without which a file of the role cannot be used."""

_USER_WORDS = frozenset({"user", "userno", "usernumber"})
_TIMELESS = (Role.ZONES, Role.SITES, Role.SCHEDULE)


def recognise(header: Sequence[str] | None) -> Role | None:
    """Tell what kind of context file these headings belong to.

    Parameters
    ----------
    header : sequence of str or None
        The headings as they stand; case, blanks, signs and accents do not matter.

    Returns
    -------
    Role or None
        None where they are no context file's headings (an event log, or nothing known).
    """
    if not header:
        return None
    folded = {fold(text or "") for text in header}
    if _users(header, folded):
        return Role.USERS
    if folded & _EVENT_WORDS:
        return None
    for role, telling in _SAYS.items():
        columns = understood(role, header).keys()
        if role in _TIMELESS and folded & _CLOCK_WORDS:
            continue
        # A list that lacks its key is still that list: parse then says what is missing.
        must = NEEDED[role][-1:] if role is Role.ZONES else NEEDED[role]
        if columns >= set(must) and columns & telling:
            return role
    return None


def _users(header: Sequence[str], folded: set[str]) -> bool:
    """Tell whether it lists who has a code: a number and a name, and nothing that happened."""
    columns = understood(Role.USERS, header).keys()
    happened = folded & (_EVENT_WORDS - _USER_WORDS | _CLOCK_WORDS)
    of_points = "zone" in understood(Role.ZONES, header)
    return columns >= {"site", "person", "name"} and not happened and not of_points
