"""The words of this room: powers, states, grounds of a rate, reasons for setting time aside."""

from enum import StrEnum

import polars as pl


class Power(StrEnum):
    """What is measured of a log before anything rests on it."""

    ARMING = "arming"
    ACTIVATIONS = "activations"
    RESTORES = "restores"
    BYPASS_ENDS = "bypass-ends"
    ENDS = "ends"
    GRAIN = "grain"
    ARM_AT = "arm-at"
    CLOCK = "clock"
    BOTH = "told-by-both"


class Arming(StrEnum):
    """Which openings and closings a log tells."""

    ALL = "all"
    AFTER_ALARM = "after-alarm"
    NONE = "none"


class Restores(StrEnum):
    """When a log tells that a point has restored."""

    LIVE = "live"
    AT_DISARM = "at-disarm"
    NONE = "none"


class ArmAt(StrEnum):
    """At which end of exit time a log writes ``arm``."""

    START = "start"
    END = "end"
    UNKNOWN = "unknown"


class Told(StrEnum):
    """Whether a log tells a thing; ``none`` where there was nothing to tell."""

    YES = "yes"
    NO = "no"
    NONE = "none"


class ClockRule(StrEnum):
    """By which rule a clock runs; ``open`` where nothing decides and its zone's rule stands."""

    ZONE = "zone"
    STANDARD = "standard-time"
    UTC = "utc"
    OPEN = "open"


class ClockSign(StrEnum):
    """What was seen of a clock over a stretch of time."""

    AGREES = "agrees"
    RULE = "rule"
    OFF = "off"
    DRIFT = "drift"
    RESET = "reset"
    SET = "set"


class State(StrEnum):
    """What an area was when something happened."""

    UNARMED = "unarmed"
    UNKNOWN = "unknown"
    EXIT = "exit"
    ARMED = "armed"


class Basis(StrEnum):
    """Against which hours the rate of a point is taken."""

    ARMED = "armed"
    CALENDAR = "calendar"
    ALWAYS = "always"


class Reason(StrEnum):
    """Why a stretch of time is set aside."""

    ON_TEST = "on-test"
    WALK_TEST = "walk-test"
    ON_SITE_WORK = "on-site-work"
    VISIT = "visit"
    RESTART = "restart"


class Rule(StrEnum):
    """When a point of several areas is armed."""

    ANY = "any"
    ALL = "all"
    AGREE = "agree"


STATE = pl.Enum([s.value for s in State])
"""In the order that makes ``all`` a minimum and ``any`` a maximum."""

BASIS = pl.Enum([b.value for b in Basis])
REASON = pl.Enum([r.value for r in Reason])
