"""The store in plain Python: exports as lists of rows, counts by the largest that any one shows.

An export in these tests is JSON: a list of rows ``[site, second, zones]``, or ``[site, second,
text]`` for a row that cannot be read; ``second`` None is a row without a time.
"""

import hashlib
import json
from collections import Counter, defaultdict
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import polars as pl

from eventlab.schema import EVENT, Kind, Phase, Timing, Witness, conform
from eventlab.store import Export, Store

START = datetime(2026, 3, 1, tzinfo=UTC)
READER = "reader-1"


def pack(rows):
    """Return an export's bytes."""
    return json.dumps(rows).encode()


def export_of(data, *, site=None, answers=None, name="log.csv"):
    """Describe an export as it is taken."""
    rows = json.loads(data)
    return Export(
        sha256=hashlib.sha256(data).hexdigest(),
        name=name,
        answers=answers or {},
        site=site,
        reading=READER,
        rows=len(rows),
        lines=len(rows) + 1,
    )


def told(export, data):
    """Read an export: (row, piece, site, second, kind, zone, raw) for each event.

    The answer ``odd`` makes rows of the text ``odd`` readable; ``site`` names the site of all.
    """
    for number, (site, second, what) in enumerate(json.loads(data), start=2):
        where = export.site or site
        if isinstance(what, str):
            if what == "odd" and export.answers.get("odd"):
                yield number, 1, where or "S1", second, Kind.TEST_REPORT, None, None
            else:
                yield number, 1, where, second, Kind.UNREAD, None, what
            continue
        for piece, zone in enumerate(what, start=1):
            yield number, piece, where, second, Kind.INTRUSION_ALARM, zone, None


def read(export, data):
    """Read an export into a frame of events."""
    rows = []
    last = START
    for number, piece, site, second, kind, zone, raw in told(export, data):
        at = START + timedelta(seconds=second) if second is not None else None
        last = at or last
        rows.append(
            {
                "site": site,
                "at": at,
                "placed": last,
                "wall": at.replace(tzinfo=None) if at else None,
                "timing": str(Timing.SURE if at else Timing.DOUBTFUL),
                "grain": 1,
                "kind": str(kind),
                "phase": str(Phase.MOMENT if kind == Kind.UNREAD else Phase.BEGIN),
                "zone": zone,
                "witness": str(Witness.PANEL),
                "row": number,
                "piece": piece,
                "reading": READER,
                "raw": raw,
                "problem": "nothing explains it" if raw else None,
            }
        )
    return conform(pl.DataFrame(rows, infer_schema_length=None) if rows else pl.DataFrame(), EVENT)


def keep_and_take(store: Store, data, **how):
    """Take an export the way the lab does."""
    export = export_of(data, **how)
    store.keep(data, sha256=export.sha256, name=export.name)
    return store.take(read(export, data), export)


def parts(export, data):
    """Cut an export where its time turns back by more than a minute, site by site.

    Gives the part of each event, in file order.
    """
    events = list(told(export, data))
    placed, last = [], 0
    for event in events:
        last = event[3] if event[3] is not None else last
        placed.append(last)
    by_site = defaultdict(list)
    for index, event in enumerate(events):
        by_site[event[2]].append(index)
    steps = [placed[b] - placed[a] for indices in by_site.values() for a, b in pairwise(indices)]
    sign = -1 if sum(s < 0 for s in steps) > sum(s > 0 for s in steps) else 1
    part = [0] * len(events)
    for indices in by_site.values():
        for a, b in pairwise(indices):
            part[b] = part[a] + (sign * (placed[b] - placed[a]) < -60)
    return events, part


def key(event):
    """Return what makes two rows the same."""
    _, _, site, second, kind, zone, raw = event
    return (site, second, str(kind), zone, raw)


class Model:
    """What the store must hold.

    ``exports`` are (export, data) in the order of their first taking.
    """

    def __init__(self):
        self.exports = []

    def rows(self):
        """Return {(key, nth): (source, row, piece)}, the first export that showed it."""
        held = {}
        for export, data in self.exports:
            self._unite(held, export, data)
        return held

    def _unite(self, held, export, data):
        """Add an export; return its events with whether each is new."""
        events, part = parts(export, data)
        count = Counter()
        fresh = []
        for event, its in zip(events, part, strict=True):
            count[key(event), its] += 1
            place = (key(event), count[key(event), its])
            fresh.append(place not in held)
            held.setdefault(place, (export.sha256, event[0], event[1]))
        return events, fresh

    def largest(self):
        """Return the multiset of keys: the largest count that any part of any export shows."""
        most = Counter()
        for export, data in self.exports:
            events, part = parts(export, data)
            shown = Counter((key(e), its) for e, its in zip(events, part, strict=True))
            for (what, _), count in shown.items():
                most[what] = max(most[what], count)
        return most

    def take(self, export, data):
        """Take an export; return (read, repeated, unread) rows."""
        events, fresh = self._unite(self.rows(), export, data)
        rows = {event[0] for event in events}
        good = {e[0] for e, new in zip(events, fresh, strict=True) if new and e[4] != Kind.UNREAD}
        bad = {e[0] for e, new in zip(events, fresh, strict=True) if new and e[4] == Kind.UNREAD}
        self.exports.append((export, data))
        return len(good), len(rows - good - bad), len(bad - good)


def held(store):
    """Return what a store holds, in the form of ``Model.rows``."""
    found = {}
    for row in store.events().collect().iter_rows(named=True):
        second = row["wall"] and int((row["wall"].replace(tzinfo=UTC) - START).total_seconds())
        place = ((row["site"], second, row["kind"], row["zone"], row["raw"]), row["nth"])
        assert place not in found, "a row stands there twice"
        found[place] = (row["source"], row["row"], row["piece"])
    return found
