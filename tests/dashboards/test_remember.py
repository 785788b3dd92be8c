"""Answers are remembered, and forgotten when the store changes."""

from dashboards.remember import Remembered
from tests.dashboards.fake_lab import FakeLab


def test_the_same_is_not_worked_out_twice_until_the_store_changes(tmp_path):
    lab = FakeLab()
    asked = Remembered(lab)
    first = asked.raster("2101")
    assert asked.raster("2101") is first
    assert asked.raster("2102") is not first
    (tmp_path / "log.csv").write_bytes(b"a\n1\n")
    asked.take([tmp_path / "log.csv"])
    assert asked.raster("2101") is not first


def test_only_so_many_answers_are_kept():
    asked = Remembered(FakeLab(), keep=3)
    first = asked.raster("2101")
    for site in ("2102", "2103", "2104"):
        asked.raster(site)
    assert asked.raster("2101") is not first
    assert len(asked._known) == 3


def test_files_that_wait_are_always_asked_for_anew(tmp_path):
    asked = Remembered(FakeLab())
    assert asked.waiting() == []
    (tmp_path / "ask.csv").write_bytes(b"a\n1\n")
    asked.take([tmp_path / "ask.csv"])
    assert len(asked.waiting()) == 1
