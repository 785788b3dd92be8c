"""Made-up logs with a known truth, written as tables of any layout.

Column orders, headings in eight languages or none, state columns, identities in several columns,
several things in a row, empty and constant columns. The layouts and words are common practice;
nothing here is taken from the reader's own tables.
"""

import random
from dataclasses import dataclass, field
from datetime import datetime, timedelta

HEADINGS = {
    "en": ("Date", "Time", "Event", "Zone", "Area", "User", "State", "Path"),
    "de": ("Datum", "Uhrzeit", "Ereignis", "Melder", "Bereich", "Benutzer", "Zustand",
           "Übertragungsweg"),
    "fr": ("Date", "Heure", "Événement", "Détecteur", "Partition", "Utilisateur", "État", "Voie"),
    "es": ("Fecha", "Hora", "Evento", "Zona", "Partición", "Usuario", "Estado", "Vía"),
    "it": ("Data", "Ora", "Evento", "Zona", "Partizione", "Utente", "Stato", "Vettore"),
    "nl": ("Datum", "Tijd", "Gebeurtenis", "Zone", "Gebied", "Gebruiker", "Toestand", "Pad"),
    "pl": ("Data", "Godzina", "Zdarzenie", "Linia", "Obszar", "Użytkownik", "Stan", "Kanał"),
    "sv": ("Datum", "Tid", "Händelse", "Sektion", "Område", "Användare", "Tillstånd", "Väg"),
}  # fmt: skip
"""Date, time, event, point, area, user, state, path."""

STATES = {
    "en": [("ON", "OFF"), ("Y", "N"), ("1", "0"), ("open", "closed"), ("active", "normal"),
           ("alarm", "restore"), ("set", "clear"), ("+", "-"), ("A", "R")],
    "de": [("EIN", "AUS"), ("J", "N"), ("kommt", "geht"), ("Alarm", "Ruhe"),
           ("offen", "geschlossen")],
    "fr": [("oui", "non"), ("actif", "inactif"), ("début", "fin"), ("ouvert", "fermé")],
    "es": [("sí", "no"), ("activo", "inactivo"), ("inicio", "fin"), ("abierto", "cerrado")],
    "it": [("sì", "no"), ("attivo", "inattivo"), ("inizio", "fine"), ("aperto", "chiuso")],
    "nl": [("ja", "nee"), ("actief", "inactief"), ("begin", "einde"), ("open", "gesloten")],
    "pl": [("tak", "nie"), ("aktywny", "nieaktywny"), ("początek", "koniec"),
           ("otwarte", "zamknięte")],
    "sv": [("ja", "nej"), ("aktiv", "inaktiv"), ("till", "från"), ("öppen", "stängd")],
}  # fmt: skip

MEMBERS = {
    "wires": {"en": ("Bus", "Module"), "de": ("Bus", "Modul"), "fr": ("Bus", "Module"),
              "es": ("Bus", "Módulo"), "it": ("Bus", "Modulo"), "nl": ("Bus", "Module"),
              "pl": ("Magistrala", "Moduł"), "sv": ("Bus", "Modul")},
    "places": {"en": ("Building", "Floor"), "de": ("Gebäude", "Etage"), "fr": ("Bâtiment", "Étage"),
               "es": ("Edificio", "Planta"), "it": ("Edificio", "Piano"),
               "nl": ("Gebouw", "Verdieping"), "pl": ("Budynek", "Piętro"),
               "sv": ("Byggnad", "Våning")},
}  # fmt: skip

CONDITIONS = {
    "intrusion-alarm": ("Burglary alarm", "Burglary restored"),
    "tamper": ("Tamper", "Tamper restored"),
    "mains-loss": ("Mains failure", "Mains restored"),
    "fire": ("Fire alarm", "Fire alarm restored"),
}
PATHS = ("GPRS", "IP", "PSTN")


@dataclass
class Layout:
    """How a log is written."""

    language: str | None = "en"
    state: tuple[str, str] | None = None
    members: str | None = None
    several: bool = False
    path: bool = False
    extras: list[str] = field(default_factory=list)
    shuffle: int | None = None
    backward: bool = False
    odd: str | None = None


