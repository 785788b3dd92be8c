"""No life-safety wording of any language is read as another kind, and no ordinary one as such.

The words of each language are trade words, from memory; written for this grid, not taken from the
tables.
"""

import polars as pl
import pytest

from eventlab.meaning.wording import life_safety_of, understand_words
from eventlab.schema import LIFE_SAFETY, Kind

# subject: what its alarm is; "hold-up" and the like may also be left unread, never another kind.
SUBJECTS = {
    "german": {
        "Brandmelder": "fire", "Rauchmelder": "fire", "Feuer": "fire", "Wärmemelder": "fire",
        "Druckknopfmelder": "fire", "Sprinkler": "fire", "Handfeuermelder": "fire", "Rauch": "fire",
        "Überfall": "hold-up", "Überfalltaster": "hold-up", "Panik": "hold-up", "Gas": "gas",
        "Gasmelder": "gas", "CO": "gas", "Kohlenmonoxid": "gas", "Medizinischer Notruf": "medical",
        "Notruf": "", "Hausnotruf": "medical", "Schwesternruf": "medical",
        "Rauchwarnmelder": "fire",
    },
    "french": {
        "incendie": "fire", "feu": "fire", "détecteur de fumée": "fire", "fumée": "fire",
        "déclencheur manuel": "fire", "sprinkler": "fire", "détecteur de chaleur": "fire",
        "agression": "hold-up", "bouton panique": "hold-up", "gaz": "gas",
        "détecteur de gaz": "gas", "CO": "gas", "monoxyde de carbone": "gas",
        "urgence médicale": "medical", "médical": "medical",
        "appel d'urgence": "", "appel infirmière": "medical", "détresse": "",
    },
    "spanish": {
        "incendio": "fire", "fuego": "fire", "detector de humo": "fire", "humo": "fire",
        "pulsador de incendio": "fire", "rociadores": "fire", "detector térmico": "fire",
        "atraco": "hold-up", "botón de pánico": "hold-up", "gas": "gas", "detector de gas": "gas",
        "CO": "gas", "monóxido de carbono": "gas", "emergencia médica": "medical",
        "médica": "medical", "emergencia": "", "auxilio": "", "llamada de enfermera": "medical",
    },
    "italian": {
        "incendio": "fire", "fuoco": "fire", "rivelatore di fumo": "fire", "fumo": "fire",
        "pulsante incendio": "fire", "sprinkler": "fire", "rivelatore termico": "fire",
        "rapina": "hold-up", "pulsante panico": "hold-up", "gas": "gas", "rivelatore gas": "gas",
        "CO": "gas", "monossido di carbonio": "gas", "emergenza medica": "medical",
        "soccorso medico": "medical", "emergenza": "", "chiamata infermiera": "medical",
    },
    "dutch": {
        "brand": "fire", "rookmelder": "fire", "rook": "fire", "handbrandmelder": "fire",
        "sprinkler": "fire", "hittemelder": "fire", "brandmelder": "fire", "overval": "hold-up",
        "overvalknop": "hold-up", "paniekknop": "hold-up", "gas": "gas", "gasdetector": "gas",
        "CO": "gas", "koolmonoxide": "gas", "medisch": "medical", "zusteroproep": "medical",
        "noodoproep": "", "noodknop": "",
    },
    "polish": {
        "pożar": "fire", "czujka dymu": "fire", "dym": "fire", "ręczny ostrzegacz pożarowy": "fire",
        "tryskacze": "fire", "czujka ciepła": "fire", "czujka pożarowa": "fire", "napad": "hold-up",
        "przycisk napadowy": "hold-up", "gaz": "gas", "czujka gazu": "gas", "czad": "gas",
        "tlenek węgla": "gas", "pomoc medyczna": "medical", "wezwanie pielęgniarki": "medical",
        "wezwanie pomocy": "",
    },
    "swedish": {
        "brand": "fire", "rökdetektor": "fire", "rök": "fire", "larmknapp brand": "fire",
        "sprinkler": "fire", "värmedetektor": "fire", "branddetektor": "fire",
        "överfall": "hold-up",        "överfallsknapp": "hold-up", "panikknapp": "hold-up",
        "gas": "gas", "gasdetektor": "gas",
        "kolmonoxid": "gas", "medicinskt": "medical", "trygghetslarm": "medical", "nödlarm": "",
    },
}  # fmt: skip

