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
    "Mains fail", "Mains restored", "Zone 7 Main Door alarm", "Armed by user 4",
    "Low battery zone 3",    "Zone 5 Map Room PIR tamper", "Disarmed", "Test report",
    "Fire zone 4", "Keypad 2 fault",
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
    french = [
        "Coupure secteur",
        "Retour secteur",
        "Alarme intrusion zone 3 cuisine",
        "Porte ouverte",
    ]
    read = kinds(dutch + french)
    assert list(read.values()) == [
        *("mains-loss", "mains-loss", "intrusion-alarm", "tamper"),
        *("mains-loss", "mains-loss", "intrusion-alarm", "activation"),
    ]


def test_what_reads_differently_in_two_languages_in_play_is_not_guessed():
    # In Dutch "door" is "by".
    dutch = ["Netuitval", "Herstel netspanning", "Inbraakalarm zone 3 keuken", "Accu laag centrale"]
    told = understand_words(pl.Series([*ENGLISH, *dutch, "Door 3 open"])).to_dicts()
    row = next(row for row in told if row["text"] == "Door 3 open")
    assert row["kind"] is None
    assert row["problem"] == "it reads differently in English and in Dutch"
    assert kinds([*ENGLISH, "Door 3 open"])["Door 3 open"] == "activation"


def test_one_wording_alone_is_read_where_all_that_know_it_agree():
    assert kinds(["Brandalarm"]) == {"Brandalarm": "fire"}
    assert kinds(["Netzausfall"]) == {"Netzausfall": "mains-loss"}
    assert kinds(["Alarm"]) == {"Alarm": "intrusion-alarm"}


def test_the_order_of_cells_is_kept():
    texts = ["Netzausfall", "Mains fail", "Alarm Zone 3 Küche", "Quantum flux", "Armed by user 4"]
    told = understand_words(pl.Series(texts))
    assert told["text"].to_list() == texts


# What people write beside a log, from memory.
NOTES = (
    "Der Kunde meldet, dass die Tür offen war",
    "Bitte Rückruf wegen Alarm in der Küche",
    "Hausmeister hat Zone 3 abgeschaltet, weil der Melder defekt ist",
    "Wartungsvertrag verlängert bis 2027",
    "Alarm wurde nicht bestätigt",
    "Keine Störung",
    "Vermutlich Fehlalarm durch Katze",
    "Feuerwehrübung am Montag",
    "Herr Müller fragt nach dem Code",
    "Batteriewechsel geplant",
    "Scharfschaltung um 22 Uhr vorgesehen",
    "Le client signale que la porte était ouverte",
    "Merci de rappeler pour l'alarme de la cuisine",
    "Contrat de maintenance renouvelé",
    "Alarme non confirmée par le client",
    "Pas de défaut",
    "Exercice d'évacuation lundi",
    "Remplacement de la batterie prévu",
    "Monsieur Dupont demande le code",
    "Le détecteur de fumée ne fonctionne pas",
    "Probable fausse alarme due au chat",
    "El cliente informa que la puerta estaba abierta",
    "Contrato de mantenimiento renovado",
    "Sin fallo",
    "Cambio de batería previsto",
    "Posible falsa alarma por gato",
    "El señor Ruiz pregunta por el código",
    "Il cliente segnala che la porta era aperta",
    "Contratto di manutenzione rinnovato",
    "Nessun guasto",
    "Sostituzione batteria prevista",
    "Probabile falso allarme per gatto",
    "Il signor Conti chiede il codice",
    "Klant meldt dat de deur open stond",
    "Onderhoudscontract verlengd",
    "Geen storing",
    "Batterij vervangen gepland",
    "Mogelijk vals alarm door kat",
    "Meneer Smit vraagt naar de code",
    "Klient zgłasza, że drzwi były otwarte",
    "Umowa serwisowa przedłużona",
    "Brak awarii",
    "Wymiana akumulatora zaplanowana",
    "Prawdopodobnie fałszywy alarm przez kota",
    "Pan Nowak pyta o kod",
    "Kunden meddelar att dörren var öppen",
    "Serviceavtal förlängt",
    "Inget fel",
    "Batteribyte planerat",
    "Troligen falsklarm på grund av katt",
    "Herr Ek frågar efter koden",
    "Kein Brand",
    "Pas d'incendie",
    "No hay incendio",
    "Nessun incendio",
    "Geen brand",
    "Brak pożaru",
    "Ingen brand",
    "Brandmeldung war ein Irrtum",
)


@pytest.mark.parametrize("text", NOTES)
def test_what_people_write_is_no_event(text):
    (row,) = understand_words(pl.Series([text])).to_dicts()
    assert row["kind"] in {None, "handling"}


def test_a_cell_without_any_word_is_told_of_among_cells_of_several_languages():
    several = ["Bereich scharf", "Tür offen", "Alarme intrusion", "Porte ouverte", "\ufeff", "..."]
    assert len(playing(several)) > 1
    told = kinds(several)
    assert list(told) == several
    assert told["\ufeff"] is None
    assert told["..."] is None
