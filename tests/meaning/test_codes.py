"""Codes of ANSI/SIA DC-05-1999.09 and DC-03-1990.01 (R2000.11): forms, fields, frames."""

import polars as pl
import pytest

from eventlab.meaning.codes import is_code_column, understand_codes
from eventlab.meaning.understood import UNDERSTOOD


def understand(*cells, qualifier=None):
    return understand_codes(
        pl.Series(cells, dtype=pl.String),
        None if qualifier is None else pl.Series(qualifier, dtype=pl.String),
    ).to_dicts()


ALARM = {"kind": "intrusion-alarm", "phase": "begin", "problem": None}


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ("1131", ALARM | {"code": "1131", "zone": None, "area": None, "bare": False}),
        ("E131", ALARM | {"code": "1131"}),
        ("R131", {"kind": "intrusion-alarm", "phase": "end", "code": "3131"}),
        ("131", ALARM | {"code": "131", "bare": True}),
        ("1131 01 015", ALARM | {"zone": "15", "area": "1", "as_user": False}),
        ("1 131 01 015", ALARM | {"zone": "15", "area": "1"}),
        ("1131-01-015", ALARM | {"zone": "15", "area": "1"}),
        ("E131 G01 Z015", ALARM | {"zone": "15", "area": "1"}),
        ("113101015", ALARM | {"zone": "15", "area": "1"}),
        ("18113101015", ALARM | {"zone": "15", "area": "1"}),
        ("1131 00 000", ALARM | {"zone": None, "area": None}),
        ("131 015", ALARM | {"zone": "15", "bare": True}),
        ("1234 18 1131 01 015 8", ALARM | {"zone": "15", "account": "1234"}),
        ("1234181131010158", ALARM | {"zone": "15", "account": "1234"}),
        ("[#1234|1131 01 015]", ALARM | {"zone": "15", "account": "1234"}),
        ("1401 02 003", {"kind": "disarm", "person": "3", "zone": None, "area": "2"}),
        ("3401 02 003", {"kind": "arm", "mode": "full", "person": "3", "as_user": True}),
        ("R441 01 004", {"kind": "arm", "mode": "part", "person": "4"}),
        ("1441 01 004", {"kind": "disarm", "mode": None}),
        ("3403", {"kind": "arm", "mode": "timed"}),
        ("1403", {"kind": "disarm", "mode": "timed"}),
        ("6301", {"kind": "mains-loss", "phase": "begin", "still": True, "code": "6301"}),
        ("1333 00 003", {"kind": "module-fault", "zone": "module 3", "as_user": None}),
        ("1351 00 000", {"kind": "comms-fail", "zone": "line 1"}),
        ("1602 00 000", {"kind": "test-report", "phase": "moment", "zone": None}),
        # Without the account the checksum cannot be worked out.
        ("18 1131 01 015 8", ALARM | {"zone": "15", "area": "1", "account": None}),
        ("BA", ALARM | {"code": "BA", "zone": None}),
        ("BA015", ALARM | {"code": "BA", "zone": "15"}),
        ("BA 15", ALARM | {"zone": "15"}),
        ("NBA015", ALARM | {"code": "BA", "zone": "15"}),
        ("NA", {"kind": "medical", "code": "NA"}),
        ("NL001", {"kind": "arm", "mode": "part", "code": "NL", "area": "1"}),
        ("Nri1/BA015", ALARM | {"code": "BA", "zone": "15", "area": "1"}),
        ("Nri01/id123/CL005", {"kind": "arm", "mode": "full", "person": "123", "area": "1"}),
        ("CL005", {"kind": "arm", "person": "5", "as_user": True}),
        ("Nri1/BA015^Main door^", ALARM | {"zone": "15"}),
        ("LT2", {"kind": "comms-fail", "zone": "line 2"}),
        # Whole messages of ANSI/SIA DC-09, worked by hand (CRC checked with CRC-16/ARC).
        ('B9370026"SIA-DCS"0001L0#1234[#1234|Nri1/BA015]', ALARM | {"zone": "15", "area": "1"}),
        ('2EB40027"ADM-CID"0001L0#1234[#1234|1131 01 015]', ALARM | {"account": "1234"}),
        (
            'B511003A"SIA-DCS"0002L0#1234[#1234|Nri1/CL001]_14:12:04,09-25-2025',
            {"kind": "arm", "person": "1", "area": "1"},
        ),
    ],
)
def test_a_code_is_read_in_every_form(cell, said):
    (row,) = understand(cell)
    assert row["text"] == cell
    assert row | said == row


