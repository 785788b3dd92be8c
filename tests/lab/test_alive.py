"""What of a site is still listening, over a real store of the sample logs."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from eventlab.errors import NotFound
from eventlab.ground import lay
from eventlab.lab import Lab
from eventlab.lab.alive import alive_view
from eventlab.lab.standing import Standing
from eventlab.schema import FINDING, LOST_PROTECTION, Health, Pattern, empty
from eventlab.settings import Settings
from tests.analysis.standing import context, nights
from tests.logbook import log

SAMPLES = Path(__file__).parent.parent.parent / "sample_logs"
NOT_HERE = {Pattern.MISSED_CLOSING, Pattern.ARM_REFUSED}
"""What people do or fail to do; nothing that must be alive."""


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    if not SAMPLES.is_dir():
        pytest.skip("there are no sample logs here")
    made = Lab(tmp_path_factory.mktemp("alive") / "store", create=True)
    made.take([SAMPLES])
    made.now = lambda: datetime(2026, 11, 2, tzinfo=UTC)
    return made


def test_weeks_in_which_a_point_was_silent_against_its_rhythm_are_told():
    known = context("1 interior pir", "2 interior pir", "3 interior pir", "9 fire smoke")
    rows = [nights(84)]
    for day in range(84):
        moved = [1, 2] if 42 <= day < 63 else [1, 2, 3]
        when = date(2025, 1, 6) + timedelta(days=day)
        rows += [f"{when} 12:0{point}:00 activation zone={point}" for point in moved]
    ground = lay(log("\n".join(rows)).sort("placed"), known, Settings())
    standing = Standing(ground, known, empty(FINDING), ground.episodes)
    view = alive_view(standing, Settings(), "S1", datetime(2025, 4, 2, tzinfo=UTC))
    silent = view.spells.filter(pl.col("what") == "unseen").join(view.lanes, on="lane")
    assert silent["zone"].unique().to_list() == ["3"]
    assert silent["since"].dt.date().to_list() == [date(2025, 2, d) for d in (17, 24)] + [
        date(2025, 3, 3)
    ]
    lane = view.lanes.filter(pl.col("family") == "point", pl.col("zone") == "3")
    assert lane["times"].to_list() == [0]


def test_what_findings_say_still_holds_is_not_well_in_its_lane(lab):
    for site in lab.sites()["site"]:
        holds = lab.findings(site=site).filter(
            pl.col("standing"),
            pl.col("pattern").is_in([p for p in LOST_PROTECTION if p not in NOT_HERE]),
        )
        lanes = lab.alive(site).lanes
        bad = lanes.filter(pl.col("health") == Health.NOT_WELL)
        assert bad.height >= holds["pattern"].n_unique(), site
        zones = holds.filter(pl.col("subject_kind") == "zone")["subject"]
        assert set(zones) <= set(bad["zone"].drop_nulls())


def test_left_on_test_leads(lab):
    view = lab.alive("TV09")
    assert view.lanes["family"][0] == "on-test"
    assert "on test since 22 Sep 2026" in view.sentence


def test_a_lid_that_was_shut_is_shut(lab):
    lane = lab.alive("TV07").lanes.filter(pl.col("family") == "tamper")
    assert lane["health"].to_list() == [Health.WELL]


def test_the_sample_walk_tests_are_told(lab):
    assert lab.alive("TV05").walk.startswith("Walk test of 24 Feb 2026: 13 of 13 points answered.")
    assert "No walk test stands in this log" in lab.alive("TV08").walk


def test_where_the_centre_tells_its_share_is_held_against_the_class(lab):
    view = lab.alive("TV07")
    assert view.heard["name"].to_list() == ["sent by the panel", "received by the centre"]
    assert "97 % of the chosen class" in view.heard["says"][1]
    assert set(view.weeks["series"]) == {0, 1}


def test_after_sixty_days_nothing_is_known_and_nothing_well(lab):
    lab.now = lambda: datetime(2027, 2, 2, tzinfo=UTC)
    view = lab.alive("TV01")
    lab.now = lambda: datetime(2026, 11, 2, tzinfo=UTC)
    assert not view.known
    assert view.sentence.startswith("Nothing is known of this site now")
    assert Health.WELL not in set(view.lanes["health"])


def test_a_site_there_is_not_is_not_found(lab):
    with pytest.raises(NotFound, match="no site 'nowhere'"):
        lab.alive("nowhere")
