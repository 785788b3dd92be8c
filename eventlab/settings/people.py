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
    exit_again_s: float = one(
        300, "s", "an alarm just after arming that is disarmed this soon is somebody leaving"
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
    late_closing_min: float = one(3, "closings", "one late evening is a record, not a finding")
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
    schedule_slack_min: float = one(
        30, "min", "people come before opening time and leave after closing time"
    )
