"""Numbers, spans and certainty in plain words."""

import math

from eventlab.schema import CERTAINTY


def plain(value: float, digits: int = 0) -> str:
    """Write a number with at most so many decimals, without trailing zeros."""
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def count(number: float, one: str, many: str | None = None) -> str:
    """Write a count with its noun: ``1 night``, ``3 nights``."""
    whole = round(number)
    return f"{whole} {one if whole == 1 else many or one + 's'}"


def times(number: float) -> str:
    """Write how often: ``once``, ``twice``, ``5 times``."""
    whole = round(number)
    return {1: "once", 2: "twice"}.get(whole, f"{whole} times")


def span(hours: float) -> str:
    """Write a length of time in the unit that people would use."""
    if hours < 1 / 60:
        return count(hours * 3600, "second")
    if hours < 1:
        return count(hours * 60, "minute")
    if hours < 48:
        return f"{plain(hours, 1 if hours < 10 else 0)} {'hour' if hours == 1 else 'hours'}"
    days = hours / 24
    if days < 60:
        return f"{plain(days, 1 if days < 10 else 0)} days"
    return f"{plain(days / 7)} weeks" if days < 180 else f"{plain(days / 30.44)} months"


def percent(share: float) -> str:
    """Write a share as ``7 %``; small ones with a decimal."""
    value = 100 * share
    return f"{plain(value, 1 if 0 < value < 2 else 0)} %"


def ratio(value: float | None, low: float | None, high: float | None) -> str | None:
    """Write a ratio with its interval: ``about 7 times as often (4 to 13)``.

    Returns None where it is not known or its interval holds 1.
    """
    if value is None or low is None or math.isinf(value) or low <= 1:
        return None
    top = f"{_two(high)}" if high is not None and math.isfinite(high) else "more"
    return f"about {_two(value)} times as often ({_two(low)} to {top})"


def _two(value: float) -> str:
    return plain(value, 1 if value < 10 else 0)


def certainty(share: float | None) -> str | None:
    """Say a measured share right, word first: ``likely (72 in 100)``; None where not measured."""
    if share is None:
        return None
    word = next(name for bar, name in CERTAINTY if share >= bar)
    return f"{word} ({plain(100 * share)} in 100)"


def joined(parts: list[str], last: str = "and") -> str:
    """Join words as people do: ``a, b and c``."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} {last} {parts[-1]}"
