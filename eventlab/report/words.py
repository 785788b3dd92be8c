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


def off_by(seconds: float, plus_minus: float) -> str:
    """Write how far a clock is off, no finer than it is known: ``17 min 55 s``, ``about 3 h``.

    Parameters
    ----------
    seconds : float
        The size [s].
    plus_minus : float
        How well it is known [s].

    Returns
    -------
    str
        In days, hours, minutes and seconds, at most two of them.
    """
    step = next((step for step in (1, 5, 10, 60, 600, 3600) if step >= plus_minus), 3600)
    left = round(seconds / step) * step
    parts: list[str] = []
    for unit, size in (("days", 86_400), ("h", 3600), ("min", 60), ("s", 1)):
        if left >= size and len(parts) < 2:
            many, left = divmod(left, size)
            name = "day" if unit == "days" and many == 1 else unit
            parts.append(f"{many:.0f} {name}")
    text = " ".join(parts) or "0 s"
    return text if step == 1 else f"about {text}"


def seconds_told(seconds: float, grain: float) -> str:
    """Write seconds no finer than the clock that told them: ``42 s``, ``about 2 min``.

    Parameters
    ----------
    seconds : float
        How long [s].
    grain : float
        What one step of the clock stands for [s].

    Returns
    -------
    str
        With its unit.
    """
    if grain <= 1:
        return f"{plain(seconds)} s"
    if grain < 60:
        return f"about {plain(max(1, round(seconds / grain)) * grain)} s"
    return f"about {max(1, math.ceil(seconds / 60))} min"
