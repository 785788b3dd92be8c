"""Sentences, text, files, and what a log covers."""

import csv
import io
import json

import polars as pl
import pytest

from eventlab.advice import advise
from eventlab.analysis import run
from eventlab.report import as_text, coverage_sentence, safe, state, to_csv, to_json
from eventlab.report.said import Said
from eventlab.report.sentences import sentence
from eventlab.report.words import certainty, percent, ratio, span
from eventlab.schema import FINDING, Pattern, conform
from eventlab.settings import Settings
from tests.analysis.standing import context, ground, nights

SETTINGS = Settings()
KNOWN = context(
    "1 entry front door",
    "2 interior reading room PIR",
    "3 perimeter back door",
    "9 fire smoke detector",
    name="Hill Library",
    time_zone="Australia/Sydney",
)
TROUBLE = """
2025-01-09 03:00:00 device-battery-low zone=9
2025-01-10 02:00:00 intrusion-alarm zone=3
2025-01-10 02:01:00 intrusion-alarm zone=2
2025-02-10 14:00:00 on-test person_name=Bodil
"""


def findings(*texts, known=KNOWN):
    laid = ground(nights(40), *texts, known=known)
    return state(advise(run(laid, known, SETTINGS), known), laid, known)


# -- sentences ----------------------------------------------------------------------------------


def test_every_finding_is_a_sentence_in_wall_time_with_advice_and_caution():
    got = findings(TROUBLE)
    assert got.columns == list(FINDING)
    assert got.schema == pl.Schema(FINDING)
    told = dict(got.select("pattern", "statement").iter_rows())
    # 14:00 UTC is 01:00 of the next day in Sydney in summer
    assert "11 Feb 2025 01:00" in told[Pattern.LEFT_ON_TEST]
    assert "Hill Library" in told[Pattern.LEFT_ON_TEST]
    assert told[Pattern.POSSIBLE_INTRUSION].startswith("Possible real intrusion at Hill Library")
    assert "10 Jan 2025 13:00" in told[Pattern.POSSIBLE_INTRUSION]
    assert "examined by a licensed person" in told[Pattern.BATTERY_WEAK]
    assert "point 9 (smoke detector)" in told[Pattern.BATTERY_WEAK]
    for row in got.to_dicts():
        assert row["statement"][0].isupper()
        assert row["statement"].endswith(".")
        assert row["evidence"]
        assert row["advice"]
        assert "Local codes" in row["caution"]


def said(**more):
    base = {
        "subject": "point 4",
        "subject_kind": "zone",
        "site": "Hill Library",
        "standing": True,
        "since": "3 Mar 2025 02:10",
        "until": "9 Mar 2025 03:00",
    }
    return Said(**{**base, **more})


def test_rates_carry_their_hours_and_ratios_their_interval():
    figures = {"most": 5, "bursts": 6, "nights": 4, "alarms": 31, "hours": 412.2, "basis": "armed"}
    text = sentence(
        Pattern.CHATTERING, said(figures=figures, ratio=7.0, ratio_low=4.0, ratio_high=13.0)
    )
    assert "31 alarms in 412 armed hours" in text
    assert "about 7 times as many nights (4 to 13) as the other points" in text
    figures["basis"] = "calendar"
    assert "412 calendar hours" in sentence(Pattern.CHATTERING, said(figures=figures))
    # an interval that holds 1 says nothing
    wide = said(figures=figures, ratio=3.0, ratio_low=0.4, ratio_high=20.0)
    assert "times as many" not in sentence(Pattern.CHATTERING, wide)


