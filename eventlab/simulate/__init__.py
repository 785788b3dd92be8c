"""Invented sites whose troubles are known: Tarn Valley Libraries and Museums."""

from eventlab.simulate.backgrounds import BACKGROUNDS
from eventlab.simulate.breaking import WAYS
from eventlab.simulate.making import SEED, simulate
from eventlab.simulate.mixed import Mixed, mixed
from eventlab.simulate.ordinary import PATTERNS, Ordinary, ordinary
from eventlab.simulate.single import DRIVERS, Driven, Sites, site_events
from eventlab.simulate.truth import NOTHING, Truth

__all__ = [
    "BACKGROUNDS",
    "DRIVERS",
    "NOTHING",
    "PATTERNS",
    "SEED",
    "WAYS",
    "Driven",
    "Mixed",
    "Ordinary",
    "Sites",
    "Truth",
    "mixed",
    "ordinary",
    "simulate",
    "site_events",
]
