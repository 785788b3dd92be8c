"""Points that alarm only just after another: a supply that dips, cross-talk; and what is a walk."""

from datetime import UTC, datetime, timedelta

import pytest
from scipy.stats import binom

from eventlab.analysis import neighbours
from tests.analysis.standing import context, found, nights

QUIET = nights(40)
INSIDE = context("1 perimeter window", "2 interior room one PIR", "3 interior room two PIR")
NIGHTS = (8, 9, 12, 15, 20, 22)


def after(days, lag=3, *, first="2", second="3"):
    lines = []
    for day in days:
        at = datetime(2025, 1, day, 2, day, tzinfo=UTC)
        for zone, when in ((first, at), (second, at + timedelta(seconds=lag))):
            lines.append(f"{when:%Y-%m-%d %H:%M:%S} intrusion-alarm zone={zone}")
    return "\n".join(lines)


def test_a_point_that_never_alarms_alone_follows_the_other():
    row = found(neighbours, QUIET, after(NIGHTS), known=INSIDE)[0]
    assert (row["subject"], row["figures"]["leader"]) == ("3", "2")
    assert (row["figures"]["followed"], row["figures"]["nights"]) == (6, 6)
    assert row["figures"]["longest_s"] == 3
    # six nights, each with a chance of at most 10 s in the hour
    assert row["p_value"] == pytest.approx(binom.sf(5, 6, 10 / 3600), rel=1e-6)
    assert row["looks"] == 4


@pytest.mark.parametrize("lag", [11, 40, 600])
def test_minutes_later_is_another_matter(lag):
    assert found(neighbours, QUIET, after(NIGHTS, lag), known=INSIDE) == []


def test_a_point_that_alarms_alone_as_well_does_not_follow():
    alone = "\n".join(f"2025-01-{d:02} 04:00:00 intrusion-alarm zone=3" for d in (10, 11, 13, 14))
    assert found(neighbours, QUIET, after(NIGHTS), alone, known=INSIDE) == []


def test_alone_while_the_other_was_out_counts_for_nothing():
    alone = "\n".join(f"2025-01-{d:02} 04:00:00 intrusion-alarm zone=3" for d in (10, 11, 13, 14))
    out = "\n".join(
        f"2025-01-{d:02} 12:00:00 bypass zone=2\n2025-01-{d + 1:02} 09:00:00 bypass end zone=2"
        for d in (9, 10, 12, 13)
    )
    row = found(neighbours, QUIET, after(NIGHTS), alone, out, known=INSIDE)[0]
    assert row["figures"]["followed"] == 6


def test_from_the_outer_skin_inwards_may_be_a_person():
    walk = after(NIGHTS, first="1", second="2")
    assert found(neighbours, QUIET, walk, known=INSIDE) == []
    assert found(neighbours, QUIET, after(NIGHTS, first="2", second="1"), known=INSIDE) != []


def test_where_nobody_tells_what_the_points_are_nothing_is_said():
    assert found(neighbours, QUIET, after(NIGHTS)) == []


def test_whichever_point_comes_first_the_siren_sets_it_off():
    known = context(*(f"{n} interior room {n} PIR" for n in range(2, 7)))
    mixed = "\n".join(after((day,), first=str(4 + n % 3)) for n, day in enumerate(NIGHTS))
    row = found(neighbours, QUIET, mixed, known=known)[0]
    assert row["figures"]["leader"] is None
    assert row["figures"]["followed"] == 6


def test_four_nights_are_too_few():
    assert found(neighbours, QUIET, after(NIGHTS[:4]), known=INSIDE) == []


def test_life_safety_points_are_never_named():
    known = context("2 interior room PIR", "3 fire smoke detector")
    assert found(neighbours, QUIET, after(NIGHTS), known=known) == []
