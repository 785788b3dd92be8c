"""Open recordings that no one here wrote; the facts stand in the readme beside them."""

from pathlib import Path

import pytest

from eventlab.intake import open_sheet
from tests.intake.test_sheet import account

DATA = Path(__file__).parents[3] / "shared" / "data"
needed = pytest.mark.skipif(not DATA.exists(), reason="open data not present")


@needed
def test_a_week_of_motion_is_read_whole():
    sheet = open_sheet(DATA / "motion_week" / "motion_week.txt")
    account(sheet)
    assert (sheet.lines, sheet.rows, sheet.other) == (21_968, 21_968, 0)
    assert (sheet.delimiter, sheet.header) == ("\t", None)
    assert sheet.cells["c1"].n_unique() == 22
    assert (sheet.cells["c2"] == "ON").sum() == (sheet.cells["c2"] == "OFF").sum() == 10_984
    assert sheet.cells["c3"].null_count() == 21_968


@needed
def test_a_year_of_weather_is_read_whole():
    sheet = open_sheet(DATA / "weather_2013" / "weather.csv")
    account(sheet)
    assert sheet.header is not None
    assert sheet.header[0] == "origin"
    assert (sheet.rows, sheet.other) == (26_115, 1)
    assert dict(sheet.cells["c0"].value_counts().rows()) == {"EWR": 8703, "JFK": 8706, "LGA": 8706}
