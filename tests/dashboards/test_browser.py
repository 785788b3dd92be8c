"""Real pages in a real browser: both lights, three widths, by keyboard, with nothing refused."""

import os
import re
from pathlib import Path
from threading import Event

import pytest

from dashboards.app import create_app
from tests.dashboards.conftest import opened, serving, settle, until
from tests.dashboards.fake_lab import FakeLab

pytestmark = pytest.mark.browser

SMALL_TEXT = """[...document.querySelectorAll('main *')].filter(e =>
    [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()) && !e.closest('svg') &&
    parseFloat(getComputedStyle(e).fontSize) < 12.5).map(e => e.outerHTML.slice(0, 80))"""
FITTED = """[...document.querySelectorAll('.dash-graph')].every(e => {
    const [frame, plot] = [e.parentElement, e.querySelector('.main-svg')];
    return plot && Math.abs(plot.getBoundingClientRect().width - frame.clientWidth) < 2 &&
        plot.getBoundingClientRect().height <= frame.clientHeight + 2;
}) && [...document.querySelectorAll('.ag-header-row')].every(e =>
    e.getBoundingClientRect().width <= e.closest('.ag-root').clientWidth + 1)"""
PAGES = {
    "home": "/",
    "site": "/site/2102?around=40",
    "point": "/site/2102/zone/7",
    "point-life": "/site/2102/zone/9",
    "logs": "/logs",
    "proof": "/site/2102/proof?visit=2",
    "watch": "/site/2102/watch",
    "people": "/site/2102/people?at=2026-06-01",
}


def keep(page, name):
    """Keep a picture where somebody wants to look at it; its place is a setting of the run."""
    folder = os.environ.get("EVENTLAB_SHOTS")
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=True)


@pytest.fixture(scope="module")
def waiting_served(tmp_path_factory):
    """Serve a lab in which a question waits."""
    lab = FakeLab()
    file = tmp_path_factory.mktemp("in") / "ask.csv"
    file.write_bytes(b"a\n1\n")
    lab.take([file])
    with serving(create_app(lab)) as address:
        yield address


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("name", PAGES)
def test_each_page_stands_at_each_width_in_each_light(contexts, waiting_served, name, theme):
    path = PAGES[name]
    with opened(contexts, waiting_served + path, theme=theme) as page:
        settle(page, path)
        for width in (1440, 768, 360):
            if width != 1440:
                page.set_viewport_size({"width": width, "height": 900})
            if width == 360:
                # The page is drawn anew for a small screen once the window has come to rest.
                page.wait_for_selector("#page.narrow", state="attached")
                settle(page, path)
            assert page.evaluate("document.documentElement.dataset.theme") == theme
            # Plots and table follow the window a moment later.
            until(page, FITTED)
            until(page, f"document.documentElement.scrollWidth <= {width}")
            assert "· eventlab" in page.title()
            assert page.locator("h1").count() == 1
            assert page.evaluate(SMALL_TEXT) == []
            keep(page, f"{name}-{width}-{theme}")


def test_no_button_of_a_picture_shares_it(contexts, served):
    with opened(contexts, served + "/site/2102") as page:
        settle(page, "/site/2102")
        titles = page.eval_on_selector_all(
            ".modebar-btn", "all => all.map(b => b.dataset.title || b.getAttribute('aria-label'))"
        )
        assert titles
        assert not any(re.search("share|cloud|edit", str(title), re.IGNORECASE) for title in titles)


def test_light_can_be_chosen_and_is_kept(contexts, served):
    with opened(contexts, served + "/site/2102") as page:
        settle(page, "/site/2102")
        page.click("text=Dark")
        until(page, "document.documentElement.dataset.theme === 'dark'")
        plot = "document.querySelector('#site-raster .js-plotly-plot')"
        until(page, f"{plot}.layout.font.color === '#aebab5'")
        page.reload()
        settle(page, "/site/2102")
        assert page.evaluate("document.documentElement.dataset.theme") == "dark"
        assert page.get_attribute("#theme-dark", "aria-pressed") == "true"


def test_a_row_leads_to_its_site_and_back_keeps_the_question(contexts, served):
    with opened(contexts, served + "/?show=alarms") as page:
        settle(page, "/")
        page.click("text=Glasshouse Museum >> visible=true")
        page.wait_for_selector("h1 .name")
        settle(page, "/site/2102")
        assert page.url.endswith("/site/2102")
        # The reader stands at the head of the new page.
        until(page, "document.activeElement.tagName === 'H1'")
        assert page.get_attribute("header nav a >> nth=0", "aria-current") == "true"
        page.go_back()
        page.wait_for_selector("#home-grid .cell")
        assert page.url.endswith("/?show=alarms")
        until(page, "document.querySelector('#home-count').textContent.includes(' of 11 sites')")


