"""A door or window that alarmed alone is told, with no more said than a log can know."""

from eventlab.analysis import intrusion, lone_opening
from eventlab.report.said import Said
from eventlab.report.sentences import sentence
from eventlab.schema import Pattern
from tests.analysis.standing import context, found
from tests.analysis.test_intrusion import QUIET, RESTORES, SITE, at


def tell(*lines, known=SITE):
    return found(lone_opening, QUIET, *lines, known=known)


def shut(day="2025-02-05", zone="3"):
    return [
        at("02:10:00", rest=f"zone={zone}", day=day),
        at("02:10:12", rest=f"end zone={zone}", day=day),
    ]


def test_one_that_shut_again_is_told_with_its_night():
    got = tell(RESTORES, *shut())
    assert len(got) == 1
    row = got[0]
    assert (row["subject_kind"], row["events"], row["standing"]) == ("site", 1, False)
    assert row["figures"] == {"nights": 1, "points": 1, "once": 1, "dates": ["2025-02-04"]}
    assert row["evidence"][0]["what"] == "point 3 (back door) alarmed by itself"
    assert row["evidence"][0]["figure"] == "5 Feb 2025 02:10:00, shut again after 12 s"


def test_a_log_without_ends_says_that_it_cannot_tell():
    assert tell(at("02:10:00", rest="zone=3"))[0]["evidence"][0]["figure"] == (
        "5 Feb 2025 02:10:00, no row tells when it shut"
    )


def test_the_point_that_hardly_ever_alarms_comes_first():
    days = [f"2025-01-{d:02}" for d in range(10, 18)]
    known = context("1 entry door", "2 interior hall", "3 perimeter window", "5 perimeter gate")
    often = [line for day in days for line in shut(day, "3")]
    got = tell(*often, *shut("2025-02-05", "5"), known=known)[0]
    assert [line["what"][:7] for line in got["evidence"]] == ["point 5", "point 3"]
    assert got["evidence"][1]["figure"].startswith("8 nights, the last ones 13 Jan 2025 02:10:00")
    assert (got["figures"]["nights"], got["events"], got["figures"]["once"]) == (9, 9, 1)


def test_what_is_more_than_that_is_told_as_more():
    both = [*shut(), at("02:20:00", rest="zone=2")]
    stays = [RESTORES, at("02:10:00", rest="zone=3")]
    for lines in (both, stays):
        assert tell(*lines) == []
        assert found(intrusion, QUIET, *lines, known=SITE)


def test_what_somebody_disarmed_at_once_is_none():
    assert tell(*shut(), at("02:11:00", "disarm", "person=1")) == []


def test_rooms_and_detectors_outside_are_no_openings():
    assert tell(at("02:10:00", rest="zone=2"), at("23:10:00", rest="zone=5")) == []


def test_it_says_that_no_log_knows():
    day, figures = "5 Feb 2025", {"nights": 1, "points": 1, "once": 1}
    said = Said("S1", "site", "Hill Library", False, day, day, figures)
    told = sentence(Pattern.LONE_OPENING, said)
    assert "No log can tell" in told
    assert "look at it from outside" in told
