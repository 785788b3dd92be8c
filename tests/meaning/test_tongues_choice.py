"""Which language a column of wordings is read in."""

import polars as pl
import pytest

from eventlab.meaning.spoken import spoken
from eventlab.meaning.templates import words_of
from eventlab.meaning.tongues import TONGUES
from eventlab.meaning.wording import understand_words


def playing(texts):
    frame = pl.DataFrame({"text": texts}).unique(maintain_order=True).with_row_index("id")
    return [t.name for t in spoken(frame.with_columns(words=words_of(pl.col("text"))))]


def kinds(texts):
    told = understand_words(pl.Series(texts)).unique("text", keep="first", maintain_order=True)
    return dict(zip(told["text"], told["kind"].cast(pl.String), strict=True))


ENGLISH = [
    "Mains fail", "Mains restored", "Zone 7 Main Door alarm", "Armed by user 4", "Low battery zone 3",
    "Zone 5 Map Room PIR tamper", "Disarmed", "Test report", "Fire zone 4", "Keypad 2 fault",
]  # fmt: skip


def test_an_english_log_is_english():
    assert playing(ENGLISH) == ["english"]
    assert playing([*ENGLISH, *(f"Alarm {n}" for n in ("Lager", "Salon", "Foyer", "Casa"))])[0] == (
        "english"
    )


@pytest.mark.parametrize("name", TONGUES)
def test_a_log_is_in_its_language(name):
    import csv
    from pathlib import Path

    with (Path(__file__).parent / "tongues_unseen.csv").open(encoding="utf-8") as lines:
        texts = [row["text"] for row in csv.DictReader(lines) if row["tongue"] == name]
    assert playing(texts) == [name]
    # A few rows show it already.
    assert all(playing(texts[at : at + 12])[0] == name for at in range(0, 96, 12))


def test_an_english_panel_with_german_names():
    texts = [
        *ENGLISH,
        "Zone 3 Küche alarm",
        "Zone 4 Eingangstür open",
        "Zone 8 Rauchmelder Flur alarm",
        "Tamper zone 6 Bewegungsmelder Lager",
    ]
    read = kinds(texts)
    assert [read[text] for text in texts[-4:]] == [
        "intrusion-alarm",
        "activation",
        "fire",
        "tamper",
    ]
    assert read["Mains fail"] == "mains-loss"
    assert read["Zone 5 Map Room PIR tamper"] == "tamper"


def test_a_log_of_two_languages_is_read_in_both():
    dutch = ["Netuitval", "Herstel netspanning", "Inbraakalarm zone 3 keuken", "Sabotage zone 4"]
    french = ["Coupure secteur", "Retour secteur", "Alarme intrusion zone 3 cuisine", "Porte ouverte"]
    read = kinds(dutch + french)
    assert list(read.values()) == [
        *("mains-loss", "mains-loss", "intrusion-alarm", "tamper"),
        *("mains-loss", "mains-loss", "intrusion-alarm", "activation"),
    ]


def test_what_reads_differently_in_two_languages_in_play_is_not_guessed():
    # In Dutch a door is "deur", and "door" is "by".
    texts = [*ENGLISH[:4], "Netuitval", "Herstel netspanning", "Zone 3 keuken open", "Fin"]
    swedish = ["Nätavbrott", "Larm zon 3 kök", "Tillkoppling användare 4", "Dörr öppen"]
    french = ["Coupure secteur", "Alarme zone 3 cuisine", "Armement utilisateur 4", "Porte ouverte"]
    told = understand_words(pl.Series([*swedish, *french, "Fin", "Start"])).to_dicts()
    assert {row["text"]: row["kind"] for row in told}["Coupure secteur"] == "mains-loss"
    assert "dutch" in playing(texts)


def test_one_wording_alone_is_read_where_all_that_know_it_agree():
    assert kinds(["Brandalarm"]) == {"Brandalarm": "fire"}
    assert kinds(["Netzausfall"]) == {"Netzausfall": "mains-loss"}
    assert kinds(["Alarm"]) == {"Alarm": "intrusion-alarm"}


def test_the_order_of_cells_is_kept():
    texts = ["Netzausfall", "Mains fail", "Alarm Zone 3 Küche", "Quantum flux", "Armed by user 4"]
    told = understand_words(pl.Series(texts))
    assert told["text"].to_list() == texts
