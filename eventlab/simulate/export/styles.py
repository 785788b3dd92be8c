"""How each building's log is exported; every panel and centre has its own way."""

from eventlab.schema import Kind
from eventlab.simulate.export import stamps
from eventlab.simulate.export.saying import code, words
from eventlab.simulate.export.table import Row, Style
from eventlab.simulate.model import Building, Record

_ODD = (
    "Quern parity 4 nominal",
    "Larder bit 7 toggled",
    "Spindle re-seated at 3",
    "Fathom gauge link poll nil",
    "Thimble carrier rolled over",
    "Ember count trimmed to 12",
    "Bobbin lane swapped",
    "Plinth marker wrote 0",
    "Gantry phrase unlatched",
)


def _central(record: Record, building: Building) -> Row | None:
    coded = code(record, building)
    if coded is None or not coded[0]:
        return None
    area = (record.area or "0").zfill(2)
    return stamps.iso_offset(record.at), f"{coded[0]} {area} {coded[1].zfill(3)}"


def _glasshouse(record: Record, building: Building) -> Row | None:
    coded = code(record, building)
    if coded is None or not coded[2]:
        return None
    number = "" if coded[1] == "0" else coded[1]
    at = record.at
    return stamps.day_first(at), stamps.clock(at), coded[2], record.area or "", number


def _branch(record: Record, building: Building) -> Row | None:
    said = words("two", record, building)
    if said is None:
        return None
    return stamps.twelve(record.at), said, words("two-detail", record, building) or ""


def _pool(record: Record, building: Building) -> Row | None:
    coded = code(record, building)
    if coded is None or not coded[0]:
        return None
    at = record.at
    area = (record.area or "0").zfill(2)
    return (
        stamps.month_first(at), stamps.clock(at), coded[0][0], coded[0][1:], area,
        coded[1].zfill(3),
    )  # fmt: skip


def _boathouse(record: Record, building: Building) -> Row | None:
    coded = code(record, building)
    if coded is None or not coded[2]:
        return None
    return stamps.utc_z(record.at), f"Nri{record.area or '0'}/{coded[2]}{coded[1].zfill(3)}"


def _mine(record: Record, building: Building) -> Row | None:
    coded = code(record, building)
    if coded is None or not coded[0]:
        return None
    letter = {"1": "E", "3": "R"}[coded[0][0]]
    return stamps.short_dots(record.at), letter + coded[0][1:], record.area or "", coded[1]


def _archive(record: Record, building: Building) -> Row | None:
    said = record.note if record.kind is Kind.UNREAD else words("set", record, building)
    return None if said is None else (stamps.iso(record.at), said)


def _museum(record: Record, building: Building) -> Row | None:
    said = words("house", record, building)
    if said is None:
        return None
    return stamps.month_name(record.at), stamps.clock(record.at), record.area or "", said


def _school(record: Record, building: Building) -> Row | None:
    said = words("school", record, building)
    return None if said is None else (stamps.day_dashes(record.at), said)


def _hillside(record: Record, building: Building) -> Row | None:
    said = words("label", record, building)
    if said is None:
        return None
    return stamps.day_first(record.at), stamps.minute(record.at), said


def _rooms(record: Record, building: Building) -> Row | None:
    said = words("room", record, building)
    if said is None:
        return None
    at = record.at
    who = building.person(record.person).name if record.person else ""
    return (
        building.site, stamps.month_short(at), stamps.clock(at), said, record.zone or "",
        record.person or "", who,
    )  # fmt: skip


def _centre(record: Record, building: Building) -> Row | None:
    said = words("centre", record, building)
    if said is None:
        return None
    point = f"{record.zone} {building.point(record.zone).name}" if record.zone else ""
    user = f"{record.person} {building.person(record.person).name}" if record.person else ""
    return stamps.iso(record.at), said, point, user, record.path or ""


def _history(site: str) -> Style:
    return Style(
        file=f"{site}-centre.csv",
        sites=(site,),
        heading=("Received", "Signal", "Point", "User", "Path"),
        tell=_centre,
        centre=True,
        newline="\r\n",
        above=(
            "Monitoring centre: account history",
            f"Account: {site}",
            "Time zone: Europe/London",
            "",
        ),
        below=("", "{rows} lines"),
    )


def _hillside_export(number: int, taken_before: int) -> Style:
    return Style(
        f"TV10-{number}.csv", ("TV10",), ("Date", "Time", "Log entry"), _hillside,
        ring=2000, taken_before=taken_before,
    )  # fmt: skip


STYLES: tuple[Style, ...] = (
    Style("TV01.csv", ("TV01",), ("Timestamp", "Report"), _central),
    Style(
        "TV02.csv", ("TV02",), ("Date", "Time", "Code", "Area", "Point/User"), _glasshouse,
        delimiter=";", encoding="utf-8-sig", newline="\r\n",
    ),
    Style(
        "TV03.txt", ("TV03",), ("Time", "Event"), _archive, delimiter="\t", encoding="utf-16",
        newline="\r\n", newest_first=True, odd=_ODD,
    ),
    Style(
        "TV04.csv", ("TV04",), ("Date and time", "Event", "Details"), _branch, encoding="cp1252",
        newline="\r\n",
    ),
    Style(
        "printout-0518.txt", ("TV05",), ("Date", "Time", "Q", "Code", "Group", "Zone/User"),
        _pool, delimiter="|", newest_first=True, page=60,
        above=("EVENT LOG PRINTOUT", "Site: TV05", "Printed: 11/01/2026 00:01", ""),
        below=("", "End of log, {rows} entries"),
    ),
    Style("TV06.csv", ("TV06",), ("time_utc", "event"), _boathouse),
    Style(
        "TV07.txt", ("TV07",), ("Date", "Time", "Area", "Event"), _museum, delimiter="\t",
        newest_first=True,
    ),
    _history("TV07"),
    Style(
        "TV08.csv", ("TV08",), ("Date/time", "Code", "Partition", "Zone/User"), _mine,
        delimiter=";", newline="\r\n",
    ),
    Style(
        "TV09.txt", ("TV09",), ("When", "What happened"), _school, delimiter="|",
        below=("End of report",),
    ),
    _history("TV09"),
    _hillside_export(1, 40),
    _hillside_export(2, 0),
    Style(
        "reading-rooms.csv", ("TV11", "TV12"),
        ("Account", "Date", "Time", "Signal", "Point", "User no.", "User name"), _rooms,
        delimiter=";", newest_first=True,
    ),
)  # fmt: skip
"""One per file, in the order of their sites."""
