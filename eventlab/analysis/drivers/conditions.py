"""The condition behind one window of one driver: which alarms lie in it, and which time."""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from eventlab.analysis.drivers.areas import within
from eventlab.analysis.drivers.grid import FORTNIGHT, STEPS
from eventlab.analysis.drivers.screen import Screened
from eventlab.analysis.drivers.shares import (
    ARMING_MIN,
    CLOCK,
    SUN_LOW,
    SUN_UP,
    some,
)
from eventlab.analysis.drivers.sky import AZIMUTHS, DOWN, dark, fortnightly, low, up

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]


def sun_window(window: int) -> tuple[int, int, Callable[[Floats], Flags]]:
    """Give where a window of the sun begins, how wide it is, and which sun it asks for."""
    many = len(SUN_LOW[0])
    if window < many:
        return int(SUN_LOW[0][window]), int(SUN_LOW[1][window]), low
    return int(SUN_UP[0][window - many]), int(SUN_UP[1][window - many]), up


def hits_in(screen: Screened, driver: str, window: int, mine: Numbers) -> Flags:
    """Say which alarms lie in a window.

    Parameters
    ----------
    screen : Screened
        What the screening says.
    driver : str
        Of ``naming.PATTERNS``.
    window : int
        Which of the driver's windows.
    mine : numpy.ndarray of int
        Which alarms of ``screen.hits``.

    Returns
    -------
    numpy.ndarray of bool
        One per alarm.
    """
    hits = screen.hits
    if driver == "clock":
        return _on_clock(hits.step[mine], window)
    if driver == "weekday":
        return np.asarray((hits.turns[mine] == window).any(axis=1))
    if driver == "area":
        return within(hits.other_s[mine])[:, window]
    if driver in {"sun", "dark"}:
        height = hits.height if driver == "dark" else hits.shone
        return _under_sky(driver, window, hits.azimuth[mine], height[mine])
    if driver == "arming":
        begun = hits.begun_s[mine]
        return np.asarray((begun >= 0) & (begun < 60 * ARMING_MIN[window]))
    return _in_air(screen, driver, window, hits.site[mine], hits.air[driver][mine])


def contradicted(screen: Screened, window: int, mine: Numbers) -> Flags:
    """Say which alarms came with the sun in a window, had the weather let it shine."""
    hits = screen.hits
    stood = _under_sky("sun", window, hits.azimuth[mine], hits.height[mine])
    return np.asarray(stood & (hits.shone[mine] < hits.height[mine]))


def steps_in(
    screen: Screened,
    driver: str,
    window: int,
    site: int,
    *,
    days: Numbers | None = None,
) -> Flags | None:
    """Say which ten-minute steps of a site's days lie in a window.

    Parameters
    ----------
    screen : Screened
        What the screening says.
    driver : str
        Of ``naming.PATTERNS``.
    window : int
        Which of the driver's windows.
    site : int
        Place in ``screen.grid.sites``.
    days : numpy.ndarray of int, optional
        Which days, also of the year after the log (sun and clock); all of the log where left out.

    Returns
    -------
    numpy.ndarray of bool, shape (days, 144), or None
        None where a window is no part of the day (time since arming, or since another area's).
        Of the log the sun is that of the middle of each fortnight, as for the shares of its time.
    """
    day, step = (np.arange(screen.grid.days) if days is None else days)[:, None], np.arange(STEPS)
    if driver == "clock":
        return np.broadcast_to(_on_clock(step, window), (len(day), STEPS))
    if driver in {"arming", "area"}:
        return None
    if driver == "weekday":
        turns = screen.grid.turns(*np.broadcast_arrays(day, step))
        return np.asarray((turns == window).any(axis=-1))
    where = np.array([site])
    utc = screen.grid.utc(where, day, step)
    if driver in {"sun", "dark"}:
        if days is None:
            azimuth, height = (
                np.repeat(part[0], FORTNIGHT, axis=0)
                for part in fortnightly(screen.sky, screen.grid, where)
            )
        else:
            azimuth, height = screen.sky.stands(where, utc)
        if driver == "sun" and screen.air is not None:
            height = np.where(screen.air.sunless(where, utc), DOWN, height)
        return _under_sky(driver, window, azimuth, height)
    if screen.air is None:
        return None
    return _in_air(screen, driver, window, where, screen.air.at(driver, where, utc))


def _on_clock(step: Numbers, window: int) -> Flags:
    return np.asarray((step - CLOCK[0][window]) % STEPS < CLOCK[1][window])


def _under_sky(driver: str, window: int, azimuth: Numbers, height: Floats) -> Flags:
    if driver == "dark":
        return dark(height)
    begin, width, flag = sun_window(window)
    return np.asarray(flag(height) & ((azimuth - begin) % AZIMUTHS < width))


def _in_air(screen: Screened, driver: str, window: int, site: Numbers, value: Floats) -> Flags:
    if screen.air is None:
        return np.zeros(value.shape, dtype=bool)
    level = screen.shares.levels[driver][np.maximum(screen.air.of_site[site], 0), window]
    with np.errstate(invalid="ignore"):
        return np.asarray((value >= level) & some(driver, value))