def test_people_are_told_by_number():
    figures = {"n": 4, "acts": 50, "share": 0.08, "share_low": 0.02, "share_high": 0.19,
               "over_median_s": 12, "over_max_s": 40}  # fmt: skip
    person = said(
        figures=figures,
        subject="user 7",
        subject_kind="person",
        ratio=5.0,
        ratio_low=1.5,
        ratio_high=15.0,
        q_value=0.01,
    )
    text = sentence(Pattern.ENTRY_OVERRUN, person)
    assert text.startswith("User 7 set the alarm off when coming in 4 times of 50 entries")
    assert "(8 %, 2 % to 19 %)" in text
    assert "about 5 times as often (1.5 to 15) as the others here" in text
    doubt = said(figures=figures, subject="user 7", subject_kind="person", ratio=5.0,
                 ratio_low=1.5, ratio_high=15.0, q_value=0.2)  # fmt: skip
    assert "as the others" not in sentence(Pattern.ENTRY_OVERRUN, doubt)


@pytest.mark.parametrize("pattern", list(Pattern))
def test_no_pattern_is_without_words(pattern):
    assert sentence(pattern, said()).endswith(".")


def test_names_of_people_never_stand_in_a_statement():
    got = findings(TROUBLE)
    assert "Bodil" not in to_json(got.select("statement", "advice", "caution"))


def test_a_person_that_the_log_knows_by_name_only_is_not_named():
    late = "\n".join(
        f"2025-01-{d:02} 07:59:00 entry-exit-alarm zone=1\n"
        f"2025-01-{d:02} 07:59:20 disarm person=Ragnhild"
        for d in (8, 9, 10)
    )
    # A code with most of the openings would be taken for shared, and nobody told by person.
    often = "\n".join(f"2025-01-{d:02} 07:30:00 disarm person=Ragnhild" for d in range(11, 28))
    got = findings(late, often)
    assert set(got["pattern"]) == {Pattern.ENTRY_OVERRUN}
    assert "Ragnhild" not in to_json(got.drop("subject"))
    assert "A user told by name set the alarm off" in " ".join(got["statement"])


def test_words_for_numbers():
    assert span(0.005) == "18 seconds"
    assert span(1.5) == "1.5 hours"
    assert span(37) == "37 hours"
    assert span(72) == "3 days"
    assert span(24 * 100) == "14 weeks"
    assert percent(0.0712) == "7 %"
    assert percent(0.0031) == "0.3 %"
    assert certainty(0.72) == "likely (72 in 100)"
    assert certainty(0.97) == "almost certain (97 in 100)"
    assert certainty(None) is None
    assert ratio(7.0, 4.0, float("inf")) == "about 7 times as often (4 to more)"
    assert ratio(None, None, None) is None


# -- what a log covers --------------------------------------------------------------------------


def test_what_a_log_covers_opens_every_page():
    laid = ground(nights(11), "2025-01-08 02:00:00 intrusion-alarm zone=3", known=KNOWN)
    text = coverage_sentence(laid, "S1")
    assert text.startswith("This log covers 11 days (154 armed hours); it records alarms and")
    assert "not movement by day" in text
    assert "overwritten" not in text
    assert coverage_sentence(laid, "S9") == "There is no log of this site: nothing is known."


def test_a_round_number_of_rows_means_that_older_ones_were_overwritten():
    # EN 50131-1 (from memory): a memory of 250 rows
    laid = ground(nights(125), known=KNOWN)
    assert laid.events.height == 250
    assert "older events were overwritten" in coverage_sentence(laid, "S1")
    assert "overwritten" not in coverage_sentence(laid, "S1", rings=(500,))


def test_where_arming_is_not_told_no_armed_hours_are_told():
    text = coverage_sentence(ground("2025-01-08 02:00:00 intrusion-alarm zone=3"), "S1")
    assert "armed hours" not in text
    assert "not arming" in text


def test_a_clock_without_seconds_is_said():
    assert "its clock tells no seconds" in coverage_sentence(ground(nights(5), grain=60), "S1")


# -- files --------------------------------------------------------------------------------------

# The wide signs are meant: they must be seen through.
HOSTILE = ["=1+1", "+1", "-1", "@x", "\tx", "\rx", "\nx", "\x00x", "=x", "＠x", "plain", "", None]  # noqa: RUF001


