"""Zone schedules that do not match the log: what is told, and what is not.

That lists are old, numbers change with a panel and one export labels what another numbers is
common practice.
"""

from datetime import date, timedelta

import polars as pl
import pytest

from eventlab.advice import advise
from eventlab.analysis import list_mismatch
from eventlab.schema import ZONE, conform
from tests.analysis.standing import SETTINGS, context, found, ground, nights
from tests.logbook import log

LISTED = ("1 entry Front door", "2 interior Lobby", "3 perimeter North window", "9 fire Smoke head")


def alarms(zone, *days, kind="intrusion-alarm", hour="02:00:00"):
    return "\n".join(f"2025-01-{day:02} {hour} {kind} zone={zone}" for day in days)


def moves(zone, count=40, first=date(2025, 1, 6)):
    days = (first + timedelta(days=n) for n in range(count))
    return "\n".join(f"{day} 10:00:00 activation zone={zone}" for day in days)


def only(*texts, known):
    (one,) = found(list_mismatch, *texts, known=known)
    return one


def figures(*texts, known=None):
    told = only(*texts, known=known or context(*LISTED))["figures"]
    return {key: told[key] for key in ("strange", "unseen", "life", "named", "renumbered")}


def lines(one):
    return " | ".join(f"{line['what']}: {line['figure']}" for line in one["evidence"])


def test_a_point_in_no_list_is_told_once_for_the_site():
    one = only(nights(20), alarms(7, 8, 10, 12), alarms(2, 9), known=context(*LISTED))
    assert (one["subject_kind"], one["subject"], one["standing"]) == ("site", "S1", True)
    assert one["events"] == 1
    assert "point 7 is in no list: 3 times" in lines(one)
    assert one["figures"]["touches"] == ["7"]


@pytest.mark.parametrize(
    ("rows", "known"),
    [
        (alarms(7, 8, 10), None),  # no schedule at all
        (alarms(2, 8, 10), LISTED),  # listed
        (alarms(7, 8), LISTED),  # one row may be a slip
        (alarms("module_7", 8, 9, kind="tamper"), LISTED),  # a device of the system
    ],
)  # fmt: skip
def test_what_is_no_mismatch(rows, known):
    assert found(list_mismatch, nights(20), rows, known=context(*known or ())) == []


def test_a_fire_from_a_point_in_no_list_is_told_at_once():
    assert figures(nights(20), alarms(8, 8, kind="fire"))["strange"] == 1


def test_a_point_that_never_alarmed_is_none_where_only_alarms_are_recorded():
    assert found(list_mismatch, nights(60), alarms(2, 8, 12), known=context(*LISTED)) == []


def test_where_movement_is_recorded_a_point_on_the_way_must_show():
    told = figures(nights(60), moves(1))
    # the window need not move, and the smoke head must not
    assert told == {"strange": 0, "unseen": 1, "life": 0, "named": 0, "renumbered": 0}


def test_in_a_short_log_nothing_must_show():
    assert found(list_mismatch, nights(12), moves(1, 11), known=context(*LISTED)) == []


def walked(*zones):
    return "\n".join(f"2025-01-10 11:{zone:0>2}:00 walk-test zone={zone}" for zone in zones)


HEADS = (*LISTED, "10 fire Smoke head two", "11 fire Smoke head three")


def test_a_life_safety_point_left_out_of_a_walk_test_is_to_be_examined():
    known = context(*HEADS)
    one = only(nights(20), walked(9, 10), known=known)
    assert one["figures"]["life"] == 1
    assert one["figures"]["life_safety"] is True
    assert "point 11 (Smoke head three) is listed and never showed: have it examined" in lines(one)
    frame = list_mismatch.find(ground(nights(20), walked(9, 10), known=known), known, SETTINGS)
    told = advise(frame, known)["advice"][0].to_list()
    assert "examined by a licensed person" in told[0]
    assert "treat every call from it as real until then" in told[1]


def test_a_walk_test_of_detectors_says_nothing_of_smoke_heads():
    assert found(list_mismatch, nights(20), walked(1, 2, 3), known=context(*HEADS)) == []


