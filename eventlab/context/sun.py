"""Where the sun stands, and when it rises and sets.

The slow part of solar position does not depend on the place: declination and Greenwich hour
angle are taken from pvlib's solar position algorithm once per day and interpolated, the rest
is spherical trigonometry in expressions. Azimuth counts from north through east.
"""

from functools import lru_cache
from importlib import import_module
from importlib.util import find_spec, module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

import numpy as np
import polars as pl
from numpy.typing import NDArray

from eventlab.schema import UTC

HORIZON_DEG = -0.8333
"""Height of the sun's centre at rise and set: 34' refraction and 16' radius (USNO)."""

_PARALLAX_DEG = 8.794 / 3600
_DAY_US = 86_400_000_000
_BLOCK = 16_384
"""Moments worked on at once, so that they stay near the processor."""

Floats = NDArray[np.float64]


@lru_cache(maxsize=1)
def _algorithm() -> ModuleType:
    """Load the one module of pvlib that is needed.

    The package itself loads pandas and much more: a second and a half in each fresh process.
    """
    package = find_spec("pvlib")
    if package is None or not package.submodule_search_locations:
        raise ModuleNotFoundError("pvlib")
    place = Path(package.submodule_search_locations[0]) / "spa.py"
    alone = spec_from_file_location("pvlib_spa", place)
    if alone is None or alone.loader is None:
        return import_module("pvlib.spa")
    module = module_from_spec(alone)
    alone.loader.exec_module(module)
    return module


@lru_cache(maxsize=8)
def _ephemeris(first: int, last: int) -> pl.DataFrame:
    """Return the sun at 0 h UTC of each day from ``first`` to ``last`` (days since 1970).

    Source: Reda and Andreas, NREL/TP-560-34302 (2008), as pvlib computes it.
    """
    spa = _algorithm()
    days = np.arange(first, last + 2)
    moments = days.astype("datetime64[D]")
    year = moments.astype("datetime64[Y]").astype(int) + 1970
    month = moments.astype("datetime64[M]").astype(int) % 12 + 1
    delta_t = spa.calculate_deltat(year, month)
    jd = spa.julian_day(days * 86400.0)
    jde = spa.julian_ephemeris_day(jd, delta_t)
    century = spa.julian_century(jd)
    jce = spa.julian_ephemeris_century(jde)
    jme = spa.julian_ephemeris_millennium(jce)
    radius = spa.heliocentric_radius_vector(jme)
    theta = spa.geocentric_longitude(spa.heliocentric_longitude(jme))
    beta = spa.geocentric_latitude(spa.heliocentric_latitude(jme))
    x = [
        spa.mean_elongation(jce),
        spa.mean_anomaly_sun(jce),
        spa.mean_anomaly_moon(jce),
        spa.moon_argument_latitude(jce),
        spa.moon_ascending_longitude(jce),
    ]
    nutation = np.empty((2, len(days)))
    spa.longitude_obliquity_nutation(jce, *x, nutation)
    epsilon = spa.true_ecliptic_obliquity(spa.mean_ecliptic_obliquity(jme), nutation[1])
    apparent = spa.apparent_sun_longitude(theta, nutation[0], spa.aberration_correction(radius))
    sidereal = spa.apparent_sidereal_time(spa.mean_sidereal_time(jd, century), nutation[0], epsilon)
    ascension = spa.geocentric_sun_right_ascension(apparent, epsilon, beta)
    declination = spa.geocentric_sun_declination(apparent, epsilon, beta)
    # Over one day the hour angle gains 360 deg and a little; the little is interpolated.
    hour = (sidereal - ascension) % 360.0
    gain = (np.diff(hour) + 180.0) % 360.0 - 180.0
    return pl.DataFrame(
        {
            "_day": days[:-1].astype(np.int32),
            "_hour": hour[:-1],
            "_hour_gain": gain,
            "_dec": declination[:-1],
            "_dec_gain": np.diff(declination),
        }
    )


def _years(low: int, high: int) -> tuple[int, pl.DataFrame]:
    """Return the first day and the sun of whole years, so that runs over one log share them."""
    first = low - low % 365
    return first, _ephemeris(first, high + 365 - high % 365)


