"""Did it work? The page, its address, its picture."""

import json
from datetime import date, timedelta

import polars as pl
import pytest

from dashboards import ids, proving, question
from dashboards.figures import proof as picture
from dashboards.palette import Theme
from dashboards.question import Proof
from tests.dashboards.conftest import opened, settle, until
from tests.dashboards.fake_proof import LIFE


def ask(asker, search="", site="2102"):
    values = {"url.pathname": f"/site/{site}/proof", "url.search": search, "theme.data": "light"}
    told = asker.answer(f"{ids.PROOF_ANSWER}.children", values)
    return json.dumps(told, ensure_ascii=False), told


def test_the_newest_visit_stands_where_none_is_asked_for(asker):
    text, told = ask(asker)
    assert "point 4: alarms before and after." in text
    chosen = [chip for chip in _chips(told) if chip.get("aria-current")]
    assert "visit=2" in chosen[0]["href"]
    assert '"better"' in text


def _chips(told):
    found = []

    def walk(part):
        if isinstance(part, dict):
            if part.get("type") == "A":
                found.append(part["props"])
            for value in part.values():
                walk(value)
        elif isinstance(part, list):
            for one in part:
                walk(one)

    walk(told[ids.PROOF_CHOICES])
    return found


def test_a_date_counts_before_a_visit_and_what_is_not_known_is_left_out(asker):
    text, told = ask(asker, "?at=2026-03-01&visit=1")
    assert told[ids.PROOF_DATE]["value"] == "2026-03-01"
    assert "site 2102: alarms before and after." in text
    for wrong in ("?visit=99", "?visit=2&zone=none", "?visit=x", "?at=31.3.2026"):
        assert "point 4: alarms" in ask(asker, wrong)[0]


def test_a_whole_site_tells_its_points_beside_it(asker):
    text, _ = ask(asker, "?visit=1")
    assert "Point by point" in text
    assert "/site/2102/proof?visit=1&zone=5" in text
    assert "quiet, not yet proven to detect" in text


def test_of_a_life_safety_point_nothing_is_counted_and_nothing_drawn(asker):
    text, _ = ask(asker, f"?visit=1&zone={LIFE}")
    assert "not yet proven to detect" in text
    assert "Graph" not in text
    assert "Alarm nights" not in text


def test_what_a_visit_says_is_text(asker):
    assert "<b>changed</b>" in ask(asker)[0]  # a string among children, never markup


def test_a_date_goes_into_the_address_once_it_is_whole(asker):
    def typed(text, search="?visit=1&zone=4"):
        values = {"url.pathname": "/site/2102/proof", "url.search": search,
                  f"{ids.PROOF_DATE}.value": text}  # fmt: skip
        changed = [f"{ids.PROOF_DATE}.value"]
        told = asker.answer("url.search", values, by=ids.PROOF_DATE, changed=changed)
        return told.get("url", {}).get("search")

    assert typed("2026-04-01") == "?at=2026-04-01&zone=4"
    assert typed("2026-04") is None
    assert typed("", "?at=2026-04-01&zone=4") == "?zone=4"


def test_a_site_that_is_not_known_has_no_such_page(client):
    assert client.get("/site/nowhere/proof").status_code == 404
    assert client.get("/site/2102/proof").status_code == 200


NIGHTS = pl.DataFrame(
    {"night": [date(2026, 1, 1) + timedelta(days=n) for n in range(100)]}
).with_columns(hours=pl.lit(14.0), alarms=pl.int_range(100) % 10 == 0)


def test_windows_run_back_and_forward_from_the_date_and_lose_no_night():
    cut = date(2026, 2, 10)
    got = proving.windows(NIGHTS.with_columns(pl.col("alarms").cast(pl.Int64)), cut)
    assert got["nights"].sum() == 100
    assert got["days"].sum() == 10
    assert got.filter(pl.col("since") == cut)["side"].to_list() == ["after"]
    assert got["nights"].to_list() == [10, 30, 30, 30]
    assert got["since"][0] == date(2026, 1, 1)
    assert got["rate"].to_list() == pytest.approx([3, 3, 3, 3])
    few = proving.windows(NIGHTS[6:].with_columns(pl.col("alarms").cast(pl.Int64)), cut)
    assert few["rate"].to_list()[0] is None  # four nights are too few for a rate


@pytest.mark.parametrize("theme", list(Theme))
def test_the_picture_says_before_and_after_without_colour(theme):
    cut = date(2026, 2, 10)
    windows = proving.windows(NIGHTS.with_columns(pl.col("alarms").cast(pl.Int64)), cut)
    figure = picture.draw(windows, cut, theme=theme, usual=(3.0, None))
    bars = [trace for trace in figure.data if trace.type == "bar"]
    assert [bar.name for bar in bars] == ["before", "after"]
    assert bars[0].marker.color != bars[1].marker.color
    assert figure.layout.shapes[0].x0 == cut.isoformat()
    assert [trace.name for trace in figure.data if trace.type == "scatter"] == ["mean before"]


def test_an_address_holds_the_question_of_proof():
    asked = Proof("a/b", at=date(2026, 5, 14), zone="4")
    path, _, search = question.href(asked).partition("?")
    assert question.read(path, search) == asked
    assert path.endswith("/proof")


@pytest.mark.browser
def test_a_question_is_put_by_keyboard_and_kept_in_the_address(contexts, served):
    path = "/site/2102/proof"
    with opened(contexts, served + path) as page:
        settle(page, path)
        page.focus(".proof-choices .chip >> nth=1")
        page.keyboard.press("Enter")
        until(page, "location.search.includes('visit=1')")
        page.wait_for_selector(".proof-points")
        page.fill("#proof-date", "2026-04-01")
        until(page, "location.search.includes('at=2026-04-01')")
        assert "visit" not in page.url.partition("?")[2]
        page.go_back()
        until(page, "document.querySelector('#proof-date').value === ''")


@pytest.mark.browser
def test_a_site_leads_to_its_proof(contexts, served):
    with opened(contexts, served + "/site/2102") as page:
        settle(page, "/site/2102")
        page.click("text=Did the last work help?")
        page.wait_for_selector(".verdict")
        assert page.url.endswith("/site/2102/proof")
