"""What the lab tells of one point, over a real store of the sample logs."""

from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest

from eventlab.errors import NotFound
from eventlab.lab import Lab

SAMPLES = Path(__file__).parent.parent.parent / "sample_logs"

pytestmark = pytest.mark.skipif(not SAMPLES.is_dir(), reason="there are no sample logs here")


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    made = Lab(tmp_path_factory.mktemp("points") / "store", create=True,
               now=datetime(2026, 11, 2, tzinfo=UTC))  # fmt: skip
    made.take([SAMPLES])
    return made


def test_a_point_that_follows_the_sun_says_so_first(lab):
    view = lab.point("TV02", "5")
    assert next(iter(view.says)) == "sun"
    assert "when the sun stands low" in view.says["sun"]
    assert view.findings["subject"].unique().to_list() == ["5"]
    assert view.profile.hours == pytest.approx(view.point["hours"], rel=0.01)
    assert view.trials is not None
    assert len(view.tried) == view.trials.trials.height
    assert set(view.out["reason"]) == {"shutdown"}


def test_its_nights_are_its_own(lab):
    marks = lab.raster("TV02", zone="5").marks
    assert set(marks["zone"]) == {"5"}
    every = lab.raster("TV02").marks.filter(pl.col("zone") == "5")
    assert marks.equals(every)


def test_every_point_of_every_site_has_a_page_and_life_safety_no_profile(lab):
    for site in ("TV01", "TV05"):
        for zone, within, life in lab.site(site).points.select(
            "zone", "within", "life_safety"
        ).iter_rows():  # fmt: skip
            view = lab.point(site, zone, within)
            assert (view.profile is None) == life
            assert (view.trials is None) or not life
            assert bool(view.says) != life
            assert view.sentence.startswith("Point ")


def test_a_point_there_is_not_is_not_found(lab):
    with pytest.raises(NotFound, match="no point 'nowhere'"):
        lab.point("TV02", "nowhere")
