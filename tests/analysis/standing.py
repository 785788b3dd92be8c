"""Short ways to lay ground and to run one analysis in tests."""

import json
from collections import deque
from datetime import datetime, timedelta

import polars as pl

from eventlab.context import Context
from eventlab.ground import lay
from eventlab.schema import SITE, ZONE, conform
from eventlab.settings import Settings
from tests.logbook import log

SETTINGS = Settings()
NOTHING = Context.empty()
LATELY = deque(maxlen=8)
"""What was laid last; nobody changes a ground."""


def zones(*rows, site="S1"):
    """Zone schedule from ``zone use [detector words]`` lines."""
    listed = []
    for row in rows:
        zone, use, *words = row.split()
        name = " ".join(words) or None
        listed.append({"site": site, "zone": zone, "use": use, "name": name, "detector": name})
    return conform(pl.DataFrame(listed), ZONE)


def context(*rows, **site):
    empty = Context.empty()
    sites = conform(pl.DataFrame([{"site": "S1", "time_zone": "UTC", **site}]), SITE)
    listed = zones(*rows) if rows else empty.zones
    return Context(sites, listed, empty.weather, empty.visits, empty.outcomes)


def nights(count, *, first="2025-01-06", site="S1", person="1", arm="18:00:00", disarm="08:00:00"):
    """Lines of quiet days: armed every evening, disarmed every morning."""
    start = datetime.fromisoformat(first)
    lines = []
    for day in range(count):
        evening, morning = start + timedelta(days=day), start + timedelta(days=day + 1)
        lines.append(f"{evening:%Y-%m-%d} {arm} arm person={person} site={site}")
        lines.append(f"{morning:%Y-%m-%d} {disarm} disarm person={person} site={site}")
    return "\n".join(lines)


def events(*texts, grain=1):
    """Events of several texts, in order of time."""
    lines = "\n".join(texts).strip().splitlines()
    ordered = sorted((line.strip() for line in lines if line.strip()), key=lambda x: x[:19])
    return log("\n".join(ordered), grain=grain)


def ground(*texts, known=NOTHING, grain=1, settings=SETTINGS, now=None):
    """Lay the ground of some lines; of the same lines once, whoever looks at them next."""
    for (lines, grained, asked), around, rules, laid in LATELY:
        same = lines == texts and (grained, asked) == (grain, now)
        if same and around is known and rules is settings:
            return laid
    laid = lay(events(*texts, grain=grain), known, settings, now=now)
    LATELY.append(((texts, grain, now), known, settings, laid))
    return laid


def found(module, *texts, known=NOTHING, grain=1, settings=SETTINGS):
    laid = ground(*texts, known=known, grain=grain, settings=settings)
    return [
        {**row, "figures": json.loads(row["figures"])}
        for row in module.find(laid, known, settings).to_dicts()
    ]
