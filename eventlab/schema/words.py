"""The words that every room uses; nothing else in the code spells these strings."""

from enum import StrEnum


class Kind(StrEnum):
    """What one event says happened."""

    INTRUSION_ALARM = "intrusion-alarm"
    ENTRY_EXIT_ALARM = "entry-exit-alarm"
    TAMPER_ALARM = "tamper-alarm"
    CONFIRMED_ALARM = "confirmed-alarm"
    HOLD_UP = "hold-up"
    DURESS = "duress"
    FIRE = "fire"
    MEDICAL = "medical"
    GAS = "gas"
    ENVIRONMENT_ALARM = "environment-alarm"
    ACTIVATION = "activation"
    ARM = "arm"
    ARM_FAILED = "arm-failed"
    DISARM = "disarm"
    CANCEL = "cancel"
    EXIT_ERROR = "exit-error"
    BYPASS = "bypass"
    SHUTDOWN = "shutdown"
    WRONG_CODE = "wrong-code"
    ACCESS = "access"
    RESET = "reset"
    MAINS_LOSS = "mains-loss"
    SYSTEM_BATTERY_LOW = "system-battery-low"
    SYSTEM_FAULT = "system-fault"
    SIREN_FAULT = "siren-fault"
    MODULE_FAULT = "module-fault"
    RADIO_JAM = "radio-jam"
    COMMS_FAIL = "comms-fail"
    SENSOR_FAULT = "sensor-fault"
    MASKING = "masking"
    SUPERVISION_LOSS = "supervision-loss"
    DEVICE_BATTERY_LOW = "device-battery-low"
    TAMPER = "tamper"
    TEST_REPORT = "test-report"
    MANUAL_TEST = "manual-test"
    WALK_TEST = "walk-test"
    ON_TEST = "on-test"
    ON_SITE_WORK = "on-site-work"
    CLOCK_SET = "clock-set"
    SYSTEM_RESTART = "system-restart"
    LOG_STATE = "log-state"
    HANDLING = "handling"
    UNREAD = "unread"


class Phase(StrEnum):
    """Which end of a condition a row tells."""

    BEGIN = "begin"
    END = "end"
    MOMENT = "moment"


class Mode(StrEnum):
    """How an area was armed."""

    FULL = "full"
    PART = "part"
    FORCED = "forced"
    TIMED = "timed"
    REMOTE = "remote"
    QUICK = "quick"
    KEY = "key"


class Timing(StrEnum):
    """How the UTC time of an event was reached."""

    SURE = "sure"
    BY_ORDER = "by-order"
    SHIFTED = "shifted"
    DOUBTFUL = "doubtful"


class Witness(StrEnum):
    """Which log says so: the panel's own, or the monitoring centre's history."""

    PANEL = "panel"
    RECEIVER = "receiver"


class Role(StrEnum):
    """What a file is."""

    LOG = "log"
    SITES = "sites"
    ZONES = "zones"
    WEATHER = "weather"
    VISITS = "visits"
    OUTCOMES = "outcomes"
    SCHEDULE = "schedule"
    USERS = "users"


class Use(StrEnum):
    """What a point is for, as the zone schedule lists it."""

    ENTRY = "entry"
    FOLLOWER = "follower"
    PERIMETER = "perimeter"
    INTERIOR = "interior"
    ALL_HOURS = "24-hour"
    OUTDOOR = "outdoor"
    KEY = "key"
    TECHNICAL = "technical"
    FIRE = "fire"
    HOLD_UP = "hold-up"
    MEDICAL = "medical"


class Subject(StrEnum):
    """What a finding is about."""

    ZONE = "zone"
    AREA = "area"
    PERSON = "person"
    SITE = "site"


class Pattern(StrEnum):
    """The name of a finding."""

    CHATTERING = "chattering"
    SWINGER = "swinger"
    FOLLOWS_SUN = "follows-sun"
    FOLLOWS_CLOCK = "follows-clock"
    FOLLOWS_TEMPERATURE = "follows-temperature"
    FOLLOWS_WIND = "follows-wind"
    FOLLOWS_RAIN = "follows-rain"
    STORM_BURST = "storm-burst"
    FOLLOWS_POINT = "follows-point"
    FOLLOWS_SIREN = "follows-siren"
    AFTER_VISIT = "after-visit"
    AFTER_DARK = "after-dark"
    FOLLOWS_ARMING = "follows-arming"
    FOLLOWS_AREA = "follows-area"
    RATE_CHANGE = "rate-change"
    ENTRY_OVERRUN = "entry-overrun"
    EXIT_OVERRUN = "exit-overrun"
    ARMED_ON_PEOPLE = "armed-on-people"
    LATE_CLOSING = "late-closing"
    MISSED_CLOSING = "missed-closing"
    ODD_HOURS_OPENING = "odd-hours-opening"
    ARM_REFUSED = "arm-refused"
    LASTING_BYPASS = "lasting-bypass"
    FORCED_ARMING = "forced-arming"
    LAST_DOOR_UNLATCHED = "last-door-unlatched"
    OFF_WHEN_CLOSED = "off-when-closed"
    MAINS_OUT = "mains-out"
    BATTERY_WEAK = "battery-weak"
    UNSUPERVISED = "unsupervised"
    RADIO_INTERFERENCE = "radio-interference"
    PATH_DOWN = "path-down"
    REPORT_MISSED = "report-missed"
    TAMPER_OPEN = "tamper-open"
    MASKED = "masked"
    FAULT_STANDING = "fault-standing"
    SILENT_ZONE = "silent-zone"
    LEFT_ON_TEST = "left-on-test"
    LOG_GAP = "log-gap"
    CLOCK_FAULT = "clock-fault"
    LIST_MISMATCH = "list-mismatch"
    REPEATED_FROM_OUTSIDE = "repeated-from-outside"
    POSSIBLE_INTRUSION = "possible-intrusion"
    LONE_OPENING = "lone-opening"


