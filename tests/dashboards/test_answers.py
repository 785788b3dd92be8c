"""Callbacks over HTTP: what each page answers, to any number of people and apps at once."""

import json
import time
from statistics import quantiles

import pytest

from dashboards import ids
from dashboards.app import close, create_app
from eventlab.errors import DamagedStore
from tests.dashboards.conftest import Asker
from tests.dashboards.fake_lab import FakeLab
from tests.dashboards.tarn import SITES


def page(asker, path, search="", width="wide"):
    values = {"url.pathname": path, "url.search": search, "width.data": width}
    return asker.answer("page.children", values)["page"]["children"]


def rows(asker, search="", **request):
    values = {
        f"{ids.HOME_GRID}.getRowsRequest": {"startRow": 0, "endRow": 100, **request},
        "url.search": search,
    }
    return asker.answer(f"{ids.HOME_GRID}.getRowsResponse", values)[ids.HOME_GRID][
        "getRowsResponse"
    ]


def names(asker, search="", **request):
    return [row["name"] for row in rows(asker, search, **request)["rowData"]]


def night(asker, search="", site="2102", theme="light", drawn=None, zone=None):
    values = {
        "url.pathname": f"/site/{site}" + (f"/zone/{zone}" if zone else ""),
        "url.search": search,
        "theme.data": theme,
        "width.data": "wide",
        f"{ids.SITE_RASTER_DRAWN}.data": drawn,
    }
    return asker.answer(f"{ids.SITE_RASTER}.figure", values)


def say(part):
    return json.dumps(part, ensure_ascii=False)


# ---- where should we go first -------------------------------------------------------------


def test_left_on_test_and_missing_protection_stand_first_then_what_nothing_is_known_of(asker):
    told = rows(asker)
    assert told["rowCount"] == 11
    first = [[tag["kind"] for tag in row["tags"]] for row in told["rowData"][:4]]
    assert first == [["test"], ["missing"], ["missing"], ["unknown"]]
    assert told["rowData"][0]["name"] == "Fellside Mobile Library Depot"


def test_a_site_without_a_log_for_60_days_is_never_called_healthy(asker):
    row = next(r for r in rows(asker)["rowData"] if r["name"] == "Bridge House Store")
    assert "nothing is known" in row["leading"]
    assert row["alarms_26w"] == row["rate_30d"] == "not covered"


def test_filters_of_the_address_are_applied_on_the_server(asker):
    assert names(asker, "?show=missing") == ["Swimming Hall and Reading Room", "Quarry Gallery"]
    assert names(asker, "?find=ARCHIVE") == ["Valley Archive"]
    assert names(asker, "?find=2103") == ["Boathouse Museum"]
    assert set(names(asker, "?trade=archive")) == {"Valley Archive", "Bridge House Store"}
    assert names(asker, "?find=.*") == []


def test_a_row_tells_the_first_step_and_stands_beside_its_trade(asker):
    told = rows(asker)["rowData"]
    led = next(r for r in told if r["name"] == "Fellside Mobile Library Depot")
    assert led["way"] == "by phone"
    libraries = [r["beside"] for r in told if r["under"].endswith("library") and r["beside"]]
    assert libraries
    assert all(len(r) == 2 and r[1].startswith("library sites: ") for r in libraries)
    unknown = next(r for r in told if r["name"] == "Bridge House Store")
    assert (unknown["way"], unknown["beside"]) == ("", [])


def test_headers_sort_by_known_columns_only(asker):
    by_name = names(asker, sortModel=[{"colId": "name", "sort": "asc"}])
    assert by_name == sorted(by_name)
    for wish in ("standing_lost); drop", "latitude", "", None):
        assert names(asker, sortModel=[{"colId": wish, "sort": "asc"}]) == names(asker)