# condition: (wording, which kinds it may tell); "life" stands for the life-safety kind.
LIFE = "life"
FORMS = {
    "german": {
        "Zone 8 {} Alarm": LIFE, "Alarm {} Zone 8": LIFE, "{} Küche Alarm": LIFE, "{}": LIFE,
        "{} ausgelöst": LIFE, "Alarm: {} Flur": LIFE, "Zone 8 - {} - Alarm": LIFE,
        "{} Alarm Ende": LIFE, "Zone 8 {} Störung": "sensor-fault", "Zone 8 {} gesperrt": "bypass",
        "Zone 8 {} Sabotage": "tamper", "Zone 8 {} Batterie schwach": "device-battery-low",
    },
    "french": {
        "Zone 8 {} alarme": LIFE, "Alarme {} zone 8": LIFE, "{} cuisine alarme": LIFE, "{}": LIFE,
        "{} déclenché": LIFE, "Alarme : {} couloir": LIFE, "Zone 8 - {} - alarme": LIFE,
        "Fin alarme {}": LIFE, "Défaut {} zone 8": "sensor-fault", "Zone 8 {} inhibé": "bypass",
        "Autoprotection {} zone 8": "tamper", "Pile faible {} zone 8": "device-battery-low",
    },
    "spanish": {
        "Zona 8 {} alarma": LIFE, "Alarma {} zona 8": LIFE, "{} cocina alarma": LIFE, "{}": LIFE,
        "{} activado": LIFE, "Alarma: {} pasillo": LIFE, "Zona 8 - {} - alarma": LIFE,
        "Fin de alarma {}": LIFE, "Avería {} zona 8": "sensor-fault", "Zona 8 {} anulada": "bypass",
        "Sabotaje {} zona 8": "tamper", "Batería baja {} zona 8": "device-battery-low",
    },
    "italian": {
        "Zona 8 {} allarme": LIFE, "Allarme {} zona 8": LIFE, "{} cucina allarme": LIFE, "{}": LIFE,
        "{} attivato": LIFE, "Allarme: {} corridoio": LIFE, "Zona 8 - {} - allarme": LIFE,
        "Fine allarme {}": LIFE, "Guasto {} zona 8": "sensor-fault", "Zona 8 {} esclusa": "bypass",
        "Manomissione {} zona 8": "tamper", "Batteria scarica {} zona 8": "device-battery-low",
    },
    "dutch": {
        "Zone 8 {} alarm": LIFE, "Alarm {} zone 8": LIFE, "{} keuken alarm": LIFE, "{}": LIFE,
        "{} geactiveerd": LIFE, "Alarm: {} gang": LIFE, "Zone 8 - {} - alarm": LIFE,
        "Einde alarm {}": LIFE, "Storing {} zone 8": "sensor-fault",
        "Zone 8 {} overbrugd": "bypass",        "Sabotage {} zone 8": "tamper",
        "Batterij laag {} zone 8": "device-battery-low",
    },
    "polish": {
        "Linia 8 {} alarm": LIFE, "Alarm {} linia 8": LIFE, "{} kuchnia alarm": LIFE, "{}": LIFE,
        "{} zadziałał": LIFE, "Alarm: {} korytarz": LIFE, "Linia 8 - {} - alarm": LIFE,
        "Koniec alarmu {}": LIFE, "Awaria {} linia 8": "sensor-fault",
        "Linia 8 {} zablokowana": "bypass", "Sabotaż {} linia 8": "tamper",
        "Słaba bateria {} linia 8": "device-battery-low",
    },
    "swedish": {
        "Zon 8 {} larm": LIFE, "Larm {} zon 8": LIFE, "{} kök larm": LIFE, "{}": LIFE,
        "{} utlöst": LIFE, "Larm: {} korridor": LIFE, "Zon 8 - {} - larm": LIFE,
        "Larm återställt {}": LIFE, "Fel {} zon 8": "sensor-fault",
        "Zon 8 {} förbikopplad": "bypass", "Sabotage {} zon 8": "tamper",
        "Lågt batteri {} zon 8": "device-battery-low",
    },
}  # fmt: skip

ORDINARY = {
    "german": (
        "Brandschutztür", "Feuerschutztor", "Notausgang", "Rauchabzug", "Feuertreppe", "Fluchttür",
        "Gasthaus Tür", "Haustür", "Küche Fenster", "Sanitätsraum Tür",
    ),
    "french": (
        "Porte coupe-feu", "Issue de secours", "Sortie de secours", "Porte de secours",
        "Barre anti-panique", "Porte infirmerie", "Fenêtre cuisine",
    ),
    "spanish": (
        "Puerta cortafuegos", "Salida de emergencia", "Puerta de emergencia", "Puerta enfermería",
        "Escalera de incendios", "Ventana cocina",
    ),
    "italian": (
        "Porta tagliafuoco", "Uscita di sicurezza", "Uscita di emergenza", "Porta antipanico",
        "Scala antincendio", "Finestra cucina", "Porta infermeria",
    ),
    "dutch": (
        "Branddeur", "Nooduitgang", "Vluchtdeur", "Brandtrap", "Rookluik", "Nooddeur",
        "Deur ziekenboeg", "Keukenraam",
    ),
    "polish": (
        "Drzwi przeciwpożarowe", "Wyjście ewakuacyjne", "Klapa dymowa", "Wyjście awaryjne",
        "Drzwi ambulatorium", "Okno kuchnia",
    ),
    "swedish": (
        "Branddörr", "Nödutgång", "Utrymningsdörr", "Brandtrappa", "Röklucka", "Sjukrum dörr",
        "Köksfönster",
    ),
}  # fmt: skip
OPEN = {
    "german": "{} offen", "french": "{} ouverte", "spanish": "{} abierta", "italian": "{} aperta",
    "dutch": "{} geopend", "polish": "{} otwarte", "swedish": "{} öppen",
}  # fmt: skip