def test_text_that_a_spreadsheet_would_run_is_neutralised():
    # OWASP ASVS 5.0, 1.2.10
    frame = pl.DataFrame({"a": HOSTILE, "n": [-1.5] * len(HOSTILE), "=b": ["x"] * len(HOSTILE)})
    text = to_csv(frame)
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert rows[0] == ["a", "n", "'=b"]
    cells = [row[0] for row in rows[1:]]
    # A control character, which a terminal would obey, is shown as one that cannot be shown.
    shown = [value.replace("\x00", "\ufffd") for value in HOSTILE[:10]]
    assert cells[:10] == [f"'{value}" for value in shown]
    assert cells[10:] == ["plain", "", ""]
    assert {row[1] for row in rows[1:]} == {"-1.5"}  # numbers stay bare
    assert "\r\n" in text
    assert pl.select(safe(pl.lit("=x"))).item() == "'=x"
    assert "\x1b" not in to_csv(pl.DataFrame({"a": ["\x1b]0;title\x07"]}))


def test_findings_as_csv_and_json():
    got = findings(TROUBLE)
    rows = list(csv.DictReader(io.StringIO(to_csv(got), newline="")))
    assert len(rows) == got.height
    assert rows[0]["since"] == "2025-02-10T14:00:00Z"
    assert json.loads(rows[0]["evidence"])[0]["what"]
    assert isinstance(json.loads(rows[0]["advice"]), list)
    told = json.loads(to_json(got))
    assert [row["pattern"] for row in told] == got["pattern"].to_list()
    assert list(told[0]) == list(FINDING)
    assert told[0]["since"] == "2025-02-10T14:00:00Z"
    assert [row["confidence"] for row in told] == got["confidence"].to_list()


def test_json_keeps_fractions_and_other_types():
    frame = pl.DataFrame({"at": ["2025-01-01T00:00:00.250"]}).select(
        pl.col("at").str.to_datetime("%Y-%m-%dT%H:%M:%S%.f", time_unit="us", time_zone="UTC"),
        night=pl.date(2025, 1, 1),
        share=pl.lit(float("nan")),
    )
    assert json.loads(to_json(frame)) == [
        {"at": "2025-01-01T00:00:00.250000Z", "night": "2025-01-01", "share": None}
    ]


# -- terminal -----------------------------------------------------------------------------------


def test_text_for_terminals():
    got = findings(TROUBLE)
    text = as_text(got)
    for part in ("left-on-test", "holds where the log ends", "> First: ", "Caution: "):
        assert part in text
    short = as_text(got, brief=True)
    assert short.count("Caution: ") == 1
    assert short.count("Local codes") == 1
    assert len(short) < len(text) / 2
    assert max(len(line) for line in text.splitlines()) <= 110
    assert "Nothing was found" in as_text(got.clear())


def test_a_logged_text_cannot_steer_the_terminal():
    bad = conform(
        pl.DataFrame({"site": ["S\x1b[2J"], "pattern": ["x"], "statement": ["a\x1b]0;t\x07"]}),
        FINDING,
    )
    assert "\x1b" not in as_text(bad)
    assert "\x07" not in as_text(bad)


# -- what stands, and what stood before ---------------------------------------------------------


def test_a_battery_low_again_tells_the_time_of_this_low():
    again = """
    2025-01-07 10:20:00 device-battery-low zone=2
    2025-01-19 10:20:00 device-battery-low end zone=2
    2025-02-14 15:00:00 device-battery-low zone=2
    """
    text = findings(again)["statement"][0]
    assert "has been low again since 15 Feb 2025 02:00, 17 hours up to the end of the log" in text
    assert text.endswith("; before that it stood low for 12 days.")


def test_what_stands_may_be_over_where_no_end_is_told():
    text = findings("2025-01-07 10:20:00 device-battery-low zone=2")["statement"][0]
    assert text.endswith("; this log tells no end of anything, so it may be over.")


def test_how_sure_is_said_beside_the_sentence_word_first():
    got = findings(TROUBLE)
    text = as_text(got.with_columns(confidence=pl.lit(0.72)))
    assert "[left-on-test, holds where the log ends, likely (72 in 100)]" in text
    text = as_text(got.with_columns(confidence=pl.lit(None, dtype=pl.Float64)))
    assert "how sure: not measured]" in text


