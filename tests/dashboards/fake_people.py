"""What the fake lab tells of how a site is used: written down, none of it computed from a log."""

from datetime import date, datetime, timedelta

import polars as pl

from eventlab.lab import PeopleView, UsualHours
from eventlab.lab.hours import BANDS, EXCEPTIONS
from eventlab.schema import conform

HEADING = "Figures about codes, not proof about people; local employment and privacy law decides."
SAYS = {
    "entry": "Half of 290 entries took 22 s from the first door to the disarm, with 8 s left of "
    "its entry delay of 30 s, the longest 74 s; 14 of 311 entries set the alarm off "
    "(5 %, 2 % to 7 %).",
    "doors": "Point 1 (Main entrance) comes first on 240 of 290 entries of which the way is told; "
    "of 21 others it is not recorded. Point 5 (Store, east) stands on no entry route and still "
    "comes first: do people use another way in?",
    "keypads": "Which keypad is used: not recorded.",
    "exit": "7 of 311 closings set the alarm off (2 %, 0.9 % to 5 %); 7 were armed once more soon "
    "after. 4 alarms came within 120 s of a closing (a setting).",
    "people": "All together 3.4 alarms in 100 entries and closings. Most are to be expected of "
    "user 7: about 9 in 100 (5.1 to 14), more than is usual here. Figures are drawn to what is "
    "usual here: one bad evening is no verdict.",
    "bypasses": "3 bypasses of 2 points; point 5 (Store, east) is not shown lifted.",
    "areas": "Area 2 was never armed in this log. 40 of 311 armings were part arming. It leaves "
    "out point 5 (Store, east), which alarmed while all was armed.",
    "codes": "12 wrong codes, of which 11 were put right, half of them within 5 s.",
}
_FIRST = datetime.fromisoformat("2026-01-05 08:40")
_CODES = (("1", 120, 2), ("4", 110, 2), ("7", 81, 10), ("12", 30, 0))
_WAYS = (("1", "1 → 2"), ("1", "1 → 2 → 3"), ("5", "5 → 2"))


def people_view(site, name, at, *, recorded=True):
    entries = [
        {
            "local": _FIRST + timedelta(days=n, minutes=(n * 7) % 31),
            "who": f"user {('1', '4', '7', '12')[n % 4]}",
            "door": _WAYS[n % 7 // 3][0],
            "steps": _WAYS[n % 7 // 3][1],
            "keypad": None,
            "entry_s": 14.0 + (n * 5) % 23 + (38 if n % 21 == 2 else 0),
            "over_s": 22.0 if n % 21 == 2 else None,
            "delay_s": 30.0,
            "late": n % 21 == 2,
        }
        for n in range(290)
    ]
    doors = [
        ("1", "Point 1 (Main entrance)", True, 240, 21.0, 10),
        ("5", "Point 5 (Store, east, behind the loading bay)", False, 50, 29.0, 4),
    ]
    people = [
        {
            "label": f"User {code}",
            "who": f"user {code}",
            "what": "person",
            "entries": acts,
            "late_entries": late,
            "exits": acts,
            "late_exits": 0,
            "acts": 2 * acts,
            "alarms": late,
            "rate": 50 * late / acts,
            "expected": 1.0 + 40 * late / acts,
            "expected_low": 0.4 + 22 * late / acts,
            "expected_high": 2.4 + 62 * late / acts,
            "first": _FIRST,
            "last": _FIRST + timedelta(days=290),
            "unused_d": None,
            "odd": code == "12",
        }
        for code, acts, late in _CODES
    ]
    out = [("Point 5 (Store, east)", 60, 205, True), ("Point 3 (Back window)", 30, 31, False),
           ("Point 5 (Store, east)", 12, 20, False)]  # fmt: skip
    bypasses = [
        {
            "label": label,
            "zone": label[6],
            "since": _FIRST + timedelta(days=since),
            "until": _FIRST + timedelta(days=until),
            "open": still,
            "forced": not still,
            "hours": 24.0 * (until - since),
        }
        for label, since, until, still in out
    ]
    frames = {
        "entries": pl.DataFrame(entries, schema_overrides={"keypad": pl.String}),
        "doors": pl.DataFrame(
            [
                {"door": d, "label": label, "on_route": route, "entries": n, "half_s": half,
                 "late": late, "delay_s": 30.0, "late_share": late / n,
                 "late_low": 0.6 * late / n, "late_high": 1.6 * late / n}
                for d, label, route, n, half, late in doors
            ]
        ),
        "people": pl.DataFrame(people, schema_overrides={"unused_d": pl.Int64}),
        "bypasses": pl.DataFrame(bypasses),
    }  # fmt: skip
    says = dict(SAYS)
    if not recorded:
        frames = {key: frame.clear() for key, frame in frames.items()}
        says = dict.fromkeys(SAYS, "Arming: not recorded.")
    return PeopleView(
        site=site,
        site_name=name,
        time_zone="Europe/London",
        heading=HEADING,
        covers="This log covers 364 days (4512 armed hours); it records alarms and arming.",
        first=_FIRST,
        last=_FIRST + timedelta(days=300),
        recorded=recorded,
        trained=["All together: 12 alarms in 356 acts before, 2 in 266 after: better."]
        if at
        else [],
        says=says,
        questions=["User 12 is used only at hours at which others hardly come: is that as agreed?"]
        if recorded
        else [],
        **frames,
    )


def usual_hours(site, *, recorded=True):
    if not recorded:
        return UsualHours(site, "Europe/London", recorded=False, notes=["Arming is not recorded."])
    bands = pl.DataFrame(
        [
            {"area": None, "weekday": day, "what": what, "shift": 1, "low_h": middle - 0.4,
             "middle_h": middle, "high_h": middle + (0.5 if day < 6 else 1.5), "days": 11,
             "of": 12, "basis": "learned"}
            for day in range(1, 7)
            for what, middle in (("opening", 8.6), ("closing", 18.2 if day < 6 else 13.2))
        ]
    )  # fmt: skip
    unusual = pl.DataFrame(
        [
            {"date": date(2026, 10, 7), "local": datetime.fromisoformat("2026-10-07 21:40"),
             "what": "late-closing", "hours": 3.1, "who": "user 7", "usual": "18:05 to 18:30",
             "how_unusual": "3 in 212 closings, once in 71 (24 to 343)"},
        ]
    )  # fmt: skip
    return UsualHours(
        site,
        "Europe/London",
        recorded=True,
        bands=conform(bands, BANDS),
        exceptions=conform(unusual, EXCEPTIONS),
        sentence="Usually opened about 08:36 and closed about 18:12, on Saturdays at 13:12.",
    )
