"""Points whose alarms became more frequent at a date, and what stands near that date."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis import beside
from eventlab.analysis.daily import POINT, alarm_days, positions, thinned
from eventlab.analysis.found import found
from eventlab.analysis.nights_at_risk import Record, records
from eventlab.context import Context
from eventlab.ground import Basis, Ground
from eventlab.schema import Pattern, Subject
from eventlab.settings import Settings
from eventlab.stats import (
    adjusted,
    busiest,
    busiest_p,
    change_p,
    change_point,
    gain,
    rate_ratio,
    trend,
)

Floats = npt.NDArray[np.float64]

PHASES = 24
YEAR = 365.25
LIKELY = 3.0
"""Dates whose cut is less likely by up to this factor (logarithm) may be the true ones."""
OFTEN = 0.05
"""Where so long a quiet would be rarer than this, the higher rate is over."""


@dataclass(frozen=True)
class Rise:
    """A higher rate of one point.

    Parameters
    ----------
    p : float
        Chance of it with a steady rate.
    first, last : int
        First and last night of it, as places among the nights at risk; ``last`` None where it
        holds to the end.
    low, high : int
        Between which nights at risk it may have begun.
    """

    p: float
    first: int
    last: int | None
    low: int
    high: int


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find points whose alarms became more frequent at some date.

    Counted are nights with an alarm against the hours at risk. Alarms of a spell count once: a
    point rests for some nights after each. What a season could do as well is said beside it. Falls
    are no finding: what became quieter either was repaired or is no longer seen.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Visits and lists, to say what stands near the date.
    settings : Settings
        ``change_rest_days``, ``change_days_min``, ``change_season``, ``change_q``,
        ``change_few``, ``change_few_q``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, a row per point; ``rate`` in alarm days per hour at risk, ``ratio`` against
        the rest of the point's own time, the family of ``q_value`` the points of the site.
    """
    days = alarm_days(ground)
    rest = int(settings.change_rest_days)
    kept = thinned(days, rest)
    many = kept.group_by("point", *POINT, maintain_order=True).agg(n=pl.len())
    tested = many.filter(pl.col("n") >= settings.change_days_min)
    if tested.is_empty():
        return found(tested, Pattern.RATE_CHANGE)
    every = days.group_by(POINT).agg(days=pl.len())
    tested = tested.join(every, on=POINT, nulls_equal=True, maintain_order="left")
    first = _first_look(kept.join(tested, on="point", how="semi"), ground, rest)
    worth = tested.filter(pl.Series(_worth(tested, first, settings)))
    looked = {}
    for point, record in records(ground, worth, days, rest):
        rise = risen(record, settings)
        if rise is not None:
            looked[point] = (record, rise)
    p = tested["point"].replace_strict(
        {point: rise.p for point, (_, rise) in looked.items()}, default=1.0, return_dtype=pl.Float64
    )
    counted = tested.with_columns(
        p=p,
        q=pl.Series(adjusted(p.to_numpy(), tested["site"].to_numpy())),
        looks=pl.len().over("site"),
    ).filter(pl.col("q") <= settings.change_q)
    rows = [
        row
        for point in counted.iter_rows(named=True)
        for row in _told(point, *looked[point["point"]], ground, context, days, settings)
    ]
    return found(pl.DataFrame(rows, infer_schema_length=None), Pattern.RATE_CHANGE)


def _first_look(kept: pl.DataFrame, ground: Ground, rest: int) -> pl.DataFrame:
    """Look at all points at once: ``point``, and the gains of its ``cut`` and ``stretch``."""
    shares = positions(kept, ground, rest)
    counted = shares.with_columns(n=pl.len().over("point")).sort("n", "point", "share")
    point, many = counted["point"].to_numpy(), counted["n"].to_numpy()
    looked = [np.zeros((3, 0))]
    for n in np.unique(many):
        here = many == n
        at = counted["share"].to_numpy()[here].reshape(-1, int(n))
        looked.append(np.stack([point[here][::n], change_point(at).gain, busiest(at).gain]))
    told = np.concatenate(looked, axis=1)
    return pl.DataFrame({"point": told[0].astype(np.int64), "cut": told[1], "stretch": told[2]})


