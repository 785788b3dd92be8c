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