def _with_ephemeris(frame: pl.DataFrame, at: pl.Expr) -> pl.DataFrame:
    """Add declination (deg) and Greenwich hour angle (deg) at a moment of each row."""
    micros = at.dt.replace_time_zone(None).dt.epoch("us")
    frame = frame.with_columns(
        _day=(micros // _DAY_US).cast(pl.Int32), _part=(micros % _DAY_US) / _DAY_US
    )
    low, high = frame.select(low=pl.col("_day").min(), high=pl.col("_day").max()).row(0)
    _, table = _years(low or 0, high or 0)
    part = pl.col("_part")
    return (
        frame.join(table, on="_day", how="left", maintain_order="left")
        .with_columns(
            _dec=(pl.col("_dec") + pl.col("_dec_gain") * part).radians(),
            _hour=pl.col("_hour") + 360.0 * part + pl.col("_hour_gain") * part,
        )
        .drop("_day", "_part", "_dec_gain", "_hour_gain")
    )


def with_position(
    frame: pl.DataFrame,
    *,
    at: str = "at",
    latitude: str = "latitude",
    longitude: str = "longitude",
) -> pl.DataFrame:
    """Add the sun's position to rows that have a moment and a place.

    Parameters
    ----------
    frame : polars.DataFrame
        Columns ``at`` (UTC), ``latitude`` [deg north] and ``longitude`` [deg east].
    at, latitude, longitude : str
        The names of these columns.

    Returns
    -------
    polars.DataFrame
        The rows in their order with ``azimuth`` [deg from north through east] and
        ``elevation`` [deg, without refraction]; null where an input is null.

    Notes
    -----
    As `position`.
    """
    known = frame.select(
        at=pl.col(at).cast(UTC).dt.replace_time_zone(None),
        latitude=pl.col(latitude).cast(pl.Float64).fill_null(float("nan")),
        longitude=pl.col(longitude).cast(pl.Float64).fill_null(float("nan")),
    )
    azimuth, elevation = position(*(known[c].to_numpy() for c in known.columns))
    return frame.with_columns(
        azimuth=pl.Series(azimuth).fill_nan(None), elevation=pl.Series(elevation).fill_nan(None)
    )


def position(
    times: NDArray[np.datetime64],
    latitude: NDArray[np.float64] | float,
    longitude: NDArray[np.float64] | float,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return where the sun stands.

    Parameters
    ----------
    times : numpy.ndarray of datetime64
        Moments in UTC.
    latitude, longitude : float or numpy.ndarray
        Place [deg north, deg east], of a shape that broadcasts to that of ``times``.

    Returns
    -------
    azimuth : numpy.ndarray
        [deg from north through east]; not a number where an input is none.
    elevation : numpy.ndarray
        [deg, without refraction].

    Notes
    -----
    Reda and Andreas, NREL/TP-560-34302 (2008), with linear interpolation within the day:
    within 0.01 deg of the full algorithm from 2000 to 2030.
    """
    moments = np.asarray(times).astype("datetime64[us]").astype(np.int64)
    known = moments != np.iinfo(np.int64).min
    shape = moments.shape
    if not known.any():
        return np.full(shape, np.nan), np.full(shape, np.nan)
    if not known.all():
        moments = np.where(known, moments, moments[known].min())
    first, table = _years(int(moments.min() // _DAY_US), int(moments.max() // _DAY_US))
    sun = np.stack([table[c].to_numpy() for c in ("_hour", "_hour_gain", "_dec", "_dec_gain")])
    phi = np.radians(np.asarray(latitude, dtype=float))
    east = np.asarray(longitude, dtype=float)
    # Many moments of one place share what belongs to the place.
    places = [np.broadcast_to(one, shape).ravel() for one in (np.sin(phi), np.cos(phi), east)]
    moments = moments.ravel()
    stands = np.empty((2, len(moments)))
    for low in range(0, len(moments), _BLOCK):
        here = slice(low, low + _BLOCK)
        days = moments[here] / _DAY_US
        stands[:, here] = _stands(sun, days - first, *(p[here] for p in places))
    stands[:, ~known.ravel()] = np.nan
    return stands[0].reshape(shape), stands[1].reshape(shape)


def _stands(
    sun: Floats, days: Floats, high: Floats, flat: Floats, longitude: Floats
) -> tuple[Floats, Floats]:
    """Say where the sun stands at days after the first of a table.

    ``high`` and ``flat`` are sine and cosine of the latitude, the longitude in degrees.
    """
    day = np.floor(days)
    part = days - day
    hour, hour_gain, dec, dec_gain = sun[:, day.astype(np.int64)]
    angle = np.radians(hour + (360.0 + hour_gain) * part + longitude)
    dec = np.radians(dec + dec_gain * part)
    noon, up, out = np.cos(angle), np.sin(dec), np.cos(dec)
    sine = np.clip(high * up + flat * out * noon, -1.0, 1.0)
    azimuth = np.degrees(np.arctan2(np.sin(angle) * out, noon * high * out - up * flat)) + 180.0
    azimuth[azimuth >= 360.0] = 0.0
    return azimuth, np.degrees(np.arcsin(sine)) - _PARALLAX_DEG * np.sqrt(1 - sine * sine)


def rise_set(sites: pl.DataFrame, days: pl.Series) -> pl.DataFrame:
    """Return sunrise and sunset of every site on every day.

    Parameters
    ----------
    sites : polars.DataFrame
        SITE columns ``site``, ``latitude``, ``longitude`` and, where known, ``time_zone``.
    days : polars.Series of Date
        Calendar days of the place.

    Returns
    -------
    polars.DataFrame
        ``site, day, sunrise, sunset, noon`` (UTC) and ``noon_elevation`` [deg]; sunrise and
        sunset are null where the sun does not rise or set (it is up all day where
        ``noon_elevation`` is above the horizon), all are null where the place is not known.

    Notes
    -----
    Root of elevation = -0.8333 deg by repeating the hour angle of that elevation with the
    declination of the moment found, around the day's own solar noon.
    """
    frame = sites.select(
        "site",
        "latitude",
        "longitude",
        pl.col("time_zone")
        if "time_zone" in sites.columns
        else pl.lit(None, pl.String).alias("time_zone"),
    ).join(pl.DataFrame({"day": days.unique().sort()}), how="cross")
    noon = pl.col("day").cast(UTC) + pl.duration(
        microseconds=(0.5 - pl.col("longitude") / 360.0) * _DAY_US
    )
    frame = frame.with_columns(noon=noon)
    frame = _refine(_own_day(_refine(frame, "noon")), "noon")
    frame = with_position(frame, at="noon").rename({"elevation": "noon_elevation"}).drop("azimuth")
    for name, sign in (("sunrise", -1.0), ("sunset", 1.0)):
        frame = frame.with_columns(pl.col("noon").alias(name))
        for _ in range(5):
            frame = _refine(frame, name, sign)
    return frame.select("site", "day", "sunrise", "sunset", "noon", "noon_elevation").sort(
        "site", "day"
    )


def _refine(frame: pl.DataFrame, name: str, sign: float = 0.0) -> pl.DataFrame:
    """Move a moment to the hour angle it should have: noon, or that of the horizon."""
    frame = _with_ephemeris(frame, pl.col(name))
    phi, dec = pl.col("latitude").radians(), pl.col("_dec")
    level = np.sin(np.radians(HORIZON_DEG))
    cosine = (level - phi.sin() * dec.sin()) / (phi.cos() * dec.cos())
    angle = pl.when(cosine.abs() <= 1.0).then(cosine.arccos().degrees() * sign)
    wanted: pl.Expr = pl.lit(0.0) if sign == 0.0 else angle
    now = (pl.col("_hour") + pl.col("longitude") + 180.0) % 360.0 - 180.0
    step = ((wanted - now + 180.0) % 360.0 - 180.0) / 360.985 * _DAY_US
    moved = pl.col(name) + pl.duration(microseconds=step.round().cast(pl.Int64))
    return frame.with_columns(moved.alias(name)).drop("_dec", "_hour")


def _own_day(frame: pl.DataFrame) -> pl.DataFrame:
    """Shift noon where the site's clock counts another day than its longitude."""
    if frame["time_zone"].null_count() == frame.height:
        return frame
    from eventlab.meaning.clock import to_wall

    known = to_wall(frame, "noon", "time_zone", "_wall")
    off = (pl.col("_wall").dt.date() - pl.col("day")).dt.total_days().fill_null(0)
    return known.with_columns(pl.col("noon") - pl.duration(days=off)).drop("_wall")
