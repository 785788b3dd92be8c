"""One point against each of its drivers: days with an alarm, and the hours at risk behind them.

Everything is measured on the very days, hours, sun and weather that the screening looks at.
"""

from dataclasses import dataclass, field

import numpy as np
import polars as pl

from eventlab.analysis.drivers.air import air
from eventlab.analysis.drivers.areas import hours_after
from eventlab.analysis.drivers.counting import (
    BINS,
    CELLS,
    by_air,
    by_area,
    by_arming,
    by_clock,
    by_date,
    by_sun,
)
from eventlab.analysis.drivers.grid import STEP_MIN, grid
from eventlab.analysis.drivers.screen import hits_of
from eventlab.analysis.drivers.series import ALARM, KEY, TAMPER, Series, at_risk, gathered
from eventlab.analysis.drivers.sky import sky
from eventlab.analysis.drivers.spacing import GAPS, gaps_between
from eventlab.analysis.drivers.verdicts import VERDICT, calendar, verdicts
from eventlab.context import Context
from eventlab.ground import Basis, Ground
from eventlab.schema import empty
from eventlab.settings import Settings

CHARTS = ("clock", "weekday", "month", "temperature", "wind", "rain", "arming", "area")
"""What days with an alarm are counted by, beside the sun."""

_ALL_DAYS = 1_000_000


@dataclass(frozen=True)
class Profile:
    """One point against its drivers.

    Parameters
    ----------
    family : str
        What is counted: ``alarm`` or ``tamper``.
    basis : str
        Which hours are at risk: ``armed``, ``always``, or ``calendar`` where that is not recorded
        (then no rates are told).
    alarms : int
        Days with an alarm that nothing ordinary accounts for; one is counted of each day.
    hours : float
        Time at risk [h]; what a trip limit took after an alarm is left in.
    bins : polars.DataFrame
        ``driver`` (of ``CHARTS``), ``low``, ``high`` (null at an open end), ``told`` (false: the
        hours of which nobody measured), ``alarms`` (days), ``hours`` at risk, ``rate, rate_low,
        rate_high`` per 100 hours (null where there is too little time). Clock in hours of the
        day from noon to noon, weekday 1 (Monday) to 7 of the night, month 1 to 12, temperature
        in degrees Celsius, wind in m/s (gusts where they are told), rain in mm of the hour,
        arming in minutes since the point came to be at risk, area in minutes since another area
        was last opened or closed.
    sky : polars.DataFrame
        ``azimuth``, ``height``: lower edges of cells of 15 by 10 degrees; both null while the sun
        is down; the rest as in ``bins``.
    gaps : polars.DataFrame
        ``low_s``, ``high_s`` (null at the open end), ``many``: seconds from one alarm or
        activation to the next, no finer than the clock tells them.
    grain_s : int
        One step of the clock [s].
    facing : float or None
        Which way the point looks [deg].
    verdicts : polars.DataFrame
        What the screening says of each chart, the best-telling driver first in ``place``:
        ``verdicts.VERDICT``.
    missing : dict of str to str
        Charts with nothing to show, and why: ``arming``, ``always``, ``alone`` (no other area
        is opened or closed), ``place``, ``weather``, ``measure``, ``uncovered``.
    """

    family: str
    basis: str
    alarms: int = 0
    hours: float = 0.0
    bins: pl.DataFrame = field(default_factory=lambda: empty(BINS))
    sky: pl.DataFrame = field(default_factory=lambda: empty(CELLS))
    gaps: pl.DataFrame = field(default_factory=lambda: empty(GAPS))
    grain_s: int = 1
    facing: float | None = None
    verdicts: pl.DataFrame = field(default_factory=lambda: empty(VERDICT))
    missing: dict[str, str] = field(default_factory=dict)


