"""One number that somebody may want to change."""

from dataclasses import field


def one(default: float, unit: str, why: str) -> float:
    """Define a setting by its default, its unit and its reason."""
    value: float = field(default=default, metadata={"unit": unit, "why": why})
    return value
