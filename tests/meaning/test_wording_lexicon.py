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


def _sentence(row):
    use = row["use"]
    return SENTENCES.get(use, SENTENCES[use.partition(":")[0]]).format(row["pattern"])


@pytest.fixture(scope="module")
def read():
    texts = [row["example"] for _, row in ENTRIES] + [_sentence(row) for row in rows("uses")]
    told = understand_words(pl.Series(texts)).unique("text", keep="first")
    return {row["text"]: row for row in told.to_dicts()}


@pytest.mark.parametrize(
    ("table", "row"), ENTRIES, ids=[f"{table}-{row['example']}" for table, row in ENTRIES]
)
def test_an_entry_reads_as_its_example_says(table, row, read):
    said = read[row["example"]]
    if row.get("problem"):
        assert (said["kind"], said["problem"]) == (None, row["problem"])
        return
    kind, phase = TABLES[table]
    assert (said["kind"], said["phase"], said["problem"]) == (row[kind], row[phase], None)
    if row.get("mode"):
        assert said["mode"] == row["mode"]
    if row.get("life_safety"):
        assert said["life_safety"] == row["life_safety"]


@pytest.mark.parametrize(
    "row", rows("uses"), ids=[f"{r['use']}-{r['pattern']}" for r in rows("uses")]
)
def test_a_single_word_does_what_its_use_says(row, read):
    use, _, value = row["use"].partition(":")
    said = read[_sentence(row)]
    if use == "mode":
        assert (said["kind"], said["mode"]) == ("arm", value)
    elif use in {"noise", "aside"}:
        assert (said["kind"], said["phase"]) == ("mains-loss", "begin")
    elif use in {"hedge", "soft"}:
        assert said["kind"] is None
    elif use in {"name", "place", "head"}:
        assert said["kind"] == "intrusion-alarm"
        assert use == "head" or said["life_safety"] is None
    elif use == "life":
        assert said["kind"] is None or said["life_safety"] is not None
    elif use == "handling":
        assert said["kind"] == "handling" or "note" in said["problem"]
    elif use == "by":
        assert said["person"] == "4"
    else:
        assert said["path"] == "gsm"


@pytest.mark.parametrize("row", rows("words"), ids=[row["word"] for row in rows("words")])
def test_a_spelling_stands_for_words_that_patterns_use(row):
    means = row["means"].split()
    assert set(means) <= lexicon().vocabulary
    assert sign(row["word"], english()) == "_".join(means)


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
