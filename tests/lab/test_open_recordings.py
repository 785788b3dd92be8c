"""Real recordings that no one here wrote, read whole. They lie outside the project."""

from pathlib import Path

import pytest

from eventlab.lab import Lab
from eventlab.schema import LOST_PROTECTION, Kind, Phase

MOTION = Path(__file__).parents[3] / "shared/data/motion_week/motion_week.txt"


@pytest.fixture(scope="module")
def week(tmp_path_factory):
    """WSU-CASAS/CIL tests/tm000.multiday_absence.txt at 6cd4d4007cab (MIT)."""
    if not MOTION.exists():
        pytest.skip("open data not present")
    lab = Lab(tmp_path_factory.mktemp("motion") / "store", create=True)
    (result,) = lab.take([MOTION], site="HOME", time_zone="America/Los_Angeles")
    return lab, result


def test_the_week_is_read_whole(week):
    lab, result = week
    assert (result.rows, result.read, result.unread, result.repeated) == (21_968, 21_968, 0, 0)
    events = lab.events()
    assert events.height == 21_968
    assert events["zone"].n_unique() == 22
    assert events["kind"].unique().to_list() == [Kind.ACTIVATION]
    phases = dict(events["phase"].value_counts().iter_rows())
    assert phases == {Phase.BEGIN: 10_984, Phase.END: 10_984}
    assert str(events["wall"].min()) == "2016-07-12 00:00:30.600670"
    assert str(events["wall"].max()).startswith("2016-07-18 23:43:36")


def test_an_empty_house_is_not_told_as_broken_sensors(week):
    """Three times all 22 points are silent together: the house is empty, no sensor is broken."""
    lab, _ = week
    told = lab.findings()
    assert told.filter(told["pattern"].is_in(list(LOST_PROTECTION))).is_empty()


def test_what_the_week_does_not_record_is_said(week):
    lab, _ = week
    powers = {(row["power"], row["value"]) for row in lab.site("HOME").powers.to_dicts()}
    assert ("arming", "none") in powers
    assert ("activations", "yes") in powers