def happenings(
    rng: random.Random, *, days: int = 12, points: int = 9, areas: int = 2, users: int = 4
):
    """Make what happened: dicts of at, kind, phase, zone, area, person, sorted by time."""
    zones = sorted(rng.sample(range(1, 60), points))
    home = {zone: rng.randint(1, areas) for zone in zones}
    group = {zone: (rng.choice("12"), rng.randint(1, 4)) for zone in zones}
    told = []
    start = datetime(2025, 3, 13, 17, 0)  # noqa: DTZ001 - wall times have no zone
    for day in range(days):
        at = start + timedelta(days=day)
        for area in range(1, areas + 1):
            arm = at + timedelta(seconds=rng.randint(0, 5000))
            off = at + timedelta(hours=14, seconds=rng.randint(0, 5000))
            for when, kind in ((arm, "arm"), (off, "disarm")):
                told.append(
                    {"at": when, "kind": kind, "phase": "moment", "zone": None,
                     "area": str(area), "person": str(rng.randint(1, users))}
                )  # fmt: skip
        for _ in range(rng.randint(1, 4)):
            zone = rng.choice(zones)
            kind = rng.choice(["intrusion-alarm", "intrusion-alarm", "tamper", "fire"])
            began = at + timedelta(hours=2, seconds=rng.randint(0, 36000))
            ended = began + timedelta(seconds=rng.randint(5, 900))
            for when, phase in ((began, "begin"), (ended, "end")):
                told.append(
                    {"at": when, "kind": kind, "phase": phase, "zone": str(zone),
                     "area": str(home[zone]), "person": None, "group": group[zone]}
                )  # fmt: skip
        if rng.random() < 0.4:
            began = at + timedelta(hours=4, seconds=rng.randint(0, 9000))
            for when, phase in ((began, "begin"), (began + timedelta(minutes=40), "end")):
                told.append(
                    {"at": when, "kind": "mains-loss", "phase": phase, "zone": None,
                     "area": None, "person": None}
                )  # fmt: skip
    told.sort(key=lambda event: event["at"])
    return told


def written(rng: random.Random, told: list[dict], layout: Layout) -> tuple[str, list[tuple]]:
    """Write what happened as a table; return it with the events that it tells."""
    names = HEADINGS[layout.language or "en"]
    truth, rows = [], []
    for event in told:
        untold = {"no openings": 1.0, "few openings": 0.3}.get(layout.odd or "", 0)
        if event["kind"] == "disarm" and rng.random() < untold:
            continue
        begun = event["phase"] != "end"
        if event["kind"] in CONDITIONS:
            words = CONDITIONS[event["kind"]]
            text = words[0] if begun or layout.state else words[1]
        else:
            text = {"arm": "Armed", "disarm": "Disarmed"}[event["kind"]]
        zones = [event["zone"]] if event["zone"] else []
        cell, group = event["zone"] or "", event.get("group")
        label = event["zone"]
        if layout.several and event["kind"] == "intrusion-alarm" and int(event["zone"]) % 3 == 0:
            more = str(int(event["zone"]) + 1)
            joint = rng.choice([f"{cell}, {more}", f"Zones {cell} and {more}", f"{cell} & {more}"])
            zones, cell = [event["zone"], more], joint
        row = {
            "date": event["at"].strftime("%d/%m/%Y"),
            "time": event["at"].strftime("%H:%M:%S"),
            "event": text,
            "zone": cell,
            "area": event["area"] or "",
            "user": event["person"] or "",
        }
        if layout.members and group:
            row["wide"], row["narrow"] = group[0], str(group[1])
            label = f"{group[0]}.{group[1]}.{event['zone']}"
            zones = [label]
        elif layout.members:
            row["wide"] = row["narrow"] = ""
        if layout.state:
            condition = event["phase"] in {"begin", "end"}
            row["state"] = layout.state[0 if begun else 1] if condition else ""
        if layout.path:
            row["path"] = rng.choice(PATHS)
        _odd(rng, row, event, layout)
        for number, extra in enumerate(layout.extras):
            row[f"extra{number}"] = extra
        rows.append(row)
        area = None if layout.odd == "no area" else event["area"]
        if layout.odd == "three figures" and row["zone"]:
            zones = [str(100 + int(event["zone"]))]
        truth += [
            (event["at"], event["kind"], event["phase"], zone, area, event["person"])
            for zone in zones or [None]
        ]
    if layout.backward:
        rows.reverse()
    keys = list(dict.fromkeys(key for row in rows for key in row))
    if layout.shuffle is not None:
        random.Random(layout.shuffle).shuffle(keys)
    heading = dict(
        zip(("date", "time", "event", "zone", "area", "user", "state", "path"), names, strict=True)
    )
    if layout.members:
        wide, narrow = MEMBERS[layout.members][layout.language or "en"]
        heading |= {"wide": wide, "narrow": narrow}
    lines = [";".join(_quoted(row.get(key, "")) for key in keys) for row in rows]
    if layout.language is not None:
        lines.insert(0, ";".join(heading.get(key, f"Spalte {key[-1]}") for key in keys))
    return "\n".join(lines) + "\n", truth


