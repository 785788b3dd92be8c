"""What makes two intakes of the same bytes the same intake."""

from collections.abc import Mapping
from typing import TypedDict

from eventlab.context import Context
from eventlab.meaning import Known
from eventlab.store import Export


class Settled(TypedDict):
    """The parts of an export's identity beside its bytes."""

    answers: dict[str, str]
    site: str | None
    time_zone: str | None


def settled(found: Mapping[str, str]) -> Settled:
    """Split what a reading rests on into the parts of an export's identity.

    Parameters
    ----------
    found : mapping of str to str
        ``Reading.settled``: however each was found, by evidence or by an answer.

    Returns
    -------
    Settled
        Answers, the site and the time zone the file was read with.
    """
    return Settled(
        answers={k: v for k, v in found.items() if k not in {"site", "zone-kept"}},
        site=found.get("site"),
        time_zone=found.get("zone-kept"),
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
        answers=export.answers,
        site=export.site,
        # Several zones in one file come from the site list, each site's own.
        time_zone=kept if kept and "," not in kept else None,
    )
