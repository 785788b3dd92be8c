"""What if: counts, first alarms late or lost, what holds already, and what is never replayed."""

from dataclasses import replace

import polars as pl
import pytest

from eventlab.advice import COUNT, HOLD_OFF, PAIR, Trial, what_if
from eventlab.errors import NotFound, UsageError
from eventlab.report import to_csv, to_json, what_if_as_text
from eventlab.settings import Settings
from tests.analysis.standing import context, ground, nights

QUIET = nights(40)
KNOWN = context("5 interior store PIR", "6 interior store two PIR", "1 entry front door")
TRIPS = (
    # night, second of two in the morning, seconds tripped (None: to the disarm)
    (8, 0, 3), (8, 20, 3), (8, 39, 3),
    (9, 0, 30),
    (12, 0, 3), (12, 300, 50),
    (15, 0, None),
)  # fmt: skip


def lines(trips=TRIPS, *, zone="5", kind="intrusion-alarm"):
    told = []
    for night, second, lasts in trips:
        for at, end in ((second, ""), (None if lasts is None else second + lasts, " end")):
            if at is not None:
                clock = f"02:{at // 60:02}:{at % 60:02}"
                told.append(f"2025-01-{night:02} {clock} {kind}{end} zone={zone}")
    return "\n".join(told)


def tried(*trials, known=KNOWN, more="", zone="5", grain=1, settings=None):
    laid = ground(QUIET, lines(), more, known=known, grain=grain)
    return what_if(laid, known, settings or Settings(), site="S1", zone=zone, trials=trials)


def figures(got, *names):
    return got.trials.select(*names).row(0)


def test_a_hold_off_keeps_back_what_is_over_sooner():
    got = tried(Trial(HOLD_OFF, 20))
    assert figures(got, "alarms", "removed", "periods") == (7, 4, 4)
    # of four armed periods one is lost; two come 20 s late, and the third 320 s after its first
    assert figures(got, "first_lost", "first_late", "late_most_s") == (1, 3, 320)
    assert figures(got, "late_half_s") == (20,)


def test_a_count_of_two_begins_anew():
    got = tried(Trial(COUNT, 20))
    assert figures(got, "alarms", "removed") == (7, 6)  # only the second trip of the first night
    assert figures(got, "first_lost", "first_late", "late_most_s") == (3, 1, 20)


def test_a_second_detector_of_the_same_space():
    other = lines(((8, 10, 3), (15, 0, 3)), zone="6")
    got = tried(Trial(PAIR, 15, "6"), more=other)
    assert figures(got, "alarms", "removed") == (7, 4)
    assert figures(got, "first_lost", "first_late", "late_most_s") == (2, 1, 10)


def test_nights_that_may_have_been_real_are_named():
    other = lines(((9, 100, 3),), zone="6")
    got = tried(Trial(COUNT, 20), more=other)
    assert figures(got, "suspected", "suspected_lost") == (1, 1)
    text = what_if_as_text(got)
    assert "9 Jan 2025" in text or "8 Jan 2025" in text
    assert "may have been a real intrusion" in text


@pytest.mark.parametrize("use", ["fire smoke", "hold-up button", "medical cord", "24-hour"])
def test_life_safety_points_are_never_replayed(use):
    got = tried(Trial(COUNT, 20), known=context(f"5 {use}"))
    assert got.refused
    assert got.trials.is_empty()
    text = what_if_as_text(got)
    assert "examined by a licensed person" in text
    assert "would not have been raised" not in text
    assert "told" in got.frame().columns
    assert got.frame()["alarms"].null_count() == 1


def test_nor_is_anything_paired_with_one():
    known = context("5 interior store PIR", "6 fire smoke detector")
    got = tried(Trial(PAIR, 15, "6"), known=known)
    assert "life-safety" in got.trials["told"][0]


def test_what_is_in_force_is_told_and_not_replayed_over():
    zones = KNOWN.zones.with_columns(
        count=pl.when(pl.col("zone") == "5").then(2).cast(pl.Int64), hold_off_s=pl.lit(5.0)
    )
    got = tried(Trial(COUNT, 20), Trial(HOLD_OFF, 20), known=replace(KNOWN, zones=zones))
    assert got.trials["told"].null_count() == 0
    assert got.trials["removed"].null_count() == 2
    assert got.in_force[:2] == ("Hold-off: 5 s, as listed", "Count: 2 trips, as listed")
    assert "Count: unknown" in tried(Trial(COUNT, 20)).in_force
    assert "Pairing with a second detector: unknown" in got.in_force


def test_delays_stop_at_the_limit_of_the_site():
    # EN 50131-1 entry time 45 s, from memory; a setting
    assert "no more than 45 s" in tried(Trial(HOLD_OFF, 46)).trials["told"][0]
    longer = tried(Trial(HOLD_OFF, 46), settings=Settings(delay_limit_s=60))
    assert longer.trials["told"][0] is None
    # a door that starts the entry time has used 30 s of it
    door = lines(zone="1")
    assert "no more than 15 s" in tried(Trial(COUNT, 20), more=door, zone="1").trials["told"][0]


def test_a_clock_of_minutes_shows_no_seconds():
    assert "too coarse" in tried(Trial(COUNT, 20), grain=60).trials["told"][0]


def test_without_live_restores_a_hold_off_is_not_replayed():
    laid = ground(QUIET, "\n".join(x for x in lines().splitlines() if " end " not in x))
    got = what_if(
        laid, KNOWN, Settings(), site="S1", zone="5",
        trials=[Trial(HOLD_OFF, 20), Trial(COUNT, 20)],
    )  # fmt: skip
    assert "does not tell when the point restored" in got.trials["told"][0]
    assert got.trials["told"][1] is None


def test_wrong_words_are_told():
    with pytest.raises(NotFound):
        tried(zone="77")
    for wrong in (Trial(COUNT, 0), Trial(PAIR, 10, "5"), Trial(PAIR, 10, "77")):
        with pytest.raises(UsageError):
            tried(wrong)


def test_files_are_safe_and_hold_the_same_figures():
    frame = tried(Trial(COUNT, 20), Trial(HOLD_OFF, 20)).frame()
    assert '"removed": 6' in to_json(frame)
    assert to_csv(frame).count("\r\n") == 3