def read_all(texts):
    told = understand_words(pl.Series(texts, dtype=pl.String))
    return {row["text"]: row for row in told.unique("text", keep="first").to_dicts()}


GRID = [
    (name, form.format(subject), life, told)
    for name, forms in FORMS.items()
    for form, told in forms.items()
    for subject, life in SUBJECTS[name].items()
]


@pytest.fixture(scope="module")
def read():
    return {name: read_all([text for n, text, _, _ in GRID if n == name]) for name in SUBJECTS}


def safe(row, life, told):
    """Tell whether a wording is unread, or read as what it may tell."""
    if row["kind"] is None:
        return True
    if told == LIFE:
        return Kind(row["kind"]) in LIFE_SAFETY and life in {"", row["kind"]}
    return row["kind"] == told and row["life_safety"] is not None


@pytest.mark.parametrize("name", SUBJECTS)
def test_life_safety_is_never_another_kind(name, read):
    grid = [(text, life, told) for tongue, text, life, told in GRID if tongue == name]
    assert len(grid) == len(FORMS[name]) * len(SUBJECTS[name])
    wrong = [
        (text, life, told, read[name][text])
        for text, life, told in grid
        if not safe(read[name][text], life, told)
    ]
    assert wrong == []


@pytest.mark.parametrize("name", SUBJECTS)
def test_most_of_the_grid_is_read(name, read):
    """What is left unread is safe, and of no use.

    ``Gas Küche Alarm`` may be gas in the kitchen or a point of that name, as in English.
    """
    names = [
        form for form in FORMS[name] if form.startswith("{} ") or ": {}" in form or " : {}" in form
    ]
    unsure = {form.format(subject) for form in names for subject in SUBJECTS[name]}
    told = [
        read[name][text]["kind"] is not None
        for n, text, life, _ in GRID
        if n == name and life and text not in unsure
    ]
    assert sum(told) >= 0.98 * len(told)


@pytest.mark.parametrize("name", SUBJECTS)
def test_each_wording_alone_is_never_another_kind(name):
    alone = [(text, told) for n, text, _, told in GRID if n == name][::7]
    for text, told in alone:
        row = read_all([text])[text]
        assert row["kind"] is None or told != LIFE or Kind(row["kind"]) in LIFE_SAFETY, text


@pytest.mark.parametrize("name", ORDINARY)
def test_an_ordinary_name_is_no_alarm_of_life_safety(name):
    alarm = next(iter(FORMS[name])).replace(" {}", " {}")
    texts = {
        ordinary: (alarm.format(ordinary), OPEN[name].format(ordinary))
        for ordinary in ORDINARY[name]
    }
    read = read_all([text for pair in texts.values() for text in pair])
    for ordinary, (alarmed, opened) in texts.items():
        assert read[alarmed]["kind"] in {"intrusion-alarm", None}, (ordinary, read[alarmed])
        assert read[opened]["kind"] in {"activation", None}, (ordinary, read[opened])


@pytest.mark.parametrize(
    ("name", "life_safety"),
    [
        ("Rauchmelder Küche", "fire"),
        ("Détecteur de fumée couloir", "fire"),
        ("Pulsador de atraco", "hold-up"),
        ("Rivelatore gas", "gas"),
        ("Rookmelder zolder", "fire"),
        ("Czujka dymu korytarz", "fire"),
        ("Rökdetektor källare", "fire"),
        ("Brandschutztür", None),
        ("Porte coupe-feu", None),
        ("Küche Fenster", None),
        ("Puerta principal", None),
    ],
)
def test_names_of_points(name, life_safety):
    told = {row["name"]: row["life_safety"] for row in life_safety_of(pl.Series([name])).to_dicts()}
    assert told.get(name) == life_safety


def test_a_foreign_word_of_life_safety_in_an_english_log_is_not_guessed():
    names = ["Hall", "Kitchen", "Reading Room", "Store", "Map Room", "North Gallery"]
    texts = [f"Alarm {name}" for name in names] + ["Alarm Feuer Store", "Alarm Rauchmelder"]
    read = read_all(texts)
    assert all(read[text]["kind"] == "intrusion-alarm" for text in texts[:6])
    for text in texts[6:]:
        assert read[text]["kind"] in {"fire", None}, text


@pytest.mark.parametrize(
    "text",
    [
        "Überfallalarm - Netzausfall",
        "Brandalarm, Netzausfall",
        "Alarme agression - coupure secteur",
        "Alarme incendie / coupure secteur",
        "Alarma de atraco - fallo de red",
        "Allarme rapina - mancanza rete",
        "Overvalalarm - netuitval",
        "Alarm napadowy - brak zasilania",
        "Överfallslarm - nätavbrott",
        "Brandlarm, nätavbrott",
    ],
)
def test_an_alarm_of_life_safety_is_not_lost_beside_another_event(text):
    assert read_all([text])[text]["kind"] is None