def _worth(tested: pl.DataFrame, first: pl.DataFrame, settings: Settings) -> npt.NDArray[np.bool_]:
    """Say which points could be told at all, by what the first look saw of their site.

    Of a family in which so many may show a rise, none is told whose chance is above that part of
    the bar; where it is left out, fewer may, until nothing more falls away.
    """
    looked = tested.select("point").join(first, on="point", how="left", maintain_order="left")
    cut, stretch = (looked[name].fill_null(0.0).to_numpy() for name in ("cut", "stretch"))
    least = least_chance(cut, stretch, int(settings.change_days_min))
    site = tested["site"].rank("dense").to_numpy() - 1
    family = np.bincount(site)
    few = tested["days"].to_numpy() < settings.change_few
    bar = np.where(few, settings.change_few_q, settings.change_q)
    worth = np.ones(len(site), dtype=bool)
    while True:
        most = np.zeros(len(family))
        np.maximum.at(most, site[worth], bar[worth])
        may = np.bincount(site[worth], minlength=len(family))
        still = worth & (least <= (most * may / family)[site])
        if (still == worth).all():
            return worth
        worth = still


def least_chance(cut: Floats, stretch: Floats, least: int) -> Floats:
    """Bound the chance of a rise from below, by its gains.

    Parameters
    ----------
    cut, stretch : numpy.ndarray
        Gains of the likeliest cut and of the busiest stretch of each point.
    least : int
        Fewest alarm days of any point.

    Returns
    -------
    numpy.ndarray
        Of the fewest alarm days, which show the largest gains by chance the most rarely; a little
        is left as slack, since chances of stretches are drawn.
    """
    grid, *told = _chances(least)
    last = len(grid) - 1
    chances = [
        chance[np.minimum(np.searchsorted(grid, gains + slack), last)]
        for gains, chance, slack in zip((cut, stretch), told, (0.0, _SLACK), strict=True)
    ]
    return np.asarray(np.minimum(2 * np.minimum(*chances), 1.0))


_SLACK = 1.0


@cache
def _chances(least: int) -> tuple[Floats, Floats, Floats]:
    """Give gains, and the chances of a cut and of a stretch that is worth so much."""
    grid = np.arange(0.0, 60.0, 0.25)
    return grid, change_p(grid, least), busiest_p(grid, least)


def risen(record: Record, settings: Settings) -> Rise | None:
    """Look for a higher rate to the end of a record, or over a stretch of it.

    Parameters
    ----------
    record : Record
        Nights at risk and alarm days.
    settings : Settings
        ``change_days_min``.

    Returns
    -------
    Rise or None
        The likelier of both, its p-value doubled for the choice; None where the record holds too
        little, or nothing rose.
    """
    n = record.kept.size
    if n < settings.change_days_min or record.live.sum() <= 0:
        return None
    at = _shares(record, np.ones((1, record.live.size)))
    rise, stretch = change_point(at), busiest(at)
    p_rise = float(change_p(rise.gain, n)[0])
    p_stretch = float(busiest_p(stretch.gain, n)[0])
    p = min(1.0, 2 * min(p_rise, p_stretch))
    if p >= 1:
        return None
    if p_rise <= p_stretch:
        first = int(record.kept[rise.first[0]])
        return Rise(p, first, None, *_began(record, first, None))
    first, last = (int(record.kept[x[0]]) for x in (stretch.first, stretch.last))
    return Rise(p, first, last, *_began(record, first, last))


def seasonal(record: Record, rise: Rise, factor: float) -> float:
    """Chance of a rise where the season alone may make a rate so many times higher.

    Parameters
    ----------
    record : Record
        Nights at risk and alarm days.
    rise : Rise
        What was found in it.
    factor : float
        Highest rate of a year over its lowest.

    Returns
    -------
    float
        The largest over seasons of every phase, up to that factor.
    """
    day = np.array([night.toordinal() for night in record.nights], dtype=np.float64)
    turn = 2 * np.pi * (day[None, :] / YEAR + np.arange(PHASES)[:, None] / PHASES)
    most = (factor - 1) / (factor + 1)
    waves = np.concatenate([1 + most * part * np.cos(turn) for part in (0.5, 1.0)])
    at, n = _shares(record, waves), record.kept.size
    if rise.last is None:
        chance = change_p(change_point(at).gain.min(), n)
    else:
        chance = busiest_p(busiest(at).gain.min(), n)
    return max(rise.p, min(1.0, 2 * float(chance[0])))


def _shares(record: Record, weights: Floats) -> Floats:
    """Say which share of the time at risk had passed at each alarm day, by each weighing."""
    worth = record.live * weights
    passed = worth.cumsum(axis=-1) - worth / 2
    shares = passed[:, record.kept] / worth.sum(axis=-1)[:, None]
    return np.asarray(np.clip(shares, 0.0, 1.0), dtype=np.float64)