def test_a_long_outage_and_a_battery_that_comes_and_goes_read_well():
    figures = {"outages": 1, "longest_h": 46, "battery_low": 1, "beyond": True, "standby_h": 12}
    assert sentence(Pattern.MAINS_OUT, said(figures=figures, standing=False)) == (
        "The mains of Hill Library was off for 46 hours from 3 Mar 2025 02:10, longer than the "
        "12 h its battery must last; the battery was told low meanwhile."
    )
    figures = {"times": 4, "within": 4, "window_days": 60, "repeats": True}
    assert sentence(Pattern.BATTERY_WEAK, said(figures=figures)) == (
        "The battery of point 4 was told low 4 times within 60 days, from 3 Mar 2025 02:10 to "
        "9 Mar 2025 03:00: it is weak."
    )


# -- points that repeat ---------------------------------------------------------------------------


def repeating(**figures):
    return Said("point 5 (Store)", "zone", "Hill Library", True, "1 Jan", "2 Jan", figures)


def test_chatter_says_by_which_rule_it_was_seen():
    slow = {"rule": "floor", "floor_s": 180.0, "grain": 1, "most": 9, "bursts": 4, "nights": 3}
    told = sentence(Pattern.CHATTERING, repeating(**slow))
    assert "each time as soon as it can tell it (180 s after the one before" in told
    assert "up to 9 alarms in a row, 4 runs on 3 nights" in told
    assert "about 3 min after" in sentence(Pattern.CHATTERING, repeating(**{**slow, "grain": 60}))
    quick = sentence(Pattern.CHATTERING, repeating(rule="minute", most=4, bursts=3, nights=3))
    assert "chatters: up to 4 times in a minute" in quick


def test_a_swinger_says_what_hides_how_often():
    figures = {"swinging": 8, "tripped": 9, "most": 2, "half_s": 300.0, "grain": 1}
    plain = sentence(Pattern.SWINGER, repeating(**figures))
    assert "in 8 of the 9 armed periods in which it alarmed" in plain
    assert "within about 5 min" in plain
    assert "is not known" not in plain
    cut = sentence(Pattern.SWINGER, repeating(**figures, limit=2, limit_basis="seen"))
    assert "out after 2 alarms of an armed period as far as this log shows" in cut
    rides = {"rides": "a tamper of the same point", "rides_n": 7, "rides_of": 9}
    ridden = sentence(Pattern.SWINGER, repeating(**figures, **rides))
    assert ridden.endswith(
        "Most of its alarms (7 of 9) come within minutes of a tamper of the same point: "
        "look at that first."
    )


def test_what_follows_or_comes_with_a_storm_takes_nothing_away():
    follows = sentence(
        Pattern.FOLLOWS_POINT,
        repeating(leader="4", leader_name="Hall", followed=6, nights=6, longest_s=3.0, grain=1),
    )
    assert "hardly alarms but just after point 4 (Hall)" in follows
    assert "a possible intrusion stays one" in follows
    siren = sentence(
        Pattern.FOLLOWS_SIREN,
        repeating(followed=6, nights=7, shortest=900.0, longest=904.0, grain=1),
    )
    assert "alarms as the siren stops: on 6 of 7 nights" in siren
    assert "15 min after" in siren
    assert "a possible intrusion stays one" in siren
    visits = sentence(
        Pattern.AFTER_VISIT, repeating(followed=4, visits=5, before=0, wide=7, share=0.04)
    )
    assert "after 4 of 5 visits it alarmed within 7 nights at risk" in visits
    assert "4 times in 100" in visits
    storm = sentence(
        Pattern.STORM_BURST, repeating(nights=3, points=4, gust=24.0, rain=0.0, shared=0)
    )
    assert "gusts up to 24 m/s" in storm
    assert "takes no possible intrusion away" in storm
