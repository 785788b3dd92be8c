"""Reads the event history of intruder-alarm sites and says what troubles them."""

__version__ = "0.1.0"
