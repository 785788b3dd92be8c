"""The screens over a real store of the sample logs: what the fake lab promises must be so."""

from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest

from dashboards.app import create_app
from dashboards.remember import Remembered
from eventlab.lab import Lab
from tests.dashboards.conftest import opened, serving, settle, until
from tests.dashboards.fake_lab import FakeLab

SAMPLES = Path(__file__).parent.parent.parent / "sample_logs"
NOW = datetime(2026, 11, 2, tzinfo=UTC)

pytestmark = pytest.mark.skipif(not SAMPLES.is_dir(), reason="there are no sample logs here")


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    made = Lab(tmp_path_factory.mktemp("real") / "store", create=True, now=NOW)
    made.take([SAMPLES])
    return made


@pytest.fixture(scope="module")
def served(lab):
    with serving(create_app(lab)) as address:
        yield address


def test_the_fake_lab_has_the_face_of_the_real_one(lab):
    fake, real = FakeLab(), Remembered(lab)
    first, other = real.sites()["site"][0], "2101"
    assert set(fake.sites().columns) <= set(real.sites().columns)
    assert set(vars(fake.site(other))) <= set(vars(real.site(first)))
    assert set(fake.site(other).points.columns) <= set(real.site(first).points.columns)
    assert set(fake.site(other).powers.columns) - {"site"} <= set(real.site(first).powers.columns)
    for name in ("armed", "aside", "sun", "marks"):
        told = getattr(real.raster(first), name)
        assert set(getattr(fake.raster(other), name).columns) <= set(told.columns), name
    assert fake.events(site=other).columns == real.events(site=first).columns
    assert fake.findings().columns == lab.findings().columns
    assert set(fake.logs().columns) <= set(real.logs().columns)
    assert set(fake.unread().columns) <= set(real.unread().columns)
    assert set(fake.strangers().columns) == set(real.strangers(guess=False).columns)
    assert fake.taught().columns == real.taught().columns
    there, made = real.proof("TV06", visit=1), fake.proof(other, visit=2)
    for name in ("rows", "visits", "nights"):
        assert set(getattr(made, name).columns) == set(getattr(there, name).columns), name
    zone = real.site(first).points.filter(~pl.col("life_safety"))["zone"][0]
    made_up, told = fake.point(other, "1"), real.point(first, zone, None)
    assert vars(made_up).keys() == vars(told).keys()
    for name in ("bins", "sky", "gaps"):
        assert getattr(made_up.profile, name).columns == getattr(told.profile, name).columns, name
    assert set(made_up.point) <= set(told.point)
    assert set(made_up.says) == set(told.says)
    assert set(real.raster(first, zone=zone).marks["zone"]) <= {zone}
    made_up, told = fake.people(other), real.people(first, None)
    assert vars(made_up).keys() == vars(told).keys()
    assert set(made_up.says) == set(told.says)
    for name in ("entries", "doors", "people", "bypasses"):
        frames = getattr(made_up, name), getattr(told, name)
        assert set(frames[0].columns) == set(frames[1].columns), name
    hours = fake.usual_hours(other), real.usual_hours(first)
    for name in ("bands", "exceptions"):
        assert getattr(hours[0], name).columns == getattr(hours[1], name).columns, name
    shown = real.raster(first).marks["id"]
    assert real.around(first, int(shown[0])).height


@pytest.mark.browser
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_page_of_every_site_stands(contexts, lab, served, theme):
    sites = lab.sites()
    with opened(contexts, served + "/", theme=theme) as page:
        settle(page, "/")
        assert page.locator("#home-grid .cell-name").count() > 0
        for site in sites["site"].to_list()[:: 2 if theme == "light" else 4]:
            page.goto(f"{served}/site/{site}")
            page.wait_for_selector("#site-raster .barlayer .point", state="attached")
            page.wait_for_selector(".findings, #site-findings .says", state="attached")
            until(page, "!document.querySelector('[data-dash-is-loading=true]')")
            assert page.inner_text("h1").startswith("What is happening at ")
        page.goto(f"{served}/site/TV04/people")
        page.wait_for_selector(".chart .barlayer .point", state="attached")
        assert "Figures about codes, not proof about people" in page.inner_text(".page-head")
        page.goto(f"{served}/site/TV02/zone/5")
        page.wait_for_selector(".chart-first .heatmaplayer", state="attached")
        page.wait_for_selector(".chart .barlayer .point", state="attached")
        assert page.inner_text("h1").startswith("Why point 5")
        page.goto(served + "/logs")
        settle(page, "/logs")


@pytest.mark.browser
def test_a_log_whose_dates_are_open_is_asked_about_and_then_taken(contexts, tmp_path):
    rows = "".join(f"0{n}/0{n + 1}/2026 0{n}:10:00,Burglar alarm zone 4\n" for n in range(1, 4))
    file = tmp_path / "depot.csv"
    file.write_text("Time,Event\n" + rows, encoding="utf-8")
    lab = Lab(tmp_path / "store", create=True, now=NOW)
    with serving(create_app(lab)) as address, opened(contexts, address + "/logs") as page:
        page.set_input_files("#logs-files", file)
        asked = page.locator(".waiting fieldset")
        asked.filter(has_text="Which site").locator("input").fill("DEPOT")
        page.keyboard.press("Enter")
        # Each answer is taken before the next: what is typed meanwhile would be drawn over.
        page.wait_for_selector("text=2 questions left")
        asked.filter(has_text="1 February 2026").locator("button").first.click()
        page.wait_for_selector("text=1 question left")
        asked.filter(has_text="time zone").locator("input").fill("Europe/London")
        page.keyboard.press("Enter")
        page.wait_for_selector("text=4 lines = 3 rows + 1 other")
        page.goto(address + "/")
        page.wait_for_selector("#home-grid .cell-name:has-text('DEPOT')")
        page.wait_for_selector("text=so there is no map")
        page.wait_for_selector("text=nothing is known >> visible=true")
