"""Every entry of the lexicon has its example, and every example is read as its entry says."""

import polars as pl
import pytest

from eventlab.meaning.lexicon import data_version, lexicon
from eventlab.meaning.tables import data_version as of_tables
from eventlab.meaning.tables import rows
from eventlab.meaning.templates import sign
from eventlab.meaning.tongues import english
from eventlab.meaning.wording import understand_words

TABLES = {
    "things": ("example_kind", "example_phase"),
    "states": ("example_kind", "example_phase"),
    "rules": ("kind", "phase"),
    "phrases": ("kind", "phase"),
}
ENTRIES = [(table, row) for table in TABLES for row in rows(table)]
"""All of a table are told of in one test: thousands of tests cost more than what they check."""

# Words that change nothing, make unsafe, or name places are tried in a sentence of their use.
SENTENCES = {
    "mode": "System armed {}",
    "noise": "Mains {} fail",
    "aside": "Mains {} fail",
    "aside:until": "Mains fail {} 17:00",
    "hedge": "Zone 7 {} alarm",
    "soft": "Tarn {} alarm",
    "name": "Zone 7 {} alarm",
    "place": "Zone 7 {} alarm",
    "head": "Zone 7 {} room alarm",
    "life": "Zone 7 Tarn {} Lodgekeeper alarm",
    "handling": "{} Tarn",
    "by": "Armed {} user 4",
    "via": "Test report {} GSM",
}


def _kind_of_use(row):
    return row["use"] if row["use"] in SENTENCES else row["use"].partition(":")[0]


def _sentence(row):
    return SENTENCES[_kind_of_use(row)].format(row["pattern"])


@pytest.fixture(scope="module")
def read():
    texts = [row["example"] for _, row in ENTRIES] + [_sentence(row) for row in rows("uses")]
    told = understand_words(pl.Series(texts)).unique("text", keep="first")
    return {row["text"]: row for row in told.to_dicts()}


def wanted(table, row):
    """Give what the example of an entry has to say."""
    if row.get("problem"):
        return {"kind": None, "problem": row["problem"]}
    kind, phase = TABLES[table]
    more = {name: row[name] for name in ("mode", "life_safety") if row.get(name)}
    return {"kind": row[kind], "phase": row[phase], "problem": None, **more}


@pytest.mark.parametrize("table", TABLES)
def test_each_entry_reads_as_its_example_says(table, read):
    entries = [(row["example"], wanted(table, row)) for name, row in ENTRIES if name == table]
    assert len(entries) > 100
    wrong = [
        (text, told, want)
        for text, want in entries
        if (told := {name: read[text][name] for name in want}) != want
    ]
    assert wrong == []


def does(use, value, said):
    """Tell whether a sentence reads as the use of the word in it says."""
    match use:
        case "mode":
            return (said["kind"], said["mode"]) == ("arm", value)
        case "noise" | "aside":
            return (said["kind"], said["phase"]) == ("mains-loss", "begin")
        case "hedge" | "soft":
            return said["kind"] is None
        case "head":
            return said["kind"] == "intrusion-alarm"
        case "name" | "place":
            return (said["kind"], said["life_safety"]) == ("intrusion-alarm", None)
        case "life":
            return said["kind"] is None or said["life_safety"] is not None
        case "handling":
            return said["kind"] == "handling" or "note" in said["problem"]
        case "by":
            return said["person"] == "4"
        case _:
            return said["path"] == "gsm"


@pytest.mark.parametrize("use", SENTENCES)
def test_a_single_word_does_what_its_use_says(use, read):
    words = [row for row in rows("uses") if _kind_of_use(row) == use]
    assert words
    wrong = [
        (row["pattern"], read[_sentence(row)])
        for row in words
        if not does(*row["use"].partition(":")[::2], read[_sentence(row)])
    ]
    assert wrong == []


def test_a_spelling_stands_for_words_that_patterns_use():
    known, tongue = lexicon().vocabulary, english()
    spelled = {row["word"]: row["means"].split() for row in rows("words")}
    assert {word: means for word, means in spelled.items() if not set(means) <= known} == {}
    signs = {word: sign(word, tongue) for word in spelled}
    assert signs == {word: "_".join(means) for word, means in spelled.items()}


def test_no_pattern_stands_twice_with_different_readings():
    for table, key in (("things", "thing"), ("states", "state")):
        patterns = [row["pattern"] for row in rows(table)]
        assert len(patterns) == len(set(patterns)), table
        assert all(row[key] for row in rows(table))
    rules = [(row["thing"], row["state"], row["at"]) for row in rows("rules")]
    assert len(rules) == len(set(rules))
    known = lexicon()
    held = {}
    for row in rows("phrases"):
        words = [p for w in row["pattern"].split() for p in known.words.get(w, (w,))]
        told = [word for word in words if word not in known.noise]
        said = (row["kind"], row["phase"], row["mode"], row["problem"])
        assert held.setdefault(tuple(told if len(told) > 1 else words), said) == said, row[
            "pattern"
        ]


def test_rules_speak_of_things_and_states_that_are_there():
    things = {row["thing"] for row in rows("things")} | {""}
    states = {row["state"] for row in rows("states")} | {row["group"] for row in rows("states")}
    for row in rows("rules"):
        assert row["thing"] in things
        assert row["state"] in states | {""}


def test_the_version_covers_every_table():
    assert data_version() == of_tables()
