"""The two code tables: complete, consistent, and no life-safety code in another kind."""

import csv
from itertools import product
from pathlib import Path

import polars as pl
import pytest

from eventlab.meaning.codes import checksum, understand_codes
from eventlab.meaning.dc05 import meaning as dc05
from eventlab.meaning.tables import data_version, rows
from eventlab.schema import LIFE_SAFETY, MOMENTS, Kind, Phase

# ANSI/SIA DC-05-1999.09 App. C, by the standard's own meaning: medical 100-102, fire 110-118,
# panic, duress, hold-up 120-125 and their confirmation 129, gas 151, carbon monoxide 162; and
# 126 (hold-up suspected), 641, 642, 654 (a supervised person gives no sign).
DC05_LIFE = [
    *range(100, 103), *range(110, 119), *range(120, 127), 129, 151, 162, 641, 642, 654,
]  # fmt: skip
# ANSI/SIA DC-03-1990.01 App. A: alarm, its end, its end or that of a trouble, in the families
# fire, gas, hold-up, heat, medical, panic, emergency, sprinkler; a fire point alone of its pair or
# confirmed by it; a supervised person not home, or with no activity, and its end.
DC03_LIFE = [f"{family}{end}" for family, end in product("FGHKMPQS", "AHR")]
DC03_LIFE += ["FG", "FM", "JK", "NA", "NS"]
# Troubles, bypasses, supervisory states and tests of such points keep an ordinary kind and say so.
DC05_POINTS = [*range(200, 207), 326, 327, 373, 375, 376, 385, 386, 392, 526, 527, 571, 614, 615]
DC03_POINTS = [f"{family}{state}" for family, state in product("FGHKMPQS", "TJBUS")]
DC03_POINTS += ["FC", "FQ", "FV", "FW", "FX", "FY", "FZ", "GX", "AN", "AS"]


def read(cells):
    return understand_codes(pl.Series(cells, dtype=pl.String))


def test_every_code_of_the_standards_has_its_row():
    assert len(rows("dc05")) == len({row["code"] for row in rows("dc05")}) == 236
    assert len(rows("dc03")) == len({row["code"] for row in rows("dc03")}) == 306
    reference = Path(__file__).parents[2].parent / "shared" / "references"
    if not reference.exists():
        pytest.skip("the lists of codes are not at hand")
    for ours, theirs in (("dc05", "contact_id_codes"), ("dc03", "sia_codes")):
        with (reference / f"{theirs}.csv").open(encoding="utf-8") as lines:
            assert {r["code"] for r in csv.DictReader(lines)} == {r["code"] for r in rows(ours)}


@pytest.mark.parametrize("qualifier", ["1", "3", "6"])
def test_no_life_safety_code_of_dc05_lands_elsewhere(qualifier):
    read_ = read([f"{qualifier}{code}" for code in DC05_LIFE])
    assert set(read_["kind"].cast(pl.String)) <= {str(kind) for kind in LIFE_SAFETY}
    assert read_["life_safety"].null_count() == 0


def test_no_life_safety_code_of_dc03_lands_elsewhere():
    read_ = read(DC03_LIFE)
    assert set(read_["kind"].cast(pl.String)) <= {str(kind) for kind in LIFE_SAFETY}
    assert read_["life_safety"].null_count() == 0


def test_no_other_code_raises_a_life_safety_kind():
    table = dc05().filter(pl.col("kind").is_in([str(kind) for kind in LIFE_SAFETY]))
    assert set(table["digits"].cast(pl.Int64)) == set(DC05_LIFE)
    letters = {row["code"] for row in rows("dc03") if row["kind"] in set(LIFE_SAFETY)}
    assert letters == set(DC03_LIFE)


def test_what_befalls_a_life_safety_point_says_so():
    read_ = read([f"1{code}" for code in DC05_POINTS] + DC03_POINTS)
    assert read_["life_safety"].null_count() == 0
    ordinary = {str(kind) for kind in set(Kind) - LIFE_SAFETY}
    assert set(read_["kind"].cast(pl.String)) <= ordinary


