"""What must be alive, in sentences: whose it is, since when, what it means, what is not known."""

import pytest

from eventlab.analysis import faults, log_gap, mains, radio, reports, silent_zone
from eventlab.report import state
from tests.analysis.standing import NOTHING, SETTINGS, context, ground, nights
from tests.analysis.test_availability import daily
from tests.analysis.test_silent_zone import OTHERS, moves

QUIET = nights(40)


def told(find, *texts, known=NOTHING):
    laid = ground(*texts, known=known)
    (text,) = state(find(laid, known, SETTINGS), laid, known)["statement"].to_list()
    return text


def test_a_silent_point_says_before_and_since_and_asks_for_a_walk_test():
    text = told(silent_zone.find, nights(70), OTHERS, moves([7], 56))
    assert text.startswith("Point 7 has not been seen since 28 Feb 2025")
    assert "on 9 days on which others were: before, it was seen on 39 of 39 such days" in text
    assert text.endswith("Until it is walk-tested nobody knows whether it detects.")


def test_a_masked_detector_asks_first_who_was_in_the_room():
    text = told(faults.masked, QUIET, "2025-02-10 12:00:00 masking zone=4")
    assert "a masked detector does not protect" in text
    assert "It began while the place was open: who was in the room then?" in text
    assert "of armed time" in text
    assert "anti-mask" not in text
    night = told(faults.masked, QUIET, "2025-02-10 22:00:00 masking zone=4")
    assert "who was in the room" not in night


def test_lids_and_faults_say_whose_they_are():
    assert told(faults.tamper_open, QUIET, "2025-02-10 12:00:00 tamper zone=4").startswith(
        "A lid of point 4 has been open since 10 Feb 2025 12:00"
    )
    own = told(faults.tamper_open, QUIET, "2025-02-10 12:00:00 tamper")
    assert own.startswith("A lid of the system at site S1 has been open")
    siren = told(faults.standing, QUIET, "2025-02-10 12:00:00 siren-fault")
    assert siren.startswith("A fault of site S1 (siren fault) stands since 10 Feb 2025")
    assert "heard by nobody" in siren
    head = told(faults.tamper_open, QUIET, "2025-02-10 12:00:00 tamper zone=9",
                known=context("9 fire smoke"))  # fmt: skip
    assert "examined by a licensed person" in head


def test_disturbed_radio_says_both_things_that_it_may_be():
    lost = "\n".join(f"2025-02-10 03:0{z}:00 supervision-loss zone={z}" for z in (5, 6, 7, 8))
    text = told(radio.find, QUIET, lost)
    assert "is disturbed, or its receiver or the receiver's supply fails" in text
    assert "4 devices lost at once, 4 of them still" in text


def test_gaps_say_that_no_figure_counts_them():
    first = "\n".join(f"{line} source=a" for line in nights(14).splitlines())
    second = "\n".join(f"{x} source=b" for x in nights(14, first="2025-02-10").splitlines())
    text = told(log_gap.find, first, second)
    assert text.startswith("The log of site S1 has 1 gap, 21 days in all, from 20 Jan 2025 08:00")
    assert text.endswith("No figure of this site counts time that is not covered.")


def test_an_outage_that_the_panel_did_not_outlast_says_how_long_nothing_protected():
    text = """
    2025-01-20 20:00:00 mains-loss
    2025-01-21 09:30:00 system-battery-low
    2025-01-26 03:00:00 system-restart
    """
    said = told(mains.find, nights(14), nights(6, first="2025-01-26"), text)
    assert "the battery was told low meanwhile" in said
    assert "the panel may have been dead for up to 4.7 days, unprotected" in said


def test_reports_that_came_late_are_told_beside_those_that_did_not():
    text = told(reports.find, nights(42), daily(42, skip={10, 11, 12, 13}, late={30: 5}))
    assert "4 test reports of site S1, due every 24 hours, did not show" in text
    assert text.endswith("; 1 other came late.")


@pytest.mark.parametrize("path", ["Radio"])
def test_a_path_whose_reports_stopped_is_named(path):
    both = daily(42, more=" witness=receiver path=IP")
    one = daily(20, at="03:10:20", more=f" witness=receiver path={path}")
    assert f"at the monitoring centre over {path}" in told(reports.find, nights(42), both, one)
