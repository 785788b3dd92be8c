"""Points of several areas against a plain count of every minute."""

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from eventlab.schema import EVENT, conform
from eventlab.settings import Settings
from tests.ground.laid import laid

START = datetime(2024, 3, 1, tzinfo=UTC)
WAIT = 3
WORK = Settings(exit_unsettled_s=60 * WAIT, arming_balance=0.0)

acts = st.lists(
    st.tuples(st.integers(1, 30), st.sampled_from(["arm", "disarm"]), st.sampled_from("12")),
    min_size=6,
    max_size=24,
)


def armed_minutes(rows, area):
    """Minutes in which the settled area is surely armed."""
    found, state, since = set(), None, 0
    for minute in range(rows[-1][0]):
        for at, kind, where in rows:
            if at == minute and where == area and kind != state:
                state, since = kind, minute
        if state == "arm" and minute >= since + WAIT:
            found.add(minute)
    return found


@settings(max_examples=40, deadline=None)
@given(acts, st.sampled_from(["any", "all", None]))
def test_the_rule_of_the_point_decides(steps, rule):
    rows, minute = [], 0
    for step, kind, area in steps:
        minute += step
        rows.append((minute, kind, area))
    kinds, areas = {r[1] for r in rows}, {r[2] for r in rows}
    assume(len(kinds) == len(areas) == 2)
    events = conform(
        pl.DataFrame(
            [
                {
                    "site": "S1",
                    "at": START + timedelta(minutes=at),
                    "placed": START + timedelta(minutes=at),
                    "timing": "sure",
                    "grain": 1,
                    "kind": kind,
                    "phase": "moment",
                    "area": area,
                    "witness": "panel",
                    "source": "0" * 64,
                    "row": at,
                    "piece": 1,
                }
                for at, kind, area in rows
            ]
        ),
        EVENT,
    )
    zones = [
        {"zone": "1", "area": ["1"]},
        {"zone": "2", "area": ["2"]},
        {"zone": "3", "area": ["1", "2"], "area_rule": rule},
    ]
    ground = laid(events, zones=zones, settings=WORK)
    one, two = (armed_minutes(rows, area) for area in "12")
    both = one | two if rule == "any" else one & two
    told = dict(ground.exposure.select("zone", pl.col("hours") * 60).iter_rows())
    assert told == pytest.approx({"1": len(one), "2": len(two), "3": len(both)})
