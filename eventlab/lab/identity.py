"""What makes two intakes of the same bytes the same intake, and what is noted beside it."""

from collections.abc import Mapping
from typing import TypedDict

from eventlab.context import Context
from eventlab.meaning import Known, Reading
from eventlab.store import Export

LOOK = "look"
"""Note: what exports of one program have in common."""

LAYOUT = "layout"
"""Note: what divides its cells, and what its columns are read as."""

ANSWERED = "answered"
"""Note: the questions that a person answered for this export, divided by blanks."""

DECIDED = "decided"
"""Note: the questions that this export decides for others that look the same."""

ZONE_SAID = "zone-said"
"""Note: the time zone that a person named for sites that no list tells."""


class Settled(TypedDict):
    """The parts of an export's identity beside its bytes, and the notes."""

    answers: dict[str, str]
    site: str | None
    time_zone: str | None
    notes: dict[str, str]


def settled(reading: Reading, *, recalled: Mapping[str, str] | None = None) -> Settled:
    """Split what a reading rests on into the parts of an export's identity.

    Parameters
    ----------
    reading : Reading
        However each part was found, by evidence or by an answer.
    recalled : mapping, optional
        Answers that were given for other exports: nobody answered for this one.

    Returns
    -------
    Settled
        Answers, the site and the time zone the file was read with; notes.
    """
    found = reading.settled
    said = reading.said_zones["time_zone"].drop_nulls().unique()
    notes = {
        LOOK: reading.look,
        LAYOUT: reading.layout,
        ANSWERED: " ".join(sorted(reading.answered - set(recalled or {}))),
        DECIDED: " ".join(sorted(reading.decided)),
        ZONE_SAID: str(said[0]) if said.len() == 1 else "",
    }
    return Settled(
        answers={k: v for k, v in found.items() if k not in {"site", "zone-kept"}},
        site=found.get("site"),
        time_zone=found.get("zone-kept"),
        notes={key: value for key, value in notes.items() if value},
    )


def as_known(context: Context, export: Export) -> Known:
    """Return what the reader is told when it reads an export again.

    Parameters
    ----------
    context : Context
        Site list and zone schedules as they are now.
    export : Export
        How it was read before.

    Returns
    -------
    Known
        With the answers, the site and the zone that were settled.
    """
    kept = export.time_zone or ""
    return Known(
        sites=context.sites,
        zones=context.zones,
        taught=context.taught,
        answers=export.answers,
        site=export.site,
        # Several zones in one file come from the site list, each site's own.
        time_zone=export.notes.get(ZONE_SAID) or (kept if kept and "," not in kept else None),
    )
