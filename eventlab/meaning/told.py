"""What one template says, with the places of its names."""

from dataclasses import dataclass

from eventlab.meaning.lexicon import Reading
from eventlab.meaning.parts import Span
from eventlab.schema import LIFE_SAFETY, Kind

GENERIC = frozenset(
    {Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM, Kind.ACTIVATION, Kind.CONFIRMED_ALARM}
)
AT_DEVICES = frozenset({Kind.TAMPER, Kind.TAMPER_ALARM, Kind.DEVICE_BATTERY_LOW})
AT_POINTS = (
    GENERIC
    | AT_DEVICES
    | (LIFE_SAFETY - {Kind.DURESS})
    | frozenset(
        {
            *(
                Kind.ENVIRONMENT_ALARM,
                Kind.EXIT_ERROR,
                Kind.BYPASS,
                Kind.SHUTDOWN,
                Kind.SENSOR_FAULT,
            ),
            *(Kind.MASKING, Kind.SUPERVISION_LOSS, Kind.WALK_TEST),
        }
    )
)
BY_PEOPLE = frozenset(
    {Kind.ARM, Kind.ARM_FAILED, Kind.DISARM, Kind.CANCEL, Kind.DURESS, Kind.ACCESS, Kind.RESET}
)

BY_NAME = (
    BY_PEOPLE
    | LIFE_SAFETY
    | frozenset(
        {
            *(Kind.BYPASS, Kind.SHUTDOWN, Kind.ON_TEST, Kind.ON_SITE_WORK, Kind.WALK_TEST),
            *(Kind.MANUAL_TEST, Kind.TEST_REPORT, Kind.LOG_STATE, Kind.CLOCK_SET),
            *(Kind.SYSTEM_RESTART, Kind.HANDLING),
        }
    )
)
"""What may begin by someone told by name alone: no mains fails by anyone."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a template says.

    Parameters
    ----------
    reading : Reading or None
        Kind, phase and mode.
    problem : str
        Why there is none.
    zones, areas : tuple of Span
        Points and areas named, one event for each.
    person, person_name, path : Span or None
        Who, and by which path.
    life_safety : str
        The life-safety kind of the point spoken of.
    at_point : Kind or None
        The kind where another column names a point.
    """

    reading: Reading | None = None
    problem: str = ""
    zones: tuple[Span, ...] = ()
    areas: tuple[Span, ...] = ()
    person: Span | None = None
    person_name: Span | None = None
    path: Span | None = None
    life_safety: str = ""
    at_point: Kind | None = None

    @property
    def as_user(self) -> bool | None:
        """Whether a number beside the wording is a user's (true), a point's (false), or neither."""
        if self.reading is None:
            return None
        if self.reading.kind in BY_PEOPLE:
            return True
        return False if self.reading.kind in AT_POINTS else None
