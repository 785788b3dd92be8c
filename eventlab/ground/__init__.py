"""What every analysis stands on: powers, occurrences, coverage, arming, exposure, episodes."""

from eventlab.ground.ground import Ground
from eventlab.ground.lay import NEEDED, lay
from eventlab.ground.words import (
    ArmAt,
    Arming,
    Basis,
    ClockRule,
    ClockSign,
    Power,
    Reason,
    Restores,
    Rule,
    State,
    Told,
)

__all__ = [
    "NEEDED",
    "ArmAt",
    "Arming",
    "Basis",
    "ClockRule",
    "ClockSign",
    "Ground",
    "Power",
    "Reason",
    "Restores",
    "Rule",
    "State",
    "Told",
    "lay",
]
