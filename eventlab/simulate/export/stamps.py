"""Dates and times as text; month names are ours, never the machine's."""

from eventlab.simulate.clock import moment, wall

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def iso(at: int) -> str:
    """Write ``2026-03-30 14:02:11``."""
    return wall(at).strftime("%Y-%m-%d %H:%M:%S")


def iso_offset(at: int) -> str:
    """Write ``2026-03-30T14:02:11+01:00``."""
    return wall(at).isoformat()


def utc_z(at: int) -> str:
    """Write ``2026-03-30T13:02:11Z``."""
    return moment(at).strftime("%Y-%m-%dT%H:%M:%SZ")


def day_first(at: int) -> str:
    """Write ``30/03/2026``."""
    return wall(at).strftime("%d/%m/%Y")


def day_dashes(at: int) -> str:
    """Write ``30-03-2026 14:02:11``."""
    return wall(at).strftime("%d-%m-%Y %H:%M:%S")


def month_first(at: int) -> str:
    """Write ``03/30/2026``."""
    return wall(at).strftime("%m/%d/%Y")


def short_dots(at: int) -> str:
    """Write ``30.03.26 14:02:11``."""
    return wall(at).strftime("%d.%m.%y %H:%M:%S")


def month_name(at: int) -> str:
    """Write ``30 Mar 2026``."""
    shown = wall(at)
    return f"{shown.day:02d} {_MONTHS[shown.month - 1]} {shown.year}"


def month_short(at: int) -> str:
    """Write ``30-Mar-26``."""
    shown = wall(at)
    return f"{shown.day:02d}-{_MONTHS[shown.month - 1]}-{shown.year % 100:02d}"


def clock(at: int) -> str:
    """Write ``14:02:11``."""
    return wall(at).strftime("%H:%M:%S")


def minute(at: int) -> str:
    """Write ``14:02``."""
    return wall(at).strftime("%H:%M")


def twelve(at: int) -> str:
    """Write ``30/03/2026 02:02:11 PM``."""
    shown = wall(at)
    half = "AM" if shown.hour < 12 else "PM"
    hour = (shown.hour + 11) % 12 + 1
    return f"{day_first(at)} {hour:02d}:{shown.minute:02d}:{shown.second:02d} {half}"