def test_an_alarm_of_no_named_type_may_be_life_safety():
    assert set(read(["1140", "1150", "1572", "UA", "UX", "UB"])["life_safety"]) == {"unknown"}


def test_sprinkler_flow_is_a_fire_and_no_water_leak():
    assert read(["1113", "SA", "1154", "WA"])["kind"].to_list() == [
        "fire", "fire", "environment-alarm", "environment-alarm",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("cells", "kind", "phase"),
    [
        ("1139 BV BM XM", "confirmed-alarm", "moment"),
        ("1137 1144 1145 TA", "tamper-alarm", "begin"),
        ("1341 1383 1316 TT ES XS", "tamper", "begin"),
        ("TH TR 3137 3144", "tamper-alarm", "end"),
        ("1374 1457 EE EA", "exit-error", "moment"),
        ("1406 BC OC FC AB", "cancel", "moment"),
        ("1455", "arm-failed", "moment"),
        ("1459 CR 1130 1131 1132 1133 1135 1136 1146 BA UA", "intrusion-alarm", "begin"),
        ("1134", "entry-exit-alarm", "begin"),
        ("3131 BH BR UR", "intrusion-alarm", "end"),
        ("BJ FJ 3380", "sensor-fault", "end"),
        ("1570 1571 1572 1573 1574 BB FB XW", "bypass", "begin"),
        ("3570 BU FU", "bypass", "end"),
        ("1575 1377 BD", "shutdown", "begin"),
        ("BE 3575", "shutdown", "end"),
        ("1461 JA", "wrong-code", "moment"),
        ("1601 RX", "manual-test", "moment"),
        ("1602 1603 1608 RP RY TX 3602", "test-report", "moment"),
        ("1607 FI", "walk-test", "begin"),
        ("3607 FK", "walk-test", "end"),
        ("BX FX GX TP 1611 1613", "walk-test", "moment"),
        ("1625 JT JD", "clock-set", "moment"),
        ("1305 YW RR", "system-restart", "moment"),
        ("1627 LB", "on-site-work", "begin"),
        ("1628 3627 LX", "on-site-work", "end"),
        ("1465 1313 RN", "reset", "moment"),
        ("1301 AT", "mains-loss", "begin"),
        ("3301 AR", "mains-loss", "end"),
        ("1302 1309 1311 YT YM", "system-battery-low", "begin"),
        ("YR 3302", "system-battery-low", "end"),
        ("1344 XQ", "radio-jam", "begin"),
        ("1350 1351 1354 1355 1356 1357 YC LT XX NT", "comms-fail", "begin"),
        ("YK LR NR 3350", "comms-fail", "end"),
        ("1381 1382 1147 BZ UY UZ", "supervision-loss", "begin"),
        ("1384 XT", "device-battery-low", "begin"),
        ("3384 XR", "device-battery-low", "end"),
        ("TS", "on-test", "begin"),
        ("TE", "on-test", "end"),
        ("1158 1159 1154 WA ZA", "environment-alarm", "begin"),
        ("1320 YA", "siren-fault", "begin"),
        ("1333 ET EM", "module-fault", "begin"),
        ("1421 1422 DG DD", "access", "moment"),
        ("1378 BG", "activation", "begin"),
        ("OT CI OI 1453 1454 JL 1622", "log-state", "moment"),
    ],
)
def test_particular_codes_reach_their_kind(cells, kind, phase):
    # Meanings: ANSI/SIA DC-05 App. C, DC-03 App. A.
    for row in read(cells.split()).to_dicts():
        assert (row["kind"], row["phase"], row["problem"]) == (kind, phase, None), row["text"]