def profile(
    ground: Ground,
    context: Context,
    settings: Settings,
    site: str,
    zone: str,
    within: str | None = None,
) -> Profile | None:
    """Count the alarm days of one point by each driver, with the hours at risk behind each.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Places, facings and weather.
    settings : Settings
        As for the screening.
    site, zone : str
        The point.
    within : str, optional
        The area that is part of its name, where numbers restart with each area.

    Returns
    -------
    Profile or None
        None for a life-safety point, which is never explained, and for a point there is not.

    Notes
    -----
    Intervals: `stats.rate_interval` (Garwood 1936), 95 in 100.
    """
    own, here = ground.only([site]), context.only([site])
    key = {"site": site, "zone": zone, "within": within}
    mine = pl.all_horizontal(pl.col(c).eq_missing(pl.lit(v, pl.String)) for c, v in key.items())
    listed = own.points.filter(mine)
    if listed.is_empty() or listed["life_safety"].any():
        return None
    gaps, grain = gaps_between(own.occurrences.filter(mine), own.coverage)
    basis = str((own.exposure.filter(mine)["basis"].to_list() or [Basis.CALENDAR])[0])
    series = _series(own, here, settings, mine, key)
    if series is None:
        untold = dict.fromkeys((*CHARTS, "sun"), "arming")
        return Profile(ALARM, basis, gaps=gaps, grain_s=grain, missing=untold)
    laid = grid(series.spans, own.sites.select("site", "time_zone"))
    place = sky(here.sites, laid.sites)
    weather = air(here, laid.sites, settings)
    hits = hits_of(series, laid, place, weather)
    family = str(series.series["family"][0])
    time = np.clip(laid.laid(np.zeros(1, dtype=np.int64))[0], 0.0, 1.0) * (STEP_MIN / 60)
    missing: dict[str, str] = {}
    parts = [by_clock(hits, time), *by_date(hits, time, laid)]
    parts += by_air(hits, laid, weather, missing)
    if basis == Basis.ARMED and family == ALARM:
        parts.append(by_arming(hits, laid))
    else:
        missing["arming"] = "always"
    if series.acts.is_empty():
        missing["area"] = "alone"
    else:
        parts.append(by_area(hits, hours_after(series.spans, series.acts), float(time.sum())))
    cells = empty(CELLS)
    if place.known[0]:
        cells = by_sun(hits, time, laid, place)
    else:
        missing["sun"] = "place"
    facing = float(hits.facing[0])
    return Profile(
        family,
        basis,
        alarms=len(hits.number),
        hours=float(time.sum()),
        bins=pl.concat(parts),
        sky=cells,
        gaps=gaps,
        grain_s=grain,
        facing=facing if np.isfinite(facing) else None,
        verdicts=pl.concat(
            [
                verdicts(own, here, settings, {**key, "family": family}),
                calendar(hits, laid, time),
            ]
        ),
        missing=missing,
    )


def _series(
    ground: Ground,
    context: Context,
    settings: Settings,
    mine: pl.Expr,
    key: dict[str, str | None],
) -> Series | None:
    """Give what is screened of one point, all its days; None where nothing tells when it could."""
    facing = context.zones.select("site", "zone", "facing_deg").unique(
        ["site", "zone"], keep="first", maintain_order=True
    )
    every = gathered(ground, settings, facing, 1, most=_ALL_DAYS)
    own = every.series.filter(mine)
    # A point whose alarms are tampers only is told by those.
    for family in (ALARM, TAMPER):
        one = own.filter(pl.col("family") == family)
        if one.height:
            number, row = one.select("number", "row").row(0)
            zero = pl.lit(0, pl.Int64)
            return Series(
                one.with_columns(number=zero, row=zero),
                every.hits.filter(pl.col("number") == number).with_columns(number=zero, row=zero),
                every.spans.filter(pl.col("row") == row).with_columns(row=zero),
                every.acts.filter(pl.col("row") == row).with_columns(row=zero),
            )
    quiet = pl.DataFrame(
        [{**key, "family": ALARM}], schema=dict.fromkeys(KEY, pl.String)
    ).with_columns(days=pl.lit(0, pl.Int64))
    rows, spans = at_risk(ground, quiet)
    if spans.is_empty() or rows.is_empty():
        return None
    one = (
        quiet.join(rows, on=KEY, nulls_equal=True)
        .join(facing, on=["site", "zone"], how="left")
        .with_columns(
            number=pl.lit(0, pl.Int64), alarms=pl.lit(0, pl.UInt32), first=pl.lit(value=False)
        )
    )
    return Series(one.select(every.series.columns), every.hits.clear(), spans, every.acts.clear())