def test_filters_typed_and_chosen_go_into_the_address_and_into_the_table(contexts, served):
    with opened(contexts, served + "/") as page:
        settle(page, "/")
        page.fill("#home-find", "library")
        page.wait_for_url(re.compile(r"/\?find=library$"))
        until(page, "document.querySelectorAll('#home-grid .cell-name').length === 4")
        # The choices are links, drawn anew for each question.
        page.click("a.chip[href*='find=library']:has-text('Left on test')")
        page.wait_for_url(re.compile("find=library&show=test$"))
        until(
            page,
            "[...document.querySelectorAll('#home-grid .cell-name')].map(e => e.textContent)"
            ".join() === 'Fellside Mobile Library Depot'",
        )
        page.click("summary:has-text('Trade')")
        page.keyboard.press("Escape")
        assert page.locator("details.menu[open]").count() == 0
        assert page.evaluate("document.activeElement.tagName") == "SUMMARY"


def test_headers_sort_by_keyboard_and_the_address_tells_it(contexts, served):
    with opened(contexts, served + "/") as page:
        settle(page, "/")
        page.focus("#home-grid .ag-header-cell[col-id=rate_30d]")
        page.keyboard.press("Enter")
        page.wait_for_url(re.compile("order=rate$"))
        until(
            page,
            "document.querySelector('#home-grid [row-index=\"0\"] .cell-name')?.textContent"
            " === 'Glasshouse Museum'",
        )
        page.reload()
        settle(page, "/")
        header = page.locator("#home-grid .ag-header-cell[col-id=rate_30d]")
        assert header.get_attribute("aria-sort") == "descending"


def test_choosing_a_mark_shows_what_stood_around_it(contexts, served):
    with opened(contexts, served + "/site/2102") as page:
        settle(page, "/site/2102")
        # Marks are drawn one over the other; the last one of the topmost family can be reached.
        until(page, FITTED)
        page.locator("#site-raster").scroll_into_view_if_needed()
        box = page.locator("#site-raster .scatterlayer .trace:has(.point)").last
        spot = box.locator(".point").last.bounding_box()
        page.mouse.move(spot["x"] + spot["width"] / 2, spot["y"] + spot["height"] / 2)
        page.wait_for_selector("#site-raster .hovertext")
        page.mouse.down()
        page.mouse.up()
        page.wait_for_url(re.compile("around="))
        page.wait_for_selector("text=What stood around this alarm")
        until(page, "document.activeElement.id === 'events-title'")
        page.click("text=Close")
        page.wait_for_url(re.compile("/site/2102$"))
        page.wait_for_selector("#events-title", state="detached")


def test_the_same_can_be_reached_by_keyboard_through_the_table(contexts, served):
    with opened(contexts, served + "/site/2102") as page:
        settle(page, "/site/2102")
        page.focus("summary:has-text('The same as a table')")
        page.keyboard.press("Enter")
        page.wait_for_selector("#site-raster-table table")
        page.focus("#site-raster-table tbody a >> nth=0")
        page.keyboard.press("Enter")
        page.wait_for_selector("text=What stood around this alarm")
        assert page.locator("details:has(#site-raster-table)").get_attribute("open") is not None
        page.click("#site-raster-table >> text=Older")
        page.wait_for_selector("text=page 2 of 4")


def test_families_points_and_dates_narrow_the_picture(contexts, served):
    with opened(contexts, served + "/site/2102") as page:
        settle(page, "/site/2102")
        page.click("a.legend-choice:has-text('surroundings')")
        page.wait_for_url(re.compile(r"\?without=surroundings$"))
        page.wait_for_selector("a.legend-choice.off:has-text('surroundings')")
        page.click("a.chip[href*='without=surroundings']:has-text('90 nights')")
        page.wait_for_selector("text=over 90 nights")
        until(page, "document.querySelector('#site-since').value !== ''")
        page.fill("#site-since", "2026-09-01")
        page.keyboard.press("Enter")
        page.wait_for_selector("text=over 29 nights")
        assert "since=2026-09-01" in page.url


def test_a_point_has_its_own_page_whose_address_holds_the_question(contexts, served):
    with opened(contexts, served + "/site/2102") as page:
        settle(page, "/site/2102")
        page.click("section:has-text('Points') .table th a >> text='7'")
        page.wait_for_url(re.compile("/site/2102/zone/7$"))
        settle(page, "/site/2102/zone/7")
        until(page, "document.activeElement.tagName === 'H1'")
        assert page.inner_text("h1") == "Why point 7, Glasshouse, west?"
        page.focus("article:has-text('Time of day') summary")
        page.keyboard.press("Enter")
        page.wait_for_selector("article:has-text('Time of day') table >> visible=true")
        with page.expect_download() as table:
            page.click("article:has-text('Time of day') >> text=Take this table away as CSV")
        assert table.value.suggested_filename == "clock.csv"
        page.click("a.chip:has-text('90 nights')")
        page.wait_for_selector("text=over 90 nights")
        assert re.search(r"/zone/7\?since=", page.url)
        page.click("text=Show me the events")
        page.wait_for_selector("#events-title:has-text('The events behind: Point 7')")
        page.go_back()
        page.click("text=All of Glasshouse Museum")
        page.wait_for_url(re.compile("/site/2102$"))


