"""The table of advice and how findings meet it."""

import ast
import json
from pathlib import Path

import polars as pl
import pytest

from eventlab.advice import advise
from eventlab.advice.tables import table
from eventlab.analysis.drivers.naming import PATTERNS
from eventlab.context import Context
from eventlab.schema import FOUND, SITE, ZONE, Pattern, conform

EXAMINE = "examined by a licensed person"


def found(pattern, *, zone=None, life=False, site="S1", area=None, **figures):
    return conform(
        pl.DataFrame(
            {
                "site": [site],
                "pattern": [str(pattern)],
                "subject_kind": ["zone" if zone else "site"],
                "subject": [zone or site],
                "area": pl.Series([area], dtype=pl.String),
                "figures": [json.dumps({**figures, **({"life_safety": True} if life else {})})],
            }
        ),
        FOUND,
    )


def context(**zone):
    empty = Context.empty()
    row = {"site": "S1", "zone": "7", "area": [None], **{k: [v] for k, v in zone.items()}}
    zones = conform(pl.DataFrame(row, schema_overrides={"area": pl.List(pl.String)}), ZONE)
    sites = conform(pl.DataFrame({"site": ["S1"], "trade": ["museum"]}), SITE)
    return Context(sites, zones, empty.weather, empty.visits, empty.outcomes)


def lines(frame):
    return frame["advice"][0].to_list()


def first(frame):
    return next(line for line in lines(frame) if line.startswith("First: "))


@pytest.mark.parametrize(
    "pattern",
    ["chattering", "entry-overrun", "exit-overrun", "mains-out", "battery-weak", "unsupervised",
     "report-missed", "possible-intrusion", "left-on-test"],
)  # fmt: skip
@pytest.mark.parametrize("zone", ["7", None])
def test_every_pattern_has_advice_cost_proof_basis_and_caution(pattern, zone):
    got = advise(found(pattern, zone=zone), Context.empty())
    text = lines(got)
    if (pattern, zone) in {("mains-out", "7"), ("report-missed", "7"), ("chattering", None)}:
        return  # these are never told of a point, or only of one
    assert text[0].startswith("First: ")
    for lead in ("Second: ", "What it costs in detection: ", "How to prove it: ", "Basis: "):
        assert any(line.startswith(lead) for line in text), lead
    caution = got["caution"][0]
    assert "on test with its monitoring centre first" in caution
    assert "licensed people" in caution
    assert "Local codes" in caution


def test_the_words_of_the_table_are_known():
    wordings = set(table("advice")["patterns"].str.split(" ").explode()) - {"*"}
    assert {word.partition(":")[0] for word in wordings} <= {str(p) for p in Pattern}
    narrowed = {word.partition(":")[2] for word in wordings} - {""}
    assert narrowed <= {*PATTERNS, "tamper"}
    drivers = {word.split(":")[1]: word.split(":")[0] for word in wordings if ":" in word}
    assert all(PATTERNS[one] == said for one, said in drivers.items() if one != "tamper")
    cautions = set(table("advice")["cautions"].str.split(" ").explode()) - {""}
    assert cautions <= set(table("cautions")["caution"])
    families = set(table("advice")["detectors"].str.split(" ").explode()) - {""}
    assert families <= set(table("detectors")["family"])
    assert set(table("advice")["settle"]) <= {"phone", "letter", "visit"}
    assert table("advice").height >= 30


def test_detector_and_place_choose_the_row():
    boathouse = context(name="Boathouse slipway door", detector="heavy reed contact")
    assert "shake the door by hand" in first(advise(found("chattering", zone="7"), boathouse))
    pool = context(name="Swimming hall east", detector="PIR")
    assert "showers" in first(advise(found("chattering", zone="7"), pool))
    plain = context(name="Office", detector="reed")
    assert "gap at rest" in first(advise(found("chattering", zone="7"), plain))
    glass = context(name="Glasshouse", detector="PIR")
    assert "hot day" in first(advise(found("follows-temperature", zone="7"), glass))
    cold = advise(found("battery-weak", zone="7"), plain)
    assert "type and date" in first(cold)
    system = advise(found("battery-weak"), plain)
    assert "date on the battery" in first(system)
    assert "fire firm isolates" in system["caution"][0]
    assert "licensed electrician" in system["caution"][0]


def test_perimeter_points_are_looked_at_from_outside_first():
    outer = context(name="Yard gate", detector="contact", use="perimeter")
    assert "look outside for marks" in lines(advise(found("chattering", zone="7"), outer))[0]
    inner = context(name="Yard gate", detector="contact", use="interior")
    assert "marks" not in " ".join(lines(advise(found("chattering", zone="7"), inner)))


