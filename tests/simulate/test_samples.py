"""The committed samples are what the simulation makes, byte for byte, on any machine."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from eventlab.simulate import simulate

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_logs"


def files(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The samples made again in another time zone, language and order of hashes."""
    folder = tmp_path_factory.mktemp("again")
    code = f"from eventlab.simulate import simulate; simulate({str(folder)!r})"
    strange = {"TZ": "Australia/Sydney", "LC_ALL": "C", "PYTHONHASHSEED": "5"}
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT, env=os.environ | strange)
    return files(folder)


def test_made_again_they_are_the_same_bytes(made):
    assert made.keys() == files(SAMPLES).keys()
    for name, data in files(SAMPLES).items():
        assert made[name] == data, name


def test_they_are_small_and_tell_no_truth():
    kept = files(SAMPLES)
    assert sum(len(data) for data in kept.values()) < 6_000_000
    tops = {name.split("/")[0] for name in kept}
    assert tops == {"sites.csv", "zones.csv", "weather.csv", "visits.csv", "logs"}
    for name, data in kept.items():
        for word in ("break-in", "probing", "loose joint", "hurried", "dawdling"):
            assert word.encode() not in data, name
            assert word.encode("utf-16-le") not in data, name


def test_no_file_is_named_for_a_building(made):
    for name in made:
        stem = Path(name).stem.lower()
        assert not any(word in stem for word in ("museum", "library", "archive", "hall", "boat"))


def test_every_way_of_writing_is_there(made):
    logs = {name.removeprefix("logs/"): d for name, d in made.items() if name.startswith("logs/")}
    starts = {data[:3] for data in logs.values()}
    assert b"\xef\xbb\xbf" in starts
    assert any(start[:2] == b"\xff\xfe" for start in starts)
    assert b"Caf" not in logs["TV01.csv"]
    assert "Zoë".encode("cp1252") in logs["TV04.csv"]
    assert "Zoë".encode() not in logs["TV04.csv"]
    heads = [
        data.decode("utf-16" if data[:2] == b"\xff\xfe" else "cp1252").splitlines()
        for data in logs.values()
    ]
    for sign in (",", ";", "\t", "|"):
        assert any(lines[-2].count(sign) >= 1 for lines in heads)
    printout = logs["printout-0518.txt"].decode().splitlines()
    assert printout[1] == "Site: TV05"
    assert sum(line.startswith("Date|Time") for line in printout) > 10
    assert printout[-1].startswith("End of log")
    assert "AM," in logs["TV04.csv"].decode("cp1252")
    assert "Z,Nri1/" in logs["TV06.csv"].decode()
    assert "+01:00,1401 01" in logs["TV01.csv"].decode()


def test_a_site_alone_and_a_shorter_time_tell_the_same(tmp_path, made):
    simulate(tmp_path / "one", sites=["TV08", "TV06"])
    for name, data in files(tmp_path / "one").items():
        if name.startswith("logs/"):
            assert made[name] == data
    simulate(tmp_path / "short", days=90, sites=["TV06"])
    short = (tmp_path / "short/logs/TV06.csv").read_text().splitlines()
    whole = made["logs/TV06.csv"].decode().splitlines()
    assert 200 < len(short) < len(whole)
    assert short[1:] == whole[-len(short) + 1 :]


def test_two_exports_of_one_panel_overlap(made):
    first = made["logs/TV10-1.csv"].decode().splitlines()[1:]
    second = made["logs/TV10-2.csv"].decode().splitlines()[1:]
    assert len(first) == len(second) == 2000
    shared = first[first.index(second[0]) :]
    assert len(shared) > 500
    assert second[: len(shared)] == shared
