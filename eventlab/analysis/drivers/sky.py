"""Where the sun stood: on which side it shone, how high, or that it was dark."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.drivers.grid import FORTNIGHT, STEPS, Grid
from eventlab.context.sun import HORIZON_DEG, position

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]

AZIMUTHS = 144
"""Steps of the horizon, 2.5 degrees each."""
LOW_DEG = 30.0
"""Sun below this height shines into a room and along its floor (common practice)."""

DOWN = -90.0
"""A sun that the weather contradicts stands for one that is down [deg]."""

_NEAR_DEG = 0.25
"""Sites within this are taken to have one sun there."""


@dataclass(frozen=True)
class Sky:
    """The places of sites.

    Parameters
    ----------
    latitude, longitude : numpy.ndarray of float, shape (sites,)
        Not a number where the place is not known.
    """

    latitude: Floats
    longitude: Floats

    @property
    def known(self) -> npt.NDArray[np.bool_]:
        """Which sites have a place."""
        return ~(np.isnan(self.latitude) | np.isnan(self.longitude))

    def stands(self, site: Numbers, utc: Numbers) -> tuple[Numbers, Floats]:
        """Say where the sun stands at moments [us UTC] of sites; shapes may broadcast.

        Returns
        -------
        azimuth : numpy.ndarray of int
            Step of the horizon.
        height : numpy.ndarray of float
            [deg]; not a number where the place is not known.
        """
        there = self.known[site]
        where = np.where(there, site, 0)
        azimuth, height = position(
            utc.astype("datetime64[us]"),
            np.where(there, self.latitude[where], 0.0),
            np.where(there, self.longitude[where], 0.0),
        )
        step = np.floor(azimuth / (360 / AZIMUTHS)).astype(np.int64) % AZIMUTHS
        return step, np.where(there, height, np.nan)

    def rounded(self) -> "Sky":
        """Give the middle of what lies near for each place, the same whichever sites there are."""
        north, east = (
            (part // _NEAR_DEG + 0.5) * _NEAR_DEG for part in (self.latitude, self.longitude)
        )
        return Sky(np.clip(north, -90.0, 90.0), east)

    def together(self, site: Numbers, grid: Grid) -> tuple[Numbers, Numbers]:
        """Give one site for all that have nearly the same sun and clock, and which is whose."""
        place = np.stack([self.latitude[site], self.longitude[site]], axis=1) // _NEAR_DEG
        key = np.concatenate([place, grid.offset[site][:, :: grid.days // 4 + 1]], axis=1)
        _, first, which = np.unique(key, axis=0, return_index=True, return_inverse=True)
        return site[first], which.ravel()


def sky(sites: pl.DataFrame, names: list[str]) -> Sky:
    """Look up the places of some sites.

    Parameters
    ----------
    sites : polars.DataFrame
        ``site``, ``latitude``, ``longitude``.
    names : list of str
        Which, in order.

    Returns
    -------
    Sky
        One place per name.
    """
    joined = pl.DataFrame({"site": names}, schema={"site": pl.String}).join(
        sites.select("site", "latitude", "longitude").unique("site", keep="first"),
        on="site",
        how="left",
        maintain_order="left",
    )
    return Sky(*(joined[c].fill_null(np.nan).to_numpy() for c in ("latitude", "longitude")))


def low(height: Floats) -> npt.NDArray[np.bool_]:
    """Say where the sun is up and low."""
    return np.asarray((height > 0) & (height < LOW_DEG))


def up(height: Floats) -> npt.NDArray[np.bool_]:
    """Say where the sun is up."""
    return np.asarray(height > 0)


def dark(height: Floats) -> npt.NDArray[np.bool_]:
    """Say where the sun is down."""
    return np.asarray(height < HORIZON_DEG)


def fortnightly(sky: Sky, grid: Grid, site: Numbers) -> tuple[Numbers, Floats]:
    """Say where the sun stands at each step of the middle day of each fortnight.

    Parameters
    ----------
    sky : Sky
        The places.
    grid : Grid
        The days.
    site : numpy.ndarray of int, shape (n,)
        Which sites.

    Returns
    -------
    azimuth : numpy.ndarray of int, shape (n, fortnights, 144)
        Step of the horizon.
    height : numpy.ndarray of float, shape (n, fortnights, 144)
        [deg].
    """
    middle = np.arange(0, grid.days, FORTNIGHT) + FORTNIGHT // 2
    where = site[:, None, None]
    return sky.rounded().stands(where, grid.utc(where, middle[:, None], np.arange(STEPS)))


def by_fortnight(laid: Floats) -> Floats:
    """Add days up to fortnights: shape (rows, days, steps) to (rows, fortnights, steps)."""
    return np.asarray(np.add.reduceat(laid, np.arange(0, laid.shape[1], FORTNIGHT), axis=1))
