"""Invented sites whose troubles are known: Tarn Valley Libraries and Museums."""

from eventlab.simulate.making import simulate
from eventlab.simulate.truth import NOTHING, Truth

__all__ = ["NOTHING", "Truth", "simulate"]