FOLLOWS: frozenset[Pattern] = frozenset(
    {
        Pattern.FOLLOWS_SUN,
        Pattern.FOLLOWS_CLOCK,
        Pattern.FOLLOWS_TEMPERATURE,
        Pattern.FOLLOWS_WIND,
        Pattern.FOLLOWS_RAIN,
        Pattern.FOLLOWS_ARMING,
        Pattern.FOLLOWS_AREA,
        Pattern.AFTER_DARK,
    }
)
"""What a point follows around it: statistics of days, of which chance alone brings a few."""


class Cause(StrEnum):
    """What an episode may have come from; each keeps a probability."""

    PERSON_ENTERING = "person-entering"
    PERSON_LEAVING = "person-leaving"
    ENVIRONMENT = "environment"
    DETECTOR = "detector"
    POWER = "power"
    RADIO = "radio"
    PATH = "path"
    SERVICE = "service"
    INTRUSION = "intrusion"
    UNEXPLAINED = "unexplained"


class Health(StrEnum):
    """The four words of a lane, figure or page that is never left blank."""

    WELL = "well"
    NOT_WELL = "not well"
    NOT_RECORDED = "not recorded"
    NOT_COVERED = "not covered"


class Verdict(StrEnum):
    """Whether something worked: what a comparison before and after a date comes to."""

    BETTER = "better"
    OPEN = "no evidence yet"
    WORSE = "worse"
    QUIET = "quiet, not yet proven to detect"
    OUT = "not in service"
    IN = "in service"
    UNPROVEN = "not yet proven to detect"


MOMENTS: frozenset[Kind] = frozenset(
    {
        Kind.ARM,
        Kind.ARM_FAILED,
        Kind.DISARM,
        Kind.CANCEL,
        Kind.EXIT_ERROR,
        Kind.WRONG_CODE,
        Kind.ACCESS,
        Kind.DURESS,
        Kind.RESET,
        Kind.CONFIRMED_ALARM,
        Kind.TEST_REPORT,
        Kind.MANUAL_TEST,
        Kind.CLOCK_SET,
        Kind.SYSTEM_RESTART,
        Kind.LOG_STATE,
        Kind.HANDLING,
        Kind.UNREAD,
    }
)
"""Kinds that only happen; every other kind begins and ends, alarms too."""

LIFE_SAFETY: frozenset[Kind] = frozenset(
    {Kind.FIRE, Kind.MEDICAL, Kind.GAS, Kind.HOLD_UP, Kind.DURESS}
)
"""Kinds that are never explained away."""

LIFE_SAFETY_USES: frozenset[Use] = frozenset({Use.FIRE, Use.HOLD_UP, Use.MEDICAL})
"""Listed uses that make a point a life-safety point whatever it raised."""

TRIPS: frozenset[Kind] = frozenset({Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM, Kind.TAMPER_ALARM})
"""Kinds whose begin is an alarm of an ordinary point; a confirmation is evidence, never a trip."""

SELF_REPORTED: frozenset[Kind] = frozenset(
    {
        Kind.SYSTEM_BATTERY_LOW,
        Kind.DEVICE_BATTERY_LOW,
        Kind.SUPERVISION_LOSS,
        Kind.TEST_REPORT,
        Kind.SENSOR_FAULT,
        Kind.MODULE_FAULT,
    }
)
"""What a system reports on its own schedule; never screened for clock or sun."""

LOST_PROTECTION: frozenset[Pattern] = frozenset(
    {
        Pattern.LEFT_ON_TEST,
        Pattern.MAINS_OUT,
        Pattern.BATTERY_WEAK,
        Pattern.UNSUPERVISED,
        Pattern.RADIO_INTERFERENCE,
        Pattern.PATH_DOWN,
        Pattern.REPORT_MISSED,
        Pattern.TAMPER_OPEN,
        Pattern.MASKED,
        Pattern.FAULT_STANDING,
        Pattern.SILENT_ZONE,
        Pattern.LASTING_BYPASS,
        Pattern.MISSED_CLOSING,
        Pattern.ARM_REFUSED,
        Pattern.CLOCK_FAULT,
        Pattern.LOG_GAP,
    }
)
"""Patterns that leave people or a building unprotected; they stand before every nuisance."""

CERTAINTY: tuple[tuple[float, str], ...] = (
    (0.95, "almost certain"),
    (0.8, "very likely"),
    (0.6, "likely"),
    (0.3, "possible"),
    (0.0, "doubtful"),
)
"""From which share on a word stands for it; the word comes first, the number second."""