BARE = ("ON", "Y", "1", "+", "EIN", "J", "oui", "sí", "sì", "ja", "tak", "till")
NAMES = ("Hall", "Study", "Vault", "North stair", "Loft", "Reading corner", "Archive", "Porch")


def _odd(rng: random.Random, row: dict, event: dict, layout: Layout) -> None:
    """Change a row as some exports have it, in columns under headings that nobody knows."""
    odd = layout.odd
    if odd == "seen":  # whether an operator has seen it
        row["odd"] = rng.choice("YN")
    elif odd == "priority":
        row["odd"] = (
            str(1 + list(CONDITIONS).index(event["kind"]) % 3)
            if event["kind"] in CONDITIONS
            else "5"
        )
    elif odd == "level":  # a measure that looks like a number of something
        row["odd"] = str(rng.randint(1, 9))
    elif odd == "together":
        row["odd"] = row.pop("zone") or row.pop("user")
        row.pop("user", None)
    elif odd == "name":
        row["odd"] = NAMES[int(event["zone"]) % len(NAMES)] if event["zone"] else ""
    elif odd == "who":
        row["odd"] = NAMES[int(event["person"])] if event["person"] else ""
    elif odd == "no area":
        row.pop("area")
    elif odd == "turned" and layout.state and row["state"] and layout.state[0] in BARE:
        row["state"] = layout.state[row["state"] == layout.state[0]]
    elif odd == "serial":
        row["odd"] = str(event["at"].toordinal() * 7 % 9000)
    elif odd == "three figures":
        row["zone"] = str(100 + int(row["zone"])) if row["zone"].isdigit() else row["zone"]


ODD = (
    *("seen", "priority", "level", "together", "name", "who", "no area", "turned", "serial"),
    *("three figures", "no openings", "few openings"),
)


def _quoted(cell: str) -> str:
    return f'"{cell}"' if ";" in cell or "," in cell else cell


def layouts(seed: int, *, many: int):
    """Draw so many layouts over orders, headings, states, identities."""
    rng = random.Random(seed)
    for number in range(many):
        language = rng.choice([*HEADINGS, *HEADINGS, None, None, None, None])
        members = rng.choice([None, None, None, "wires", "places"])
        odd = rng.choice([None, rng.choice(ODD)]) if members is None else None
        yield (
            number,
            Layout(
                language,
                state=rng.choice([None, rng.choice(STATES[language or rng.choice(list(STATES))])]),
                members=members,
                several=members is None and odd is None and rng.random() < 0.2,
                path=rng.random() < 0.3,
                extras=rng.choice([[], [], [""], ["7"], ["X"], ["", "2025"]]),
                shuffle=rng.choice([None, rng.randint(0, 10_000)]),
                backward=rng.random() < 0.3,
                odd=odd,
            ),
        )