def test_rows_come_in_blocks_of_bounded_size():
    many = tuple(
        (f"S{n:04d}", f"Site {n}", "library", 54.0, -3.0, n % 90, "detector") for n in range(2000)
    )
    app = create_app(FakeLab(sites=many))
    try:
        asker = Asker(app)
        begun = time.process_time()
        told = rows(asker, startRow=1500, endRow=1600)
        took = time.process_time() - begun
        assert (len(told["rowData"]), told["rowCount"]) == (100, 2000)
        assert len(rows(asker, startRow=0, endRow=10**9)["rowData"]) == 200
        assert took < 1
    finally:
        close(app)


def test_the_first_page_says_how_the_sites_stand(asker):
    told = say(page(asker, "/"))
    assert "11 sites: " in told
    assert "protection is missing now at 2, 1 was left on test, and of 1 nothing is known." in told


def test_an_empty_store_is_a_designed_page_with_the_way_on():
    app = create_app(FakeLab(sites=()))
    try:
        told = say(page(Asker(app), "/"))
        assert "No log has come in yet" in told
        assert '"/logs"' in told
    finally:
        close(app)


def test_choices_are_links_that_keep_the_rest_of_the_question(asker):
    values = {"url.search": "?find=library&show=alarms", "theme.data": "dark"}
    told = asker.answer(f"{ids.HOME_CHOICES}.children", values)
    assert "/?find=library&show=missing" in say(told)
    assert say(told).count("aria-current") == 2  # this sort of sites, and all trades
    assert told[ids.HOME_MAP]["figure"]["layout"]["font"]["color"] == "#aebab5"


def test_what_is_typed_and_sorted_goes_into_the_address(asker):
    values = {f"{ids.HOME_FIND}.value": " mill ", "url.search": "?show=alarms"}
    asked = {"by": ids.HOME_FIND, "changed": [f"{ids.HOME_FIND}.value"]}
    told = asker.answer(f"{ids.URL}.search", values, **asked)
    assert told[ids.URL]["search"] == "?find=mill&show=alarms"


def test_an_address_that_says_the_same_is_not_written_again(asker):
    values = {f"{ids.HOME_FIND}.value": "mill", "url.search": "?find=mill"}
    assert asker.answer(f"{ids.URL}.search", values, by=ids.HOME_FIND) == {}


# ---- one site -----------------------------------------------------------------------------


def test_a_site_opens_with_what_its_log_covers(asker):
    told = say(page(asker, "/site/2102"))
    assert told.index("This log covers 364 days") < told.index("Night by night")
    assert "Glasshouse Museum" in told


def test_the_picture_says_what_it_shows_and_has_a_table(asker):
    told = night(asker)
    assert "188 alarms in" in say(told[ids.SITE_RASTER_WORDS])
    assert "armed hours, over 364 nights" in say(told[ids.SITE_RASTER_WORDS])
    assert "1 life-safety alarm besides, counted apart" in say(told[ids.SITE_RASTER_WORDS])
    table = say(told[ids.SITE_RASTER_TABLE])
    assert table.count('"type": "Tr"') == 51  # fifty and the heading
    assert "page 1 of 4" in table
    assert "/site/2102/alarms.csv" in table


def test_a_life_safety_row_of_the_table_names_no_cause(asker):
    told = say(night(asker, "?since=2026-07-30&until=2026-08-02")[ids.SITE_RASTER_TABLE])
    assert "mark-life-safety" in told
    row = told[told.index("mark-life-safety") :]
    assert "likely" not in row[: row.index('"type": "Tr"') if '"type": "Tr"' in row else None]


def test_only_what_has_changed_is_drawn_again(asker):
    drawn = night(asker)[ids.SITE_RASTER_DRAWN]["data"]
    values = {
        "url.pathname": "/site/2102",
        "theme.data": "light",
        "width.data": "wide",
        f"{ids.SITE_RASTER_DRAWN}.data": drawn,
    }
    prop = f"{ids.SITE_RASTER}.figure"
    assert asker.answer(prop, {**values, "url.search": "?finding=x"}) == {}
    told = asker.answer(prop, {**values, "url.search": "?page=2"})
    assert ids.SITE_RASTER not in told
    assert "page 2 of 4" in say(told[ids.SITE_RASTER_TABLE])
    assert ids.SITE_RASTER in asker.answer(prop, {**values, "url.search": "?around=3"})


