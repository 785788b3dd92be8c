"""Invented sites whose troubles are known: Tarn Valley Libraries and Museums."""

from eventlab.simulate.making import SEED, simulate
from eventlab.simulate.single import BACKGROUNDS, DRIVERS, Driven, Sites, site_events
from eventlab.simulate.truth import NOTHING, Truth

__all__ = [
    "BACKGROUNDS",
    "DRIVERS",
    "NOTHING",
    "SEED",
    "Driven",
    "Sites",
    "Truth",
    "simulate",
    "site_events",
]
