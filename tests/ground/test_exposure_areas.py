"""Points of several areas against a plain count of every minute; several sites at a time."""

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from eventlab.schema import EVENT, conform
from eventlab.settings import Settings
from tests.ground.laid import laid

START = datetime(2024, 3, 1, tzinfo=UTC)
WAIT = 3
WORK = Settings(exit_unsettled_s=60 * WAIT, arming_balance=0.0)

STEP = st.tuples(st.integers(1, 30), st.sampled_from(["arm", "disarm"]), st.sampled_from("12"))


@st.composite
def acts(draw):
    rows, minute = [], 0
    for step, kind, area in draw(st.lists(STEP, min_size=6, max_size=24)):
        minute += step
        rows.append((minute, kind, area))
    return rows


def both_told(rows):
    """Tell whether both areas and both acts stand in a log."""
    return len({kind for _, kind, _ in rows}) == len({area for *_, area in rows}) == 2


CASES = st.tuples(acts().filter(both_told), st.sampled_from(["any", "all", None]))


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


# The site that differs is told; to shrink ten logs would take minutes.
@settings(max_examples=4, phases=[Phase.generate])
@given(st.lists(CASES, min_size=10, max_size=10))
def test_the_rule_of_the_point_decides(cases):
    sites = {f"S{n}": case for n, case in enumerate(cases)}
    events = conform(
        pl.DataFrame(
            [
                {
                    "site": site,
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
                for site, (rows, _) in sites.items()
                for at, kind, area in rows
            ]
        ),
        EVENT,
    )
    zones = [
        {"site": site, **zone}
        for site, (_, rule) in sites.items()
        for zone in (
            {"zone": "1", "area": ["1"]},
            {"zone": "2", "area": ["2"]},
            {"zone": "3", "area": ["1", "2"], "area_rule": rule},
        )
    ]
    ground = laid(events, zones=zones, settings=WORK)
    for site, (rows, rule) in sites.items():
        one, two = (armed_minutes(rows, area) for area in "12")
        both = one | two if rule == "any" else one & two
        exposure = ground.exposure.filter(site=site)
        told = dict(exposure.select("zone", pl.col("hours") * 60).iter_rows())
        assert told == pytest.approx({"1": len(one), "2": len(two), "3": len(both)}), (rows, rule)