@pytest.mark.parametrize(
    ("cell", "kind", "mode"),
    [
        ("3401", "arm", "full"),
        ("1401", "disarm", None),
        ("3402", "arm", "full"),
        ("3403", "arm", "timed"),
        ("3407", "arm", "remote"),
        ("1407", "disarm", "remote"),
        ("3408", "arm", "quick"),
        ("3409", "arm", "key"),
        ("3441", "arm", "part"),
        ("3442", "arm", "part"),
        ("3456", "arm", "part"),
        ("1456", "disarm", None),
        ("3452", "arm", "full"),
        ("CL", "arm", "full"),
        ("CG", "arm", "part"),
        ("NL", "arm", "part"),
        ("NF", "arm", "part"),
        ("CF", "arm", "forced"),
        ("CP", "arm", "timed"),
        ("CQ", "arm", "remote"),
        ("CS", "arm", "key"),
        ("CJ", "arm", "full"),
        ("OP", "disarm", None),
        ("OG", "disarm", None),
        ("OQ", "disarm", "remote"),
        ("OS", "disarm", "key"),
        ("OR", "disarm", None),
    ],
)
def test_openings_and_closings_say_how(cell, kind, mode):
    (row,) = read([cell]).to_dicts()
    assert (row["kind"], row["phase"], row["mode"], row["as_user"]) == (kind, "moment", mode, True)


def test_a_status_report_repeats_and_opens_nothing():
    codes = [row["code"] for row in rows("dc05")]
    still = read([f"6{code}" for code in codes]).filter(pl.col("problem").is_null())
    assert still["still"].all()
    assert still.height > 180
    assert not read([f"1{code}" for code in codes])["still"].any()


def test_moments_only_happen_and_the_rest_begins_and_ends():
    moments = {str(kind) for kind in MOMENTS}
    answers = {"611", "613", "614", "615", "BX", "FX", "GX", "TP"}
    for table in ("dc05", "dc03"):
        for row in rows(table):
            pairs = [(row["kind"], row["phase"])]
            if table == "dc05":
                pairs.append((row["restored_kind"], row["restored_phase"]))
            for kind, phase in pairs:
                Kind(kind), Phase(phase)
                wanted = kind in moments or row["code"] in answers
                assert (phase == "moment") == wanted, row


# Worked frames: 1 and 2 of ANSI/SIA DC-05-1999.09 App. A, 3 of a public protocol note, the rest
# recomputed by the rule.
FRAMES = [
    ("1234 18 1131 01 015", "8"),
    ("1234 18 3131 01 015", "6"),
    ("6556 18 3402 01 015", "D"),
    ("1234 18 1381 01 007", "5"),
    ("1234 18 1384 01 012", "1"),
    ("9876 18 1301 00 000", "1"),
    ("1234 18 1401 02 003", "5"),
    ("5678 18 1602 00 000", "1"),
]


@pytest.mark.parametrize(("frame", "digit"), FRAMES)
def test_the_checksum_of_a_frame(frame, digit):
    assert checksum(frame) == digit
    assert understand_codes(pl.Series([f"{frame} {digit}"]))["problem"].item() is None


def test_the_checksum_wants_fifteen_digits():
    for wrong in ("1234", "1234 18 1131 01 01X", ""):
        with pytest.raises(ValueError, match="fifteen digits"):
            checksum(wrong)


@pytest.mark.parametrize(("frame", "digit"), FRAMES[:3])
def test_every_wrong_digit_is_found_except_zero_against_a(frame, digit):
    # ANSI/SIA DC-05: the power of the checksum, by all substitutions.
    digits = frame.replace(" ", "")
    for place, other in product(range(15), "0123456789ABCDEF"):
        changed = digits[:place] + other + digits[place + 1 :]
        same = other == digits[place] or {other, digits[place]} == {"0", "A"}
        assert (checksum(changed) == digit) == same


@pytest.mark.parametrize(("frame", "digit"), FRAMES[:3])
def test_swapped_digits_are_never_found(frame, digit):
    digits = frame.replace(" ", "")
    for first, second in product(range(15), repeat=2):
        swapped = list(digits)
        swapped[first], swapped[second] = swapped[second], swapped[first]
        assert checksum("".join(swapped)) == digit


def test_the_version_is_that_of_the_tables():
    assert data_version() == data_version()
    assert len(data_version()) == 12