def test_a_click_on_a_mark_asks_what_stood_around_it(asker):
    values = {
        f"{ids.SITE_RASTER}.clickData": {"points": [{"customdata": 7}]},
        "url.pathname": "/site/2102",
        "url.search": "?since=2026-01-01&finding=x",
    }
    asked = {"by": ids.SITE_RASTER, "changed": [f"{ids.SITE_RASTER}.clickData"]}
    told = asker.answer(f"{ids.URL}.search", values, **asked)
    assert told[ids.URL]["search"] == "?since=2026-01-01&around=7"
    values[f"{ids.SITE_RASTER}.clickData"] = {"points": [{"customdata": None}]}
    assert asker.answer(f"{ids.URL}.search", values, **asked) == {}


def events(asker, search, site="2102"):
    values = {"url.pathname": f"/site/{site}", "url.search": search}
    return say(asker.answer(f"{ids.SITE_EVENTS}.children", values)[ids.SITE_EVENTS]["children"])


def test_events_around_a_mark_are_in_the_sites_clock_and_escaped_by_nature(asker):
    told = events(asker, "?around=5")
    assert "What stood around this alarm" in told
    assert "this alarm" in told
    assert "Confirmed <script>x</script>" in told  # a text child, never markup
    assert "dangerously" not in told.lower()


@pytest.mark.parametrize("search", ["?around=99999", "?finding=nothing~~~"])
def test_what_is_not_known_any_more_is_said(asker, search):
    assert "any more" in events(asker, search)


def test_cards_carry_sentence_figure_evidence_advice_caution_and_their_events(asker):
    values = {"url.pathname": "/site/2101", "url.search": "", "theme.data": "dark"}
    told = say(asker.answer(f"{ids.SITE_FINDINGS}.children", values))
    for part in (
        "Late entries: 58 of 74 alarms",
        "almost certain (95 in 100)",
        "58 in 4,512 armed hours",
        "What to try",
        "Put the site on test",
        "Show me the events",
        '"type": "Graph"',
        "still so",
    ):
        assert part in told
    assert "?finding=entry-overrun~zone~1~~202510030000" in told.replace("%7E", "~")


def test_the_events_behind_a_card_are_its_own(asker):
    told = events(asker, "?finding=entry-overrun~zone~1~~202510030000", site="2101")
    assert "The events behind: Late entries" in told
    assert "disarm" in told


def test_a_site_without_findings_says_how_little_that_means(asker):
    values = {"url.pathname": "/site/2107", "url.search": "", "theme.data": "light"}
    told = say(asker.answer(f"{ids.SITE_FINDINGS}.children", values))
    assert "what its log can show, and no more" in told


def test_points_of_life_safety_are_counted_apart(asker):
    told = say(page(asker, "/site/2101"))
    assert told.count('"counted apart"') == 2


@pytest.mark.parametrize("path", ["/site/9999", "/nowhere"])
def test_addresses_that_lead_nowhere_say_so(asker, path):
    assert "There is no" in say(page(asker, path))


def test_a_question_that_waits_is_told_where_people_look(asker, lab, tmp_path):
    (tmp_path / "ask.csv").write_bytes(b"a\n1\n")
    lab.take([tmp_path / "ask.csv"])
    assert "waits for an answer" in say(page(asker, "/"))
    assert "1 file waits for you" in say(page(asker, "/logs"))


