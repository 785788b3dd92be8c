"""Small exports read to events, and events written short enough to compare by eye."""

import polars as pl

from eventlab.context import Context, parse
from eventlab.intake import read_bytes
from eventlab.meaning import Known, read_log
from eventlab.schema import Role

SHOWN = {"zone": "zone", "area": "area", "person": "person", "mode": "mode"}


def listed(text: str, role: Role) -> pl.DataFrame:
    """Return a context file in the shape of its schema."""
    sheet = read_bytes(text.encode(), name="list.csv")
    return parse(role, sheet, sites=Context.empty().sites).frame


def reading(text: str, *, encoding: str = "utf-8", name: str = "log.csv", **known):
    """Read an export; site A and London unless told otherwise."""
    said = {"site": "A", "time_zone": "Europe/London", **known}
    if "sites" in said:
        said["sites"] = listed(said["sites"], Role.SITES)
    if "zones" in said:
        said["zones"] = listed(said["zones"], Role.ZONES)
    return read_log(read_bytes(text.encode(encoding), name=name), Known(**said))


def short(event: dict) -> str:
    """Write an event as ``arm area=1 person=4 mode=part``; conditions with their phase."""
    kind = event["kind"] if event["phase"] == "moment" else f"{event['kind']}/{event['phase']}"
    return " ".join([kind, *(f"{k}={event[c]}" for k, c in SHOWN.items() if event[c] is not None)])


def shown(found) -> list[str]:
    """Write the events of a reading short, in file order."""
    return [short(event) for event in found.events.to_dicts()]


def told(text: str, **known) -> list[str]:
    """Read an export that leaves nothing open and write its events short, in file order."""
    found = reading(text, **known)
    assert not found.questions, found.questions
    return shown(found)


def asked(text: str, **known) -> list[str]:
    """Return the keys of the questions that an export leaves open; then it has no events."""
    found = reading(text, **known)
    if found.questions:
        assert found.events.is_empty()
    return [question.key for question in found.questions]
