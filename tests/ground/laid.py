"""Lay the ground of a few lines of log; schedules and site lists the short way."""

from datetime import UTC, datetime

import polars as pl

from eventlab.context import Context
from eventlab.ground import Ground, lay
from eventlab.schema import SITE, ZONE, conform
from eventlab.settings import Settings
from tests.logbook import log


def laid(text, *, zones=(), sites=(), now=None, spans=None, settings=None, **how) -> Ground:
    """Lay the ground of ``log(text)`` with zones and sites given as dictionaries."""
    events = text if isinstance(text, pl.DataFrame) else log(text, **how)
    return lay(
        events, known(zones=zones, sites=sites), settings or Settings(), now=now, spans=spans
    )


def known(*, zones=(), sites=()) -> Context:
    """Make a context of dictionaries; the site is ``S1`` where none is told."""
    bare = Context.empty()
    return Context(
        sites=listed(sites, SITE),
        zones=listed(zones, ZONE),
        weather=bare.weather,
        visits=bare.visits,
        outcomes=bare.outcomes,
    )


def listed(rows, schema):
    """Give dictionaries the shape of a schema."""
    rows = [{"site": "S1", **row} for row in rows]
    frame = pl.DataFrame(rows, infer_schema_length=None) if rows else pl.DataFrame()
    return conform(frame, schema)


def utc(text) -> datetime:
    """Read ``2024-03-01 17:00:00`` as UTC."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def power(ground, name, witness="panel"):
    """Look up the value of one power."""
    return ground.powers.filter(power=name, witness=witness)["value"].item()


def nights(count, template, *, month=3) -> str:
    """Repeat lines for the first days of a month; ``{d}`` is the day and ``{n}`` the next."""
    return "\n".join(
        template.replace("{d}", f"2024-{month:02}-{day:02}").replace(
            "{n}", f"2024-{month:02}-{day + 1:02}"
        )
        for day in range(1, count + 1)
    )