def test_show_me_the_events_shows_those_of_the_finding(contexts, served):
    with opened(contexts, served + "/site/2101") as page:
        settle(page, "/site/2101")
        page.click("text=Show me the events >> nth=0")
        page.wait_for_selector("#events-title:has-text('The events behind: Late entries')")


def test_an_unknown_address_is_a_page_with_a_true_status(contexts, served):
    with opened(contexts, served + "/site/9999", check=False) as page:
        page.wait_for_selector("text=There is no site 9999")
        assert page.request.get(served + "/site/9999").status == 404
        page.click("text=To all sites")
        settle(page, "/")


def test_keys_reach_the_content_first(contexts, served):
    with opened(contexts, served + "/") as page:
        settle(page, "/")
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline == "solid"
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "main"


def test_files_dropped_are_read_asked_about_and_taken(contexts, tmp_path):
    (tmp_path / "ask_library.csv").write_text("time,text\n03/04/2026 10:00,Set\n", encoding="utf-8")
    (tmp_path / "glasshouse <b>.csv").write_text("time,text\n1,2\n3,4\n", encoding="utf-8")
    (tmp_path / "broken.bin").write_bytes(b"\x00\x01")
    lab = FakeLab()
    with serving(create_app(lab)) as address, opened(contexts, address + "/logs") as page:
        page.set_input_files("#logs-files", sorted(tmp_path.iterdir()))
        page.wait_for_url(re.compile("job="))
        page.wait_for_selector("text=What became of each file")
        page.wait_for_selector("h3:has-text('glasshouse <b>.csv')")
        page.wait_for_selector("text=no table in it")
        page.wait_for_selector("text=3 lines = 2 rows + 1 other")
        page.wait_for_selector("text=1 file waits for you")
        page.click("button:has-text('3 April 2026: day first')")
        page.wait_for_selector("text=1 question left.")
        page.wait_for_selector("button[aria-pressed=true]:has-text('3 April')")
        page.fill(".question input", "2101")
        page.keyboard.press("Enter")
        page.wait_for_selector("legend:has-text('In which time zone')")
        page.fill(".question input", "Europe/London")
        page.keyboard.press("Enter")
        page.wait_for_selector(".waiting", state="detached")
        page.wait_for_selector("h3:has-text('ask_library.csv')")
        assert lab.taken[-1] == (
            "ask_library.csv",
            {"dates": "day-first", "site": "2101", "time-zone": "Europe/London"},
        )
        page.reload()
        page.wait_for_selector("h3:has-text('ask_library.csv')")


def test_long_work_shows_how_far_it_is_and_can_be_stopped(contexts, tmp_path):
    for name in ("a.csv", "b.csv", "c.csv"):
        (tmp_path / name).write_text("time,text\n1,2\n", encoding="utf-8")
    lab, go = FakeLab(), Event()
    quick = lab._take

    def slow(name, *rest):
        if name == "b.csv":
            go.wait(30)
        return quick(name, *rest)

    lab._take = slow
    with serving(create_app(lab)) as address, opened(contexts, address + "/logs") as page:
        page.set_input_files("#logs-files", sorted(tmp_path.iterdir()))
        page.wait_for_selector("text=Reading b.csv, file 2 of 3")
        keep(page, "logs-working")
        page.goto(address + "/")  # it can be left
        page.go_back()
        page.wait_for_selector("text=Reading b.csv, file 2 of 3")
        page.click("text=Stop after this file")
        page.wait_for_selector("text=Stopping after this file.")
        page.wait_for_selector("#logs-stop[disabled]")
        go.set()
        page.wait_for_selector("text=2 of 3 files had been read by then; what they told stays.")
        keep(page, "logs-stopped")
        assert page.locator("#logs-progress li").all_inner_texts() == ["a.csv", "b.csv"]
        assert [name for name, _ in lab.taken] == ["a.csv", "b.csv"]


def test_an_empty_store_shows_the_way_on(contexts):
    with serving(create_app(FakeLab(sites=()))) as address, opened(contexts, address) as page:
        page.wait_for_selector("text=No log has come in yet")
        keep(page, "home-empty")
        page.click("text=Bring in the first log")
        page.wait_for_selector(".drop-label")


def test_a_picture_can_be_taken_away_under_the_policy(contexts, served):
    with opened(contexts, served + "/site/2102") as page:
        settle(page, "/site/2102")
        page.hover("#site-raster")
        with page.expect_download() as taken:
            page.click("#site-raster .modebar-btn >> nth=0")
        assert taken.value.suggested_filename == "nights.png"
        page.click("summary:has-text('The same as a table')")
        with page.expect_download() as table:
            page.click("text=Take these alarms away as CSV")
        assert table.value.suggested_filename == "alarms.csv"
