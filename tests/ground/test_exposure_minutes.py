"""Exposure against a plain count of every minute, over random logs; several sites at a time.

The count walks the minutes one by one in plain Python and shares nothing with the frames.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from eventlab.schema import EVENT, conform
from eventlab.settings import Settings
from tests.ground.laid import laid

START = datetime(2024, 3, 1, tzinfo=UTC)
WAIT = 5
WORK = Settings(
    exit_unsettled_s=60 * WAIT, restart_quiet_s=60 * WAIT, contradiction_min=999, memory_s=1
)

ROWS = [
    ("arm", "moment", "full", None),
    ("arm", "moment", "part", None),
    ("arm", "moment", None, None),
    ("disarm", "moment", None, None),
    ("disarm", "moment", None, None),
    ("bypass", "begin", None, "7"),
    ("bypass", "end", None, "7"),
    ("shutdown", "begin", None, "7"),
    ("intrusion-alarm", "begin", None, "7"),
    ("intrusion-alarm", "begin", None, "8"),
    ("on-test", "begin", None, None),
    ("on-test", "end", None, None),
    ("system-restart", "moment", None, None),
    ("reset", "moment", None, None),
]


@dataclass(frozen=True)
class Row:
    minute: int
    kind: str
    phase: str
    mode: str | None
    zone: str | None
    sure: bool
    part: int  # which export


@st.composite
def logs(draw):
    steps = draw(st.lists(st.integers(1, 40), min_size=4, max_size=28))
    gap = draw(st.integers(1, len(steps)))
    rows, minute = [], 0
    for place, step in enumerate(steps):
        minute += step + (90 if place == gap else 0)
        kind, phase, mode, zone = draw(st.sampled_from(ROWS))
        sure = draw(st.integers(0, 9)) > 0
        rows.append(Row(minute, kind, phase, mode, zone, sure, int(place >= gap)))
    return rows


def countable(rows):
    """Tell whether some stretch is covered, and which test a second begin would belong to."""
    tests = [r.phase for r in rows if r.kind == "on-test"]
    return spans(rows) and (tests.count("begin") < 2 or "end" in tests[tests.index("begin") :])


def events(logs):
    return conform(
        pl.DataFrame(
            [
                {
                    "site": site,
                    "at": START + timedelta(minutes=r.minute) if r.sure else None,
                    "placed": START + timedelta(minutes=r.minute),
                    "timing": "sure" if r.sure else "doubtful",
                    "grain": 1,
                    "kind": r.kind,
                    "phase": r.phase,
                    "mode": r.mode,
                    "zone": r.zone,
                    "witness": "panel",
                    "source": str(r.part) * 64,
                    "row": n,
                    "piece": 1,
                }
                for site, rows in logs.items()
                for n, r in enumerate(rows)
            ],
            infer_schema_length=None,
        ),
        EVENT,
    )


def spans(rows):
    told = []
    for part in (0, 1):
        sure = [r.minute for r in rows if r.part == part and r.sure]
        if sure:
            told.append((part, min(sure), max(sure)))
    return told


def watched(rows):
    """Minutes covered, not set aside, with no doubtful row between two sure ones."""
    stretches = spans(rows)
    minutes = {m for _, low, high in stretches for m in range(low, high)}
    first, last = min(low for _, low, _ in stretches), max(high for *_, high in stretches)
    sure = [r.minute for r in rows if r.sure]
    for row in rows:
        if not row.sure:
            low = max((m for m in sure if m < row.minute), default=first)
            high = min((m for m in sure if m > row.minute), default=last)
            minutes -= set(range(low, high))
        if row.kind == "system-restart":
            minutes -= set(range(row.minute, row.minute + WAIT))
    tests = [r for r in rows if r.kind == "on-test"]
    if tests and tests[0].phase == "end":
        minutes -= set(range(first, tests[0].minute))
    for row in tests:
        if row.phase == "begin":
            over = [r.minute for r in tests if r.phase == "end" and r.minute > row.minute]
            minutes -= set(range(row.minute, min(over, default=last)))
    return minutes


def arming(rows):
    """State of each minute (extent, settled, period) and of each row."""
    stretches = spans(rows)
    by_minute, by_row, period = {}, {}, 0
    for _, low, high in stretches:
        extent, since = None, low
        period += 1
        for minute in range(low, high + 1):
            for number, row in enumerate(rows):
                if row.minute != minute:
                    continue
                if row.kind == "arm":
                    new = "part" if row.mode == "part" else "full"
                    if new != extent:
                        extent, since = new, minute
                elif row.kind == "disarm":
                    extent, period = "unarmed", period + 1
                settled = minute >= since + WAIT
                by_row[number] = (extent, settled, period)
            by_minute[minute] = (extent, minute >= since + WAIT, period)
        by_minute.pop(high)
    return by_minute, by_row


def out(rows, zone, limit, by_minute, by_row, last):
    """Minutes in which the point is bypassed, shut out or past its last permitted trip."""
    gone = set()
    disarms = [r.minute for r in rows if r.kind == "disarm"]
    tells = any(r.kind == "bypass" and r.phase == "end" for r in rows)
    trips = {}
    for number, row in enumerate(rows):
        if row.zone != zone:
            continue
        disarm = min((m for m in disarms if m > row.minute), default=last)
        if row.kind == "bypass" and row.phase == "begin":
            ends = [
                r.minute
                for r in rows
                if (r.kind, r.phase, r.zone) == ("bypass", "end", zone) and r.minute > row.minute
            ]
            end = min(ends, default=None)
            works = [
                r.minute
                for n, r in enumerate(rows)
                if r.kind == "intrusion-alarm" and r.zone == zone and r.minute > row.minute
                if by_row.get(n, (None, False))[0] in ("part", "full") and by_row[n][1]
            ]
            lifted = not tells or (works and (end is None or works[0] < end))
            until = min(x for x in (end, disarm) if x is not None) if lifted else end
            gone |= set(range(row.minute, last if until is None else until))
        elif row.kind == "shutdown":
            gone |= set(range(row.minute, disarm))
        elif row.kind == "intrusion-alarm":
            extent, settled, period = by_row.get(number, (None, False, None))
            if extent in ("part", "full") and settled:
                trips[period] = trips.get(period, 0) + 1
                if trips[period] == limit:
                    later = row.minute
                    while by_minute.get(later, (None, None, None))[2] == period:
                        gone.add(later)
                        later += 1
    return gone


def at_risk(rows, zone, limit, modes, basis):
    last = max(high for *_, high in spans(rows))
    by_minute, by_row = arming(rows) if basis == "armed" else ({}, {})
    minutes = watched(rows)
    if basis == "armed":
        included = {"full"} if modes is None else set(modes)
        minutes = {
            m for m in minutes if by_minute.get(m, (None, False))[0] in included and by_minute[m][1]
        }
    return minutes - out(rows, zone, limit, by_minute, by_row, last)


MODES = st.sampled_from([None, ["full"], ["full", "part"], ["part"]])
CASES = st.tuples(logs().filter(countable), st.integers(1, 3), MODES)


# The site that differs is told; to shrink ten logs would take minutes.
@settings(max_examples=6, phases=[Phase.generate])
@given(st.lists(CASES, min_size=10, max_size=10))
def test_hours_and_intervals_are_those_of_every_minute(cases):
    sites = {f"S{n}": case for n, case in enumerate(cases)}
    zones = [
        {"site": site, "zone": zone, "trip_limit": limit, "armed_in": modes}
        for site, (_, limit, modes) in sites.items()
        for zone in ("7", "8")
    ]
    told = pl.DataFrame(
        [
            {
                "site": site,
                "source": str(part) * 64,
                "since": START + timedelta(minutes=low),
                "until": START + timedelta(minutes=high),
            }
            for site, (rows, *_) in sites.items()
            for part, low, high in spans(rows)
        ]
    )
    logged = events({site: rows for site, (rows, *_) in sites.items()})
    ground = laid(logged, zones=zones, spans=told, settings=WORK)
    exposed = ground.exposed(list(sites))
    for site, (rows, limit, modes) in sites.items():
        for zone in ("7", "8"):
            row = ground.exposure.filter(site=site, zone=zone).row(0, named=True)
            expected = at_risk(rows, zone, limit, modes, row["basis"])
            assert row["hours"] * 60 == pytest.approx(len(expected)), rows
            found = set()
            intervals = exposed.filter(site=site, zone=zone)
            for since, until in intervals.select("since", "until").iter_rows():
                low, high = ((t - START).total_seconds() / 60 for t in (since, until))
                found |= set(range(int(low), int(high)))
            assert found == expected, (rows, limit, modes)
