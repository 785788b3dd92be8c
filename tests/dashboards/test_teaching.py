"""Saying what a wording means, on the page of logs."""

import re

import pytest

from dashboards import words
from dashboards.app import create_app
from dashboards.teaching import key_of
from eventlab.schema import LIFE_SAFETY, MOMENTS, Kind
from tests.dashboards.conftest import opened, serving, settle, until
from tests.dashboards.fake_lab import FakeLab


def test_every_kind_can_be_said_and_no_two_in_the_same_words():
    said = set(words.MEANINGS.values())
    for kind in Kind:
        if kind is not Kind.UNREAD:
            phases = ["moment"] if kind in MOMENTS else ["begin", "end"]
            assert {(str(kind), phase) for phase in phases} <= said
    assert len(said) == len(words.MEANINGS)
    assert not any(kind == Kind.UNREAD for kind, _ in said)


def test_no_text_of_a_log_is_part_of_a_key():
    assert re.fullmatch("[0-9a-f]{12}", key_of("<script>", "A"))
    assert key_of("a") != key_of("a", "A")


def do(asker, key, how, **typed):
    """Press one of the buttons, as the page would."""
    prop = f'{{"how":"{how}","key":"{key}","type":"teach-do"}}.n_clicks'
    output, one = next(
        (output, one) for output, one in asker.callbacks.items() if "teach-done.children" in output
    )
    names = {"means": "teach-means", "number": "teach-number", "site": "teach-site"}

    def many(name, what):
        value = typed.get(name)
        ident = {"type": names[name], "key": key}
        return [{"id": ident, "property": what, "value": value if what == "value" else ident}]

    body = {
        "output": output,
        "outputs": [
            {"id": part.rpartition(".")[0], "property": part.rpartition(".")[2]}
            for part in output.strip(".").split("...")
        ],
        "inputs": [
            [
                {
                    "id": {"type": "teach-do", "key": key, "how": how},
                    "property": "n_clicks",
                    "value": 1,
                }
            ]
        ],
        "state": [many(name, what) for name in names for what in ("value", "id")],
        "changedPropIds": [prop],
    }
    assert len(one["state"]) == len(body["state"])
    answered = asker.client.post(
        "/_dash-update-component", json=body, headers={"Origin": "http://localhost"}
    )
    assert answered.status_code == 200, answered.text
    return answered.get_json()["response"]


GIZMO, SMOKE = key_of("gizmo # winkled"), key_of("attic smoke head winkled")


def test_what_is_said_is_remembered_and_can_be_taken_back(asker, lab):
    told = do(asker, GIZMO, "say", means="Mains loss ends", number="an area", site="2104")
    assert "12 rows now read" in str(told["teach-done"])
    (lesson,) = lab.lessons.values()
    assert (lesson.wording, lesson.kind, lesson.phase) == ("Gizmo 4 winkled", "mains-loss", "end")
    assert (lesson.number, lesson.site, lesson.no_life_safety) == ("area", "2104", False)
    assert "take it back" in str(told["logs-ledger"]).lower()
    told = do(asker, key_of("gizmo # winkled", "2104"), "back")
    assert "12 rows now not understood" in str(told["teach-done"])
    assert lab.lessons == {}


def test_a_guess_is_accepted_as_it_was_told(asker, lab):
    do(asker, GIZMO, "yes")
    (lesson,) = lab.lessons.values()
    assert (lesson.kind, lesson.phase, lesson.site) == ("module-fault", "begin", None)


@pytest.mark.parametrize(
    ("key", "how", "typed"),
    [
        (GIZMO, "say", {}),
        (GIZMO, "say", {"means": "a wombat"}),
        (GIZMO, "say", {"means": "tamper", "site": "9999"}),
        (SMOKE, "yes", {}),
        (key_of("nothing"), "say", {"means": "tamper"}),
        (key_of("nothing"), "back", {}),
    ],
)
def test_what_cannot_be_is_told_and_nothing_is_kept(asker, lab, key, how, typed):
    told = do(asker, key, how, **typed)
    assert "Not remembered: " in str(told["teach-done"])
    assert lab.lessons == {}


@pytest.mark.browser
@pytest.mark.parametrize(("width", "theme"), [(360, "dark"), (1440, "light")])
def test_by_keyboard_alone_a_wording_is_taught(contexts, width, theme, tmp_path):
    lab = FakeLab()
    with (
        serving(create_app(lab)) as address,
        opened(contexts, address + "/logs", width=width, height=800, theme=theme) as page,
    ):
        settle(page, "/logs")
        one = page.locator("#logs-ledger li").filter(has_text="Gizmo 4 winkled").first
        one.get_by_text("Perhaps: module fault").wait_for()
        assert "almost certain (97 in 100)" in one.inner_text()
        smoke = page.locator("#logs-ledger li").filter(has_text="Attic smoke").first
        assert "have a person decide" in smoke.inner_text()
        assert smoke.get_by_role("button", name="It means that").count() == 0
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        one.locator("summary").focus()
        page.keyboard.press("Enter")
        page.keyboard.press("Tab")
        page.keyboard.type("mains loss")
        page.screenshot(path=str(tmp_path / "teach.png"), full_page=True)
        for _ in range(3):
            page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.textContent") == "Remember it"
        page.keyboard.press("Enter")
        page.get_by_text("12 rows now read").wait_for()
        until(page, "!document.querySelector('[data-dash-is-loading=true]')")
        assert [(x.kind, x.phase) for x in lab.lessons.values()] == [("mains-loss", "begin")]
        assert not any(str(kind) == x.kind for x in lab.lessons.values() for kind in LIFE_SAFETY)
        told = page.locator("#logs-ledger details").filter(has_text="people said the meaning of")
        told.locator("summary").click()
        told.get_by_role("button", name="Take it back").click()
        page.get_by_text("12 rows now not understood").wait_for()
        assert lab.lessons == {}