def test_a_failure_is_told_in_one_line_and_not_as_a_trace(asker, lab):
    lab.fail = DamagedStore("a file is missing", do="Run eventlab store check.")
    values = {"url.pathname": "/", "url.search": "", "width.data": "wide"}
    told = asker.call("page.children", values).get_json()
    assert "a file is missing. Run eventlab store check." in say(told["sideUpdate"])
    lab.fail = ZeroDivisionError("secret inside")
    told = say(asker.call("page.children", values).get_json())
    assert "not foreseen" in told
    assert "secret" not in told


# ---- logs ---------------------------------------------------------------------------------


def test_the_page_of_logs_accounts_for_every_row(asker):
    told = say(page(asker, "/logs"))
    assert "the date does not exist" in told
    assert "<img src=x onerror=alert(1)>" in told  # a text child
    assert "Gizmo 4 winkled" in told
    assert "glasshouse <west>.csv" in told
    assert "Lines = other + rows; rows = read + already stored + unread." in told


def test_work_that_is_not_known_any_more_says_so(asker):
    values = {"url.pathname": "/logs", "url.search": "?job=gone", f"{ids.LOGS_TICK}.n_intervals": 1}
    told = asker.answer(f"{ids.LOGS_PROGRESS}.children", values)
    assert "not known any more" in say(told)
    assert told[ids.LOGS_TICK]["disabled"] is True


# ---- many people, many apps ---------------------------------------------------------------


def test_two_people_with_different_questions_do_not_see_each_others(app):
    one, other = Asker(app), Asker(app)
    for _ in range(3):
        assert names(one, "?show=missing") != names(other, "?show=alarms")
        assert names(one, "?show=missing") == [
            "Swimming Hall and Reading Room",
            "Quarry Gallery",
        ]
        mine = night(one, zone="7")[ids.SITE_RASTER_WORDS]
        yours = night(other, zone="12")[ids.SITE_RASTER_WORDS]
        assert "of point 7" in say(mine)
        assert "of point 12" in say(yours)


def test_two_apps_in_one_process_do_not_mix():
    first, second = create_app(FakeLab(sites=SITES[:2])), create_app(FakeLab(sites=SITES[2:7]))
    try:
        one, other = Asker(first), Asker(second)
        assert one.callbacks.keys() == other.callbacks.keys()
        assert (len(names(one)), len(names(other))) == (2, 5)
        assert "There is no site 2105" in say(page(one, "/site/2105"))
        assert "Swimming Hall" in say(page(other, "/site/2105"))
        policies = {
            a.server.test_client().get("/").headers["Content-Security-Policy"]
            for a in (first, second)
        }
        assert len(policies) == 1
    finally:
        close(first)
        close(second)


def test_a_page_has_few_callbacks(asker):
    assert len(asker.callbacks) <= 40


def test_callbacks_answer_a_year_within_150_ms(asker):
    asks = [
        lambda n: night(asker, f"?page={n + 1}", zone="7", drawn=None),
        lambda n: night(asker, f"?around={n + 1}", drawn=None),
        lambda n: rows(asker, startRow=n % 3),
        lambda n: events(asker, f"?around={n + 1}"),
        lambda _: page(asker, "/site/2102"),
        lambda _: page(asker, "/site/2102/zone/7"),
        lambda _: asker.answer(
            f"{ids.POINT_CHARTS}.children",
            {"url.pathname": "/site/2102/zone/7", "url.search": "", "theme.data": "dark"},
        ),
        lambda _: asker.answer(
            f"{ids.SITE_FINDINGS}.children",
            {"url.pathname": "/site/2101", "url.search": "", "theme.data": "dark"},
        ),
    ]
    # Others work on this machine too: of three tries at each question the best one is its own,
    # and of that what this process worked, all its threads together.
    times = [min(_took(ask, n) for _ in range(3)) for n in range(8) for ask in asks]
    assert quantiles(times, n=20)[-1] < 0.150


def _took(ask, n):
    begun = time.process_time()
    ask(n)
    return time.process_time() - begun