def _began(record: Record, first: int, last: int | None) -> tuple[int, int]:
    """Say between which nights the higher rate may have begun."""
    stop = len(record.nights) if last is None else last + 1
    passed = record.live.cumsum() - record.live
    within = record.live[:stop].sum() - passed[:stop]
    counts = np.searchsorted(record.kept, np.arange(stop))
    inside = np.searchsorted(record.kept, stop) - counts
    share = np.clip(within / record.live.sum(), 1e-9, 1 - 1e-9)
    gains = gain(inside, record.kept.size, share)
    likely = np.flatnonzero(gains >= gains[: first + 1].max() - LIKELY)
    return int(min(likely[0], first)), int(max(likely[-1], first))


def _told(
    point: dict[str, object],
    record: Record,
    rise: Rise,
    ground: Ground,
    context: Context,
    days: pl.DataFrame,
    settings: Settings,
) -> Iterator[dict[str, object]]:
    """Put a finding together, unless the days as they stand show no higher rate, or too few do."""
    stop = len(record.nights) if rise.last is None else rise.last + 1
    inside = np.zeros(len(record.nights), dtype=bool)
    inside[rise.first : stop] = True
    after, before = record.alarm & inside, record.alarm & ~inside
    hours, other = record.hours[inside].sum(), record.hours[~inside].sum()
    ratio = rate_ratio(after.sum(), hours, before.sum(), other)
    sure = after.sum() >= settings.change_few or float(str(point["q"])) <= settings.change_few_q
    if not ratio.low > 1 or not sure:
        return
    own = days.filter(
        *(pl.col(name).eq_missing(pl.lit(point[name], pl.String)) for name in POINT)
    ).filter(pl.col("night").is_between(record.nights[rise.first], record.nights[stop - 1]))
    measured = ground.exposure.filter(
        *(pl.col(name).eq_missing(pl.lit(point[name], pl.String)) for name in POINT)
    )
    calendar = measured["basis"].to_list()[:1] == [Basis.CALENDAR]
    tested = trend(record.live.cumsum()[record.kept], record.live.sum())
    figures = {
        "days": int(after.sum()),
        "alarms": int(own["alarms"].sum()),
        "hours": float(hours),
        "nights": int(inside.sum()),
        "before_days": int(before.sum()),
        "before_hours": float(other),
        "before_nights": int((~inside).sum()),
        "low": _day(record.nights[rise.low]),
        "high": _day(record.nights[rise.high]),
        "first": _day(record.nights[rise.first]),
        "last": _day(record.nights[int(np.flatnonzero(after)[-1])]),
        "stretch": rise.last is not None,
        "basis": "calendar" if calendar else "armed",
        "near": beside.near(
            point, (record.nights[rise.low], record.nights[rise.high]), ground, context, settings
        ),
        "schedule": beside.schedule(record.nights, record.hours, rise.first),
        "season": settings.change_season,
        "season_p": seasonal(record, rise, settings.change_season),
        "other_year": beside.other_year(record.nights, inside),
        "laplace_p": _known(tested.laplace_p),
        "hdbk_p": _known(tested.hdbk_p),
    }
    yield {
        "site": point["site"],
        "subject_kind": str(Subject.ZONE),
        "subject": point["zone"],
        "area": own["area"].drop_nulls().first() if own.height else None,
        "standing": _stands(record, rise, int(after.sum()), float(hours)),
        "since": own["at"].min(),
        "until": own["at"].max(),
        "events": int(after.sum()),
        "rate": float(after.sum() / hours) if hours else None,
        "ratio": _known(ratio.ratio),
        "ratio_low": _known(ratio.low),
        "ratio_high": _known(ratio.high),
        "p_value": point["p"],
        "q_value": point["q"],
        "looks": point["looks"],
        "evidence": beside.lines(figures),
        "figures": json.dumps(figures),
    }


def _stands(record: Record, rise: Rise, days: int, hours: float) -> bool:
    """Say whether the quiet at the end is no longer than the higher rate leaves by chance."""
    quiet = record.hours[int(np.flatnonzero(record.alarm)[-1]) + 1 :].sum()
    recent = rise.last is None or not record.alarm[rise.last + 1 :].any()
    return recent and bool(np.exp(-days / hours * quiet) >= OFTEN)


def _day(night: date) -> str:
    return f"{night.day} {night:%b %Y}"


def _known(value: npt.ArrayLike) -> float | None:
    number = float(np.asarray(value).ravel()[0])
    return number if np.isfinite(number) else None
