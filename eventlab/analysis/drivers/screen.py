"""All points against all drivers, families counted by site."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.drivers.air import APART, MEASURES, Air, air
from eventlab.analysis.drivers.areas import since_other, soon_after
from eventlab.analysis.drivers.bounds import Bound, Hits, bounds
from eventlab.analysis.drivers.exact import Around, exact
from eventlab.analysis.drivers.grid import Grid, grid
from eventlab.analysis.drivers.series import Series, gathered, since_begun
from eventlab.analysis.drivers.shares import Shares, shares
from eventlab.analysis.drivers.sky import DOWN, Sky, sky
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.settings import Settings
from eventlab.stats import adjusted

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]

LEAST_DAYS = 4
"""Fewer days with an alarm can prove nothing under any driver (Tarone 1990, Biometrics 46)."""
WEIGHTS = {
    "sun": 4.0, "hot": 1.5, "clock": 1.0, "wind": 1.0, "rain": 1.0,
    "weekday": 0.5, "arming": 0.5, "cold": 0.5, "dark": 0.5,
    "area": 0.5,
    "warming": 1 / 3, "cooling": 1 / 3, "wet": 1 / 3,
}  # fmt: skip
"""What each driver is given of a family, against the others. The sun is the hardest to prove."""

_FILTER = 0.05
"""Where the bound over the whole log is above this, the exact chance is taken for 1."""


@dataclass(frozen=True)
class Screened:
    """What the screening says.

    Parameters
    ----------
    series : Series
        What was screened.
    hits : Hits
        In which conditions.
    bounds : dict of str to Bound
        Over the whole log, by driver.
    shares : Shares
        Of the time at risk.
    around : Around
        The alarms and what stands around them.
    tests : polars.DataFrame
        One row per series and driver that was tested: ``number, site, driver, p, q, looks``
        (tests of the site), ``gain``.
    grid, sky, air
        What it stands on.
    """

    series: Series
    hits: Hits
    bounds: dict[str, Bound]
    shares: Shares
    around: Around
    tests: pl.DataFrame
    grid: Grid
    sky: Sky
    air: Air | None


def screened(ground: Ground, context: Context, settings: Settings) -> Screened | None:
    """Screen all points of all sites for what their alarms follow.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Places, facings and weather.
    settings : Settings
        ``episode_gap_s``, ``weather_within_km`` and what ``core.trips`` needs.

    Returns
    -------
    Screened or None
        None where no point has enough alarm days.

    Notes
    -----
    Days thinned to one alarm; a closed-form bound for all; exact chances for what it leaves;
    families by site, weighed (Benjamini and Hochberg 1995; Genovese, Roeder and Wasserman 2006,
    Biometrika 93, 509-524, from memory).
    """
    facing = context.zones.select("site", "zone", "facing_deg").unique(
        ["site", "zone"], keep="first", maintain_order=True
    )
    series = gathered(ground, settings, facing, LEAST_DAYS)
    if series.series.is_empty():
        return None
    from threadpoolctl import threadpool_limits

    # Small products of matrices on several threads wait for each other on a busy machine.
    with threadpool_limits(1, user_api="blas"):
        return _screened(series, ground, context, settings)


def _screened(series: Series, ground: Ground, context: Context, settings: Settings) -> Screened:
    zones = ground.sites.select("site", "time_zone")
    laid = grid(series.spans, zones)
    places = sky(context.sites, laid.sites)
    weather = air(context, laid.sites, settings)
    hits = hits_of(series, laid, places, weather)
    beside = soon_after(laid, series.spans, series.acts, zones)
    time = shares(laid, places, weather, beside)
    bound = bounds(hits, time)
    around = Around(hits, laid, places, weather, beside)
    tests = _tests(series, bound, around)
    return Screened(series, hits, bound, time, around, tests, laid, places, weather)


def hits_of(series: Series, laid: Grid, places: Sky, weather: Air | None) -> Hits:
    """Say in which conditions each alarm of some series came."""
    frame = series.hits
    row = frame["row"].to_numpy()
    site = laid.site[row]
    utc = np.asarray(frame["at"].dt.epoch("us").to_numpy(), dtype=np.int64)
    azimuth, height = places.stands(site, utc)
    values = {}
    shone = height
    if weather is not None:
        values = {measure: weather.at(measure, site, utc) for measure in MEASURES}
        shone = np.where(weather.sunless(site, utc), DOWN, height)
        values["source"] = weather.of_site[site].astype(np.float64)
    return Hits(
        number=frame["number"].to_numpy(),
        row=row,
        site=site,
        day=np.clip(laid.day(frame["night"]), 0, laid.days - 1),
        step=laid.step(frame["local"]),
        utc=utc,
        asked={measure: frame[APART[measure]].to_numpy() for measure in MEASURES},
        turns=_turns(frame, laid),
        azimuth=azimuth,
        height=height,
        shone=shone,
        begun_s=since_begun(frame, series.spans),
        other_s=since_other(frame, series.acts),
        air=values,
        facing=series.series["facing_deg"].fill_null(np.nan).to_numpy(),
        first=series.series["first"].to_numpy(),
        count=series.series.height,
    )


def _turns(frame: pl.DataFrame, laid: Grid) -> Numbers:
    """Say on which weekday, and in which week of the month, each alarm was.

    A bad spell lies in one week: of a fortnight one alarm has a week, the others have none.
    """
    turns = laid.turns(laid.day(frame["night"]), laid.step(frame["local"]))
    turns[~frame["once"].to_numpy(), 1] = -1
    return turns


def _tests(series: Series, bound: dict[str, Bound], around: Around) -> pl.DataFrame:
    """Adjust all chances of each site together; what the bound rules out counts with 1."""
    parts = []
    left = {driver: one.p <= _FILTER for driver, one in bound.items()}
    for driver, told in exact(around, left).items():
        one = bound[driver]
        p = np.where(left[driver], told, np.where(np.isnan(one.p), np.nan, 1.0))
        parts.append(
            pl.DataFrame({"number": np.arange(len(p)), "p": p, "gain": one.gain}).with_columns(
                driver=pl.lit(driver)
            )
        )
    every = (
        pl.concat(parts)
        .filter(pl.col("p").is_not_nan())
        .join(series.series.select("number", "site"), on="number")
        .sort("number", "driver")
    )
    weight = every["driver"].replace_strict(WEIGHTS, return_dtype=pl.Float64)
    weighed = every.with_columns(weight=weight).with_columns(
        weight=pl.col("weight") / pl.col("weight").mean().over("site")
    )
    light = (weighed["p"] / weighed["weight"]).to_numpy()
    q = adjusted(light, weighed["site"].rank("dense").to_numpy())
    return weighed.with_columns(
        pl.col("gain") + pl.col("weight").log(),
        q=pl.Series(q),
        looks=pl.len().over("site").cast(pl.Int64),
    )
