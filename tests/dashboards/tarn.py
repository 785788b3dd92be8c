"""What the fake lab tells: the invented sites of Tarn Valley and what troubles them."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from math import acos, cos, pi, radians, sin, tan

import polars as pl

from eventlab.schema import Pattern, Role

NOW = datetime(2026, 9, 30, 6, 0, tzinfo=UTC)
FIRST, LAST = date(2025, 10, 1), date(2026, 9, 29)
ZONE = "Europe/London"


NOT = {"text": pl.String(), "problem": pl.String(), "count": pl.Int64()}


@dataclass(frozen=True)
class Choice:
    value: str
    text: str


@dataclass(frozen=True)
class Asked:
    key: str
    text: str
    choices: tuple = ()
    evidence: tuple = ()


@dataclass(frozen=True)
class Result:
    path: str
    role: Role | None = Role.LOG
    site: str | None = None
    sha256: str = "ab" * 32
    lines: int = 0
    rows: int = 0
    other: int = 0
    read: int = 0
    repeated: int = 0
    unread: int = 0
    events: int = 0
    doubtful: int = 0
    seam: int = 0
    questions: tuple = ()
    not_understood: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=NOT))
    evidence: tuple = ()
    notes: tuple[str, ...] = ()
    already: bool = False
    error: str | None = None


@dataclass(frozen=True)
class View:
    site: str
    name: str
    time_zone: str
    sentence: str
    powers: pl.DataFrame
    overview: dict
    findings: pl.DataFrame
    points: pl.DataFrame
    odds_from: str = "from the table of common practice, no outcomes recorded"


@dataclass(frozen=True)
class Raster:
    armed: pl.DataFrame
    sun: pl.DataFrame
    marks: pl.DataFrame
    aside: pl.DataFrame
    gaps: pl.DataFrame


# site, name, trade, latitude, longitude, alarms a year, cause, lost, on test, known, points
SITES = (
    ("2101", "Tarn Valley Central Library", "library", 54.412, -2.964, 74, "person-entering"),
    ("2102", "Glasshouse Museum", "museum", 54.455, -3.021, 188, "environment"),
    ("2103", "Boathouse Museum", "museum", 54.371, -2.921, 96, "environment"),
    ("2104", "Valley Archive", "archive", 54.431, -2.902, 61, "detector"),
    ("2105", "Swimming Hall and Reading Room", "sports hall", 54.402, -3.058, 12, "radio"),
    ("2106", "Museum of Slate", "museum", 54.498, -2.951, 9, "intrusion"),
    ("2107", "Upper Tarn Branch Library", "library", 54.521, -3.042, 4, "unexplained"),
    ("2108", "Mill Lane Branch Library", "library", 54.386, -2.873, 6, "person-leaving"),
    ("2109", "Bridge House Store", "archive", 54.444, -2.842, 0, "unexplained"),
    ("2110", "Quarry Gallery", "museum", 54.472, -2.889, 21, "path"),
    ("2111", "Fellside Mobile Library Depot", "library", 54.349, -2.987, 15, "service"),
)
LOST = {"2105": 4, "2110": 1, "2111": 1}
ON_TEST = {"2111"}
SILENT = {"2109"}

LEADING = {
    "2101": "Late entries: 58 of 74 alarms began at the staff door and were disarmed within 90 s.",
    "2102": "Point 7 follows the sun: about 9 times as often (5 to 15) while it is low.",
    "2103": "Point 3 chattered in 14 nights; up to 11 activations in a minute.",
    "2104": "Point 12 chattered in 9 nights and came back at the siren's time.",
    "2105": "Four wireless devices have not been heard of; the longest since 2 Aug 2026.",
    "2106": "Possible intrusion in the night of 14 Mar 2026: two points in walking order.",
    "2110": "The weekly test report has been missing since 6 Sep 2026.",
    "2111": "On test with the monitoring centre since 11 Sep 2026: nothing here is answered.",
}
LEADING_SETTLE = {
    **dict.fromkeys(("2102", "2103", "2104", "2105"), "visit"),
    **dict.fromkeys(("2106", "2110", "2111"), "phone"),
    "2101": "letter",
}
LEADING_PATTERN = {
    "2101": Pattern.ENTRY_OVERRUN,
    "2102": Pattern.FOLLOWS_SUN,
    "2103": Pattern.CHATTERING,
    "2104": Pattern.CHATTERING,
    "2105": Pattern.UNSUPERVISED,
    "2106": Pattern.POSSIBLE_INTRUSION,
    "2110": Pattern.REPORT_MISSED,
    "2111": Pattern.LEFT_ON_TEST,
}
POINTS = (
    ("1", "Staff door", "entry", "contact", True),
    ("2", "Hall", "follower", "movement", False),
    ("3", "Water gate", "perimeter", "contact", False),
    ("4", "Reading room", "interior", "movement", False),
    ("5", "Stack, ground floor", "interior", "movement", False),
    ("7", "Glasshouse, west", "interior", "movement", False),
    ("9", "Kitchen heat detector", "fire", "heat", False),
    ("12", "Strong room contact", "perimeter", "contact", False),
    ("20", "Counter button", "hold-up", "button", False),
)

QUESTIONS = (
    Asked(
        key="dates",
        text="Is 03/04/2026 in this file the 3rd of April or the 4th of March?",
        choices=(
            Choice("day-first", "3 April 2026: day first"),
            Choice("month-first", "4 March 2026: month first"),
        ),
        evidence=("no date in 212 rows has a part over 12",),
    ),
    Asked(key="site", text="Which site is this file the log of?"),
)

LATER = (
    Asked(
        key="time-zone",
        text="In which time zone does this clock run? The file does not say.",
        evidence=("the site list names no time zone for this site",),
    ),
)
"""Asked only once the site is known."""


def sun(night, latitude):
    turned = 2 * pi * (night.timetuple().tm_yday - 81) / 365.25
    declination = radians(23.44) * sin(turned)
    half = acos(-tan(radians(latitude)) * tan(declination)) / pi * 12
    noon = 12.2 + (1 if 86 < night.timetuple().tm_yday < 298 else 0) + 0.1 * cos(turned)
    return noon + half, noon + 24 - half


def _finding(site, pattern, kind, subject, statement, **more):
    return {
        "site": site,
        "pattern": str(pattern),
        "subject_kind": kind,
        "subject": subject,
        "standing": False,
        "since": datetime(2025, 10, 3, tzinfo=UTC),
        "until": datetime(2026, 9, 28, tzinfo=UTC),
        "events": 58,
        "confidence": 0.92,
        "statement": statement,
        "evidence": [
            {"what": "alarms in armed time", "figure": "58 in 4,512 armed hours", "basis": "log"},
            {"what": "nights with one", "figure": "41 of 364", "basis": "log"},
        ],
        "advice": ["Stand at the detector at that hour and look.", "Shade the glass."],
        "caution": "Put the site on test with its monitoring centre first; licensed people do it.",
        **more,
    }


def findings():
    return (
        _finding("2101", Pattern.ENTRY_OVERRUN, "zone", "1", LEADING["2101"], confidence=0.95),
        _finding(
            "2101",
            Pattern.BATTERY_WEAK,
            "zone",
            "4",
            "The battery of point 4 was reported low 5 times and has not been replaced.",
            standing=True,
            confidence=0.7,
        ),
        _finding("2102", Pattern.FOLLOWS_SUN, "zone", "7", LEADING["2102"], ratio=9.0),
        _finding("2103", Pattern.CHATTERING, "zone", "7", LEADING["2103"], confidence=0.8),
        _finding("2104", Pattern.CHATTERING, "zone", "12", LEADING["2104"], confidence=0.55),
        _finding("2105", Pattern.UNSUPERVISED, "site", None, LEADING["2105"], standing=True),
        _finding(
            "2106",
            Pattern.POSSIBLE_INTRUSION,
            "site",
            None,
            LEADING["2106"],
            since=datetime(2026, 3, 14, 22, tzinfo=UTC),
            until=datetime(2026, 3, 15, 6, tzinfo=UTC),
        ),
        _finding("2110", Pattern.REPORT_MISSED, "site", None, LEADING["2110"], standing=True),
        _finding(
            "2111",
            Pattern.LEFT_ON_TEST,
            "site",
            None,
            LEADING["2111"],
            standing=True,
            since=datetime(2026, 9, 11, 8, tzinfo=UTC),
            until=None,
            confidence=0.99,
        ),
    )


def exports():
    return pl.DataFrame(
        [
            {
                "sha256": f"{n:064x}",
                "name": name,
                "taken_at": NOW - timedelta(days=n),
                "sites": [site],
                "lines": rows + 3,
                "rows": rows,
                "read": rows - 40 - n,
                "repeated": 40,
                "unread": n,
                "seam": 0,
                "first": NOW - timedelta(days=364),
                "last": NOW - timedelta(days=n),
            }
            for n, (name, site, rows) in enumerate(
                (
                    ("central_library.csv", "2101", 9120),
                    ("glasshouse <west>.csv", "2102", 14002),
                    ("archive-october.txt", "2104", 803),
                )
            )
        ]
    )


def unread_rows():
    return pl.DataFrame(
        {
            "site": ["2104", "2104", "2102", None],
            "row": [17, 18, 402, 9],
            "raw": ["31/02/2026 10:00;x", "??", "<img src=x onerror=alert(1)>", "=cmd()"],
            "problem": [
                "the date does not exist",
                "the date does not exist",
                "the wording is not understood",
                "too few cells",
            ],
        }
    )


def strangers():
    return pl.DataFrame(
        {
            "wording": ["<script>alert(1)</script>", "Gizmo 4 winkled", "Attic smoke head winkled"],
            "form": ["script alert # script", "gizmo # winkled", "attic smoke head winkled"],
            "problem": ["no thing is told", "no state is told", "no state is told"],
            "sites": [["2102", "2104"], ["2104"], ["2102"]],
            "rows": [41, 12, 3],
            "life_safety": [False, False, True],
            "kind": [None, "module-fault", None],
            "phase": [None, "begin", None],
            "probability": [None, 0.97, None],
        },
        schema_overrides={"rows": pl.Int64},
    )
