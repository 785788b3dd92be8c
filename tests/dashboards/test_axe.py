"""What axe finds: nothing serious, and no pass that is green because it crashed."""

import pytest

from tests.dashboards.conftest import opened, settle

pytestmark = pytest.mark.browser

GRID = ".grid-frame"
ACCEPTED = {
    # id of the rule: why what axe cannot decide is accepted
    "aria-required-children": "the table keeps empty containers for columns that are not pinned",
    "color-contrast": "text inside plots cannot be judged; a unit test holds its colours",
    "aria-valid-attr-value": "the table names the cell that is in focus before it is drawn",
}
PASSES = {
    "home": ("/", {"exclude": [[GRID]]}),
    "table of sites": ("/", {"include": [[GRID]]}),
    "site": ("/site/2101?around=3", {"include": [["body"]]}),
    "proof": ("/site/2102/proof?visit=1", {"include": [["body"]]}),
    "watch": ("/site/2102/watch", {"include": [["body"]]}),
    "point": ("/site/2102/zone/7", {"include": [["body"]]}),
    "point of life safety": ("/site/2102/zone/9", {"include": [["body"]]}),
    "people": ("/site/2102/people", {"include": [["body"]]}),
    "logs": ("/logs", {"include": [["body"]]}),
    "how sure": ("/how-sure", {"include": [["body"]]}),
    "lost": ("/nowhere", {"include": [["body"]]}),
}


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("name", PASSES)
def test_axe_finds_nothing(contexts, served, name, theme):
    from axe_playwright_python.sync_playwright import Axe

    path, context = PASSES[name]
    with opened(contexts, served + path, theme=theme, check=name != "lost") as page:
        if name == "lost":
            page.wait_for_selector("h1")
        else:
            settle(page, path)
        page.eval_on_selector_all(
            "details", "all => all.forEach(d => { d.open = !d.matches('.menu'); })"
        )
        # Of what passes the rule is enough; its elements would be most of the answer.
        wanted = {"resultTypes": ["violations", "incomplete"]}
        told = Axe().run(page, context=context, options=wanted).response
    nodes = {
        rule["id"]: [node["html"][:160] for node in rule["nodes"]] for rule in told["violations"]
    }
    assert nodes == {}
    undecided = {rule["id"]: rule["nodes"] for rule in told["incomplete"]}
    crashed = [
        check["id"]
        for found in undecided.values()
        for node in found
        for check in node["any"] + node["all"] + node["none"]
        if check["id"] == "error-occurred"
    ]
    assert crashed == []
    assert undecided.keys() <= ACCEPTED.keys(), {
        rule: [node["html"][:160] for node in found[:3]] for rule, found in undecided.items()
    }
    for node in undecided.get("color-contrast", []):
        assert any(part in node["html"] for part in ("<text", "<tspan", "<a", "<span", "<label")), (
            node
        )
    assert len(told["passes"]) > 10
