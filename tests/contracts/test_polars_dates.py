"""What polars and zoneinfo do with dates, and why the reading of dates and zones keeps away.

A change of these with a new version asks for another look at ``eventlab/meaning``.
"""

import subprocess
import sys
from datetime import date, datetime
from importlib import resources
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from polars.exceptions import ComputeError

AMBIGUOUS = pl.Series(["04/03/2024", "04/05/2024"])


def test_ambiguous_dates_are_day_first_without_a_word():
    """The reason why no polars date parser is ever called without a format."""
    assert AMBIGUOUS.str.to_date().to_list() == [date(2024, 3, 4), date(2024, 5, 4)]
    table = pl.read_csv(b"when\n04/03/2024\n04/05/2024\n", try_parse_dates=True)
    assert table["when"].to_list() == [date(2024, 3, 4), date(2024, 5, 4)]


def test_a_lax_parser_keeps_the_wrong_rows_and_drops_the_right_ones():
    cells = pl.Series(["04/03/2024 10:00:00", "04/13/2024 10:00:00"])
    assert cells.str.to_datetime("%d/%m/%Y %H:%M:%S", strict=False).to_list() == [
        datetime(2024, 3, 4, 10),  # noqa: DTZ001 - a wall time
        None,
    ]


def test_month_first_is_never_inferred():
    with pytest.raises(ComputeError):
        pl.Series(["04/13/2024", "04/14/2024"]).str.to_date()


def test_dates_that_do_not_exist_raise():
    """The reason why days are counted by our own arithmetic."""
    with pytest.raises(ComputeError):
        pl.select(pl.date(2025, 2, 31))


def test_find_counts_bytes_and_slice_characters():
    """The reason why a cheap cut is checked, and cut again with care where it fails."""
    cell = pl.Series(["1. März 2025 22:15"])
    assert cell.str.find(":", literal=True).item() == len("1. März 2025 22".encode())
    assert cell.str.slice(13, 5).item() == "22:15"


def test_zoneinfo_prefers_the_database_of_the_system(tmp_path):
    """The reason why zones are opened from the files of the ``tzdata`` package.

    A system whose London is another place: the ordinary way believes it, ours does not.
    """
    other = resources.files("tzdata").joinpath("zoneinfo", "Asia", "Kathmandu").read_bytes()
    folder = tmp_path / "Europe"
    folder.mkdir()
    (folder / "London").write_bytes(other)
    asked = (
        "from datetime import datetime, UTC; from zoneinfo import ZoneInfo;"
        "from eventlab.meaning.transitions import transitions as t;"
        "print(ZoneInfo('Europe/London').utcoffset(datetime(2025, 1, 1)).seconds,"
        "t('Europe/London', datetime(2025, 1, 1), datetime(2026, 1, 1)).height)"
    )
    done = subprocess.run(
        [sys.executable, "-c", asked],
        env={"PYTHONTZPATH": str(tmp_path), "PYTHONPATH": ":".join(sys.path)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.split() == ["20700", "2"]


def test_a_zone_opened_from_the_package_names_itself():
    with resources.files("tzdata").joinpath("zoneinfo", "Europe", "London").open("rb") as file:
        zone = ZoneInfo.from_file(file, key="Europe/London")
    assert zone.key == "Europe/London"
    assert zone is not ZoneInfo("Europe/London")
