"""Exports in other languages than English, from their bytes to events.

The layouts and wordings are common practice, from memory; the same story is told in each language.
"""

import pytest

from tests.meaning.exports import told

STORY = [
    "disarm area=1 person=4",
    "intrusion-alarm/begin zone=7",
    "mains-loss/begin",
    "mains-loss/end",
    "bypass/begin zone=3",
    "fire/begin zone=8",
    "test-report",
    "arm person=12 mode=full",
]
TIMES = [
    "15.03.2025 08:01:05", "16.03.2025 00:05:00", "17.03.2025 12:30:09", "17.03.2025 12:59:59",
    "18.03.2025 09:04:45", "19.03.2025 14:00:00", "20.03.2025 03:00:00", "21.03.2025 18:10:00",
]  # fmt: skip
LOGS = {
    "german": (
        "Datum;Meldung",
        ("Bereich 1 unscharf durch Benutzer 4|Alarm Linie 7 Küche|Netzausfall|Netz wieder da|"
        "Linie 3 gesperrt|Rauchmelder Linie 8 Alarm|Routineruf|Extern scharf Benutzer 12"),
    ),
    "french": (
        "Date;Événement",
        ("Désarmement secteur 1 utilisateur 4|Alarme zone 7 cuisine|Coupure secteur|Retour secteur|"
        "Inhibition zone 3|Détecteur de fumée zone 8 alarme|Test cyclique|"
        "Armement total utilisateur 12"),
    ),
    "spanish": (
        "Fecha;Evento",
        ("Desarmado partición 1 usuario 4|Alarma zona 7 cocina|Fallo de red|Vuelta de red|"
        "Zona 3 anulada|Detector de humo zona 8 alarma|Test periódico|Armado total usuario 12"),
    ),
    "italian": (
        "Data;Evento",
        ("Disinserimento area 1 utente 4|Allarme zona 7 cucina|Mancanza rete|Ritorno rete|"
        "Zona 3 esclusa|Rivelatore di fumo zona 8 allarme|Test periodico|"
        "Inserimento totale utente 12"),
    ),
    "dutch": (
        "Datum;Gebeurtenis",
        ("Gebied 1 uitgeschakeld door gebruiker 4|Alarm zone 7 keuken|Netuitval|"
        "Herstel netspanning|Zone 3 overbrugd|Rookmelder zone 8 alarm|Testmelding|"
        "Volledig ingeschakeld gebruiker 12"),
    ),
    "polish": (
        "Data;Zdarzenie",
        ("Rozbrojenie partycji 1 użytkownik 4|Alarm linia 7 kuchnia|Zanik zasilania|"
        "Powrót zasilania|Linia 3 zablokowana|Czujka dymu linia 8 alarm|Test okresowy|"
        "Uzbrojenie pełne użytkownik 12"),
    ),
    "swedish": (
        "Datum;Händelse",
        ("Område 1 frånkopplat av användare 4|Larm zon 7 kök|Nätavbrott|Nätspänning åter|"
        "Zon 3 förbikopplad|Rökdetektor zon 8 larm|Periodiskt test|"
        "Heltillkoppling användare 12"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", LOGS)
def test_the_same_story_in_each_language(name):
    headings, texts = LOGS[name]
    rows = [f"{at};{text}" for at, text in zip(TIMES, texts.split("|"), strict=True)]
    assert told("\n".join([headings, *rows]) + "\n") == STORY


def test_an_english_panel_that_a_german_has_named():
    rows = [
        "Date/Time,Zone,Zone name,Event",
        "2025-03-15 08:01:05,7,Küche Bewegungsmelder,Alarm",
        "2025-03-15 08:02:05,8,Rauchmelder Flur,Alarm",
        "2025-03-15 08:03:05,9,Brandschutztür Lager,Open",
        "2025-03-15 08:04:05,9,Brandschutztür Lager,Closed",
        "2025-03-15 08:05:05,,,Mains fail",
    ]
    assert told("\n".join(rows) + "\n") == [
        "intrusion-alarm/begin zone=7",
        "fire/begin zone=8",
        "activation/begin zone=9",
        "activation/end zone=9",
        "mains-loss/begin",
    ]