@pytest.mark.parametrize(
    ("cell", "problem"),
    [
        ("999", "code 999 is in no table"),
        ("1999 01 015", "code 999 is in no table"),
        ("ZQ01", "code ZQ is in no table"),
        ("2131", "qualifier 2 is not in the standard"),
        ("1234 18 1131 01 015 7", "the checksum of the frame is wrong"),
        ("1234 17 1131 01 015 8", "message type 17 is not one of the standard"),
        ("401", "code 401 needs its qualifier: it tells openings and closings"),
        ("6401", "a status report of 401 does not say whether the area is open or closed"),
        ("1651", "code 651 is reserved: the standard gives it no sense"),
        ("1131 01", "it has the form of no standard code"),
        ("Main door", "it has the form of no standard code"),
        ("", "it has the form of no standard code"),
    ],
)
def test_what_is_not_known_is_said_and_never_guessed(cell, problem):
    (row,) = understand(cell)
    assert row["problem"] == problem
    assert row["kind"] is None
    assert row["phase"] is None
    assert row["zone"] is None


def test_an_unknown_code_is_kept_as_it_stood():
    assert understand("1999 01 015")[0]["code"] == "1999"


def test_the_checksum_with_zero_counted_as_nothing_is_wrong():
    # Only 0 counted as ten gives the 8 that ANSI/SIA DC-05 App. A prints.
    assert understand("1234 18 1131 01 015 8")[0]["problem"] is None
    plain = sum(int(d) for d in "123418113101015")
    assert understand(f"1234 18 1131 01 015 {15 - plain % 15:X}")[0]["problem"] is not None


def test_one_cell_may_tell_several_events():
    rows = understand("Nri1/BA015/BA016/TA2")
    assert [(r["piece"], r["code"], r["zone"]) for r in rows] == [
        (1, "BA", "15"),
        (2, "BA", "16"),
        (3, "TA", "2"),
    ]


def test_a_qualifier_beside_the_code():
    rows = understand(
        "131", "401", "401", "401", "131", "1131", "BA", "602",
        qualifier=["R", "Opening", "3", None, "7", "3", None, "1"],
    )  # fmt: skip
    assert [(r["kind"], r["phase"], r["code"]) for r in rows[:3]] == [
        ("intrusion-alarm", "end", "3131"),
        ("disarm", "moment", "1401"),
        ("arm", "moment", "3401"),
    ]
    assert [r["problem"] is None for r in rows] == [
        True,
        True,
        True,
        False,
        False,
        False,
        True,
        True,
    ]
    assert [r["qualifier"] for r in rows[:2]] == ["R", "Opening"]


def test_the_shape_and_the_order():
    cells = pl.Series(["3401", None, "BA", "x", "BA"])
    read = understand_codes(cells)
    assert read.schema == UNDERSTOOD
    assert read["text"].to_list() == ["3401", "BA", "x"]
    assert understand_codes(pl.Series([], dtype=pl.String)).schema == UNDERSTOOD


@pytest.mark.parametrize(
    ("cells", "share", "family"),
    [
        (["1131 01 015", "3131 01 015", "1401 00 001"], 1.0, "dc05"),
        (["131", "401", "602"], 1.0, "dc05"),
        (["BA", "OP", "CL", "ZQ"], 0.75, "dc03"),
        (["101", "102", "131"], 0.0, None),
        (["101", "102", "201", "202"], 0.0, None),
        (["7", "12"], 0.0, None),
        (["Alarm", "Restore"], 0.0, None),
        ([None, None], 0.0, None),
        (["BA", "BA", "BA", "?"], 0.75, "dc03"),
    ],
)
def test_a_column_of_codes_is_known_by_its_cells(cells, share, family):
    assert is_code_column(pl.Series(cells, dtype=pl.String)) == (share, family)