def test_life_safety_points_only_get_examined():
    for pattern in ("battery-weak", "unsupervised"):
        marked = advise(found(pattern, zone="7", life=True), Context.empty())
        listed = advise(found(pattern, zone="7"), context(use="fire", detector="smoke"))
        for got in (marked, listed):
            text = lines(got)
            assert EXAMINE in text[0]
            assert "treat every call from it as real until then" in text[1]
            assert len(text) == 4
            assert "costs" not in " ".join(text)
            assert "gap" not in " ".join(text)


def test_people_are_told_kindly_and_logs_prove_no_absence():
    got = advise(found("entry-overrun"), Context.empty())["caution"][0]
    assert "not proof about people" in got
    assert "cannot show that nobody was there" in got
    assert "cannot show" not in advise(found("mains-out"), Context.empty())["caution"][0]


def test_order_and_rows_are_kept():
    several = pl.concat(
        [found("left-on-test"), found("chattering", zone="7"), found("masked", zone="9")]
    )
    got = advise(several, Context.empty())
    assert got["pattern"].to_list() == ["left-on-test", "chattering", "masked"]
    assert advise(several.clear(), Context.empty()).height == 0
    assert got["settle"].to_list() == ["phone", "visit", "phone"]


def can_be_found():
    """Every pattern that a module of the analyses makes findings of."""
    rooms = Path(__file__).parents[2] / "eventlab" / "analysis"
    looks_only = {"run.py", "episode_signs.py"}
    named = {
        node.attr
        for path in rooms.rglob("*.py")
        if path.name not in looks_only
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Attribute)
        and isinstance(node.value, ast.Name)
        and node.value.id == "Pattern"
    }
    return sorted(str(Pattern[name]) for name in named)


FAMILIES = [None, *sorted(set(table("detectors")["family"]) - {"panic", "fire"})]
OF_A_SITE = {
    Pattern.MAINS_OUT, Pattern.REPORT_MISSED, Pattern.PATH_DOWN, Pattern.CLOCK_FAULT,
    Pattern.LIST_MISMATCH, Pattern.LEFT_ON_TEST, Pattern.STORM_BURST, Pattern.LOG_GAP,
    Pattern.RADIO_INTERFERENCE,
}  # fmt: skip
DETECTORS = {"pir": "PIR", "contact": "reed contact", "glass": "glass break", "shock": "shock",
             "beam": "active infrared beam", "outdoor": "outdoor", "dual": "dual technology",
             "microwave": "microwave", None: None}  # fmt: skip


def told(got):
    text = lines(got)
    for lead in ("First: ", "Second: ", "Third: ", "What it costs in detection: ",
                 "How to prove it: ", "Basis: "):  # fmt: skip
        assert any(line.startswith(lead) for line in text), (lead, text)
    caution = got["caution"][0]
    assert "on test with its monitoring centre first" in caution
    assert "licensed people" in caution
    assert "Local codes" in caution


@pytest.mark.parametrize("pattern", can_be_found())
def test_every_pattern_that_is_found_has_advice_for_every_detector(pattern):
    if pattern in OF_A_SITE:
        told(advise(found(pattern), Context.empty()))
        return
    for family in FAMILIES:
        known = context(name="Room", detector=DETECTORS[family]) if family else Context.empty()
        told(advise(found(pattern, zone="7"), known))


@pytest.mark.parametrize(("driver", "pattern"), PATTERNS.items())
@pytest.mark.parametrize("tamper", [False, True])
def test_every_driver_has_advice_of_its_own(driver, pattern, tamper):
    got = advise(found(pattern, zone="7", driver=driver, tamper=tamper), Context.empty())
    told(got)
    assert ("tamper is never linked out" in " ".join(lines(got))) == tamper
    assert "cannot show that nobody was there" in got["caution"][0]


def test_cold_is_a_joint_and_heat_a_detector_that_strains():
    def follows(driver, detector):
        known = context(name="Hall", detector=detector)
        return first(advise(found("follows-temperature", zone="7", driver=driver), known))

    assert "loop on a cold morning" in follows("cold", "reed contact")
    assert "cell type" in follows("cooling", "PIR")
    assert "own temperature" in follows("hot", "PIR")
    assert follows("hot", "reed contact") != follows("cold", "reed contact")


def test_no_driver_is_told_of_a_life_safety_point():
    for driver, pattern in PATTERNS.items():
        text = lines(advise(found(pattern, zone="7", life=True, driver=driver), Context.empty()))
        assert EXAMINE in text[0]
        assert len(text) == 4