def test_a_point_left_out_of_a_walk_test():
    known = context(*LISTED, "4 interior Study")
    told = figures(nights(20), walked(1, 2, 4), known=known)
    assert (told["unseen"], told["life"]) == (1, 0)


def named(*rows):
    frame = log("\n".join(f"{at} intrusion-alarm zone={zone}" for at, zone, _ in rows))
    return frame.with_columns(text=pl.Series([text for _, _, text in rows]))


def laid(frame, known):
    from eventlab.ground import lay

    both = pl.concat([frame, log(nights(60))]).sort("placed", maintain_order=True)
    return list_mismatch.find(lay(both, known, SETTINGS), known, SETTINGS).to_dicts()


def test_a_number_under_the_name_of_another_point():
    rows = [(f"2025-01-{d:02} 02:00:00", 3, "Alarm LOBBY (zone 3)") for d in (8, 9, 12)]
    (one,) = laid(named(*rows), context(*LISTED))
    assert "point 3 is North window in the list: Lobby in the log, 3 times" in lines(one)


def test_numbers_that_change_on_one_date():
    before = [("02", 2, "Alarm Lobby"), ("03", 3, "Alarm North window"), ("04", 2, "Alarm lobby")]
    after = [("22", 2, "Alarm North window"), ("23", 3, "Alarm Lobby"), ("24", 2, "North window"),
             ("25", 3, "Alarm Lobby")]  # fmt: skip
    rows = [(f"2025-02-{d} 02:00:00", zone, text) for d, zone, text in before + after]
    (one,) = laid(named(*rows), context(*LISTED))
    assert "what is told of point 2 may belong to two points: Lobby before 22 Feb 2025" in lines(
        one
    )


def test_two_points_that_exchanged_names_are_told_each_from_the_date():
    sides = (((8, 10, 12), 2, 3), ((20, 22, 24), 3, 2))
    rows = [
        (f"2025-01-{d:02} 02:00:00", zone, f"Alarm {name}")
        for days, lobby, window in sides
        for d in days
        for zone, name in ((lobby, "Lobby"), (window, "North window"))
    ]
    (one,) = laid(named(*rows), context(*LISTED))
    for zone, first, then in ((2, "Lobby", "North window"), (3, "North window", "Lobby")):
        told = f"what is told of point {zone} may belong to two points: {first} before 20 Jan 2025"
        assert f"{told}, {then} from then on: 3 times" in lines(one)
    # A slip is none: one row under the other's name.
    slip = [*rows[:6], ("2025-01-20 02:00:00", 3, "Alarm Lobby")]
    assert laid(named(*slip), context(*LISTED)) == []


def test_two_points_that_the_list_names_the_other_way_round():
    rows = [(f"2025-01-{d:02} 02:00:00", zone, f"Alarm {name}")
            for d in (8, 10, 12) for zone, name in ((3, "Lobby"), (2, "North window"))]  # fmt: skip
    (one,) = laid(named(*rows), context(*LISTED))
    assert "point 2 is Lobby in the list: North window in the log, 3 times" in lines(one)
    assert "point 3 is North window in the list: Lobby in the log, 3 times" in lines(one)
    assert '"named":2' in one["figures"]


def test_the_name_of_an_area_beside_many_points_is_no_mismatch():
    rows = [(f"2025-01-{n + 7:02} 02:00:00", n % 3 + 1, "Alarm, area Lobby") for n in range(12)]
    assert laid(named(*rows), context(*LISTED)) == []


def test_a_panel_that_numbers_anew_from_a_date():
    old = "\n".join(alarms(zone, *range(2 + zone, 14, 2)) for zone in (1, 2, 3))
    new = "\n".join(alarms(zone, *range(16, 30, 3)) for zone in (101, 102, 103))
    told = figures(nights(30), old, new)
    assert (told["renumbered"], told["strange"]) == (3, 0)


def test_a_site_is_told_of_by_its_own_list_alone():
    known = context(*LISTED)
    other = known.zones.with_columns(site=pl.lit("S2"), zone=pl.lit("7"))
    known = type(known)(
        known.sites, conform(pl.concat([known.zones, other]), ZONE), known.weather, known.visits,
        known.outcomes,
    )  # fmt: skip
    assert figures(nights(20), alarms(7, 8, 10), known=known)["strange"] == 1
