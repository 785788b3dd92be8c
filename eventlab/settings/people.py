"""How people come and go."""

from dataclasses import dataclass

from eventlab.settings.one import one


@dataclass(frozen=True)
class PeopleSettings:
    """How people come and go."""

    entry_delay_s: float = one(30, "s", "ANSI/SIA CP-01 4.2.3 default; or the site's own")
    exit_delay_s: float = one(60, "s", "ANSI/SIA CP-01 4.2.2 default; or the site's own")
    entry_overrun_s: float = one(
        180, "s", "a disarm later than this after the alarm is an attendance, not an overrun"
    )
    entry_overrun_min: float = one(3, "events", "one late evening is a record, not a finding")
    exit_overrun_min: float = one(3, "events", "one hurried evening is a record, not a finding")
    overrun_days: float = one(
        180, "days", "that many late entries or exits in this time; fewer a year are ordinary life"
    )
    overrun_usual: float = one(
        0.005,
        "share",
        "of entries or exits late anywhere: busy places have some (common practice)",
    )
    overrun_chance: float = one(
        0.005,
        "chance",
        "of so many where no more than usual are late; measured: without it 5 in 32 were right",
    )
    exit_again_s: float = one(
        300, "s", "an alarm just after arming that is disarmed this soon is somebody leaving"
    )
    inside_s: float = one(
        1800, "s", "who is still in moves within half an hour of the arming, or has gone"
    )
    inside_off_s: float = one(
        600, "s", "who is inside disarms within minutes; later, somebody came (common practice)"
    )
    inside_min: float = one(
        4, "events", "evenings run late: of 8 findings of three 3 were right (simulated)"
    )
    unlatched_from_s: float = one(
        300, "s", "a door that moves sooner after arming was somebody leaving"
    )
    unlatched_until_s: float = one(
        5400, "s", "pressure, wind and cooling have moved an unlatched door by then"
    )
    unlatched_min: float = one(3, "events", "one door not pulled to is a record")
    unlatched_share: float = one(
        0.5, "share", "of the times it stood open, so many soon after closing: a latch, not wind"
    )
    unlatched_back_s: float = one(
        300, "s", "whoever comes shuts the door on the way in, so long before the disarm at most"
    )
    off_before_s: float = one(900, "s", "people switch off on their way out, so long before arming")
    off_after_s: float = one(
        4500, "s", "panels tell a loss of mains, and its end, up to an hour late by design"
    )
    off_min: float = one(5, "nights", "a few nights may be chance or work on the supply")
    off_share: float = one(
        0.5, "share", "of the losses of that kind, so many from a closing to the next opening"
    )
    forced_min: float = one(3, "armings", "on as many days: a habit; once or twice is a record")
    forced_days: float = one(30, "days", "the time in which forced armings are counted")
    bypass_nights: float = one(
        3, "nights", "a point still left out after so many armed nights is forgotten"
    )
    bypass_nights_over: float = one(7, "nights", "left out for fewer nights and lifted is a record")
    bypass_life_h: float = one(24, "h", "a life-safety point is missed within a day")
    left_out_s: float = one(
        60, "s", "a bypass this near to a forced arming was made by it (common practice)"
    )
    shared_share: float = one(
        0.8, "share", "one code with so many of the openings, on all weekdays, is a shared one"
    )
    shared_min: float = one(20, "openings", "fewer do not show that a code is shared")
    timer_min: float = one(10, "armings", "fewer do not show that no person arms so evenly")
    timer_share: float = one(
        0.9, "share", "of armings within a minute of the same clock time: no person can"
    )
    unused_days: float = one(90, "days", "a code not used for so long is worth a question")
    odd_uses: float = one(3, "uses", "fewer uses of a code show no habit")
    odd_share: float = one(
        0.02, "share", "of all other uses at that hour or next to it: an hour that is not usual"
    )
    apart_km: float = one(5, "km", "sites nearer to each other than their lists may err")
    apart_km_h: float = one(150, "km/h", "from door to door nobody is faster (common practice)")
    apart_clock_min: float = one(10, "min", "so much two clocks may differ, and a row be late")
    wrong_code_s: float = one(
        120, "s", "the right code follows a wrong one within this time, or nobody was let in"
    )
    recent_closing_s: float = one(
        120,
        "s",
        "an alarm so soon after a closing is told as recent; DC-03 and CP-01 differ (from memory)",
    )
    habit_weeks: float = one(
        8, "weeks", "before and after: hours change slowly, and on a date (a change shows by half)"
    )
    habit_days_min: float = one(4, "days", "fewer comparable days do not show what is usual")
    habit_short_s: float = one(
        600, "s", "armed for less: somebody came back at once, it was no closing"
    )
    late_closing_h: float = one(
        1, "h", "later than usual; people stay on for less, and it may be three spreads more"
    )
    late_closing_min: float = one(
        4, "closings", "one late evening is a record; three are told at too many healthy sites"
    )
    late_closing_days: float = one(
        42, "days", "that many late closings in this time; a long evening a month is a habit"
    )
    missed_closing_h: float = one(
        8, "h", "unarmed where it is always armed: a night, not an evening that grew long"
    )
    missed_unusual_h: float = one(
        16, "h", "what was opened at an unusual time is work, up to so long, not a missed closing"
    )
    missed_centre_h: float = one(
        96, "h", "to the end of a log of the centre alone: the last closing may have been lost"
    )
    odd_opening_share: float = one(
        0.1, "share", "of the openings of a place at such an hour; more, and it is one of its hours"
    )
    odd_opening_h: float = one(
        3, "h", "from any hour at which the place is open on any day; people forget things"
    )
    odd_opening_min: float = one(3, "openings", "one errand at night is a record, not a finding")
    odd_opening_days: float = one(90, "days", "that many odd openings in this time")
    odd_opening_called_h: float = one(
        2, "h", "after an alarm or a fault: somebody was called out (common practice)"
    )
    refused_before_h: float = one(
        2, "h", "a failed arming this long before the usual closing belongs to it"
    )
    refused_night_h: float = one(
        12, "h", "of a night unarmed: the last try of that day, or of that night, tells why"
    )
    schedule_slack_min: float = one(
        30, "min", "people come before opening time and leave after closing time"
    )
