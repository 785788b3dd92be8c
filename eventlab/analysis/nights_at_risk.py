"""The nights at risk of single points, with all that takes a point out, and what stood in them."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.daily import POINT, by_night
from eventlab.ground import Ground

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Record:
    """The nights at risk of a point and what stood in them.

    Parameters
    ----------
    nights : list of date
        Nights at risk, ascending.
    hours : numpy.ndarray
        Time at risk of each [h].
    alarm : numpy.ndarray of bool
        Whether it raised an alarm.
    kept : numpy.ndarray of int
        Places of the alarm days that are independent of each other.
    live : numpy.ndarray
        ``hours``, less the nights in which the point rests after one that is kept.
    """

    nights: list[date]
    hours: Floats
    alarm: npt.NDArray[np.bool_]
    kept: npt.NDArray[np.int64]
    live: Floats


def records(
    ground: Ground, points: pl.DataFrame, days: pl.DataFrame, rest: int
) -> Iterator[tuple[int, Record]]:
    """Give the nights at risk of some points, with all that takes a point out.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    points : polars.DataFrame
        ``point`` (a number), ``site``, ``zone``, ``within``.
    days : polars.DataFrame
        As ``daily.alarm_days`` gives them.
    rest : int
        Nights that a point rests after one that counts.

    Yields
    ------
    tuple of int and Record
        In no order; points without any time at risk are left out.
    """
    key = list(POINT)
    named = points.select("point", *POINT)
    spans = ground.exposed(points["site"].unique().to_list()).join(
        named, on=key, how="inner", nulls_equal=True
    )
    hours = by_night(spans, ground, ("point",))
    alarms = days.join(named, on=key, how="inner", nulls_equal=True).select(
        "point", "night", alarm=pl.lit(value=True)
    )
    full = hours.join(alarms, on=["point", "night"], how="full", coalesce=True)
    for (point,), one in full.sort("point", "night").group_by("point", maintain_order=True):
        yield int(point), _record(one, rest)


def _record(one: pl.DataFrame, rest: int) -> Record:
    hours = one["hours"].fill_null(0.0).to_numpy()
    alarm = one["alarm"].fill_null(value=False).to_numpy()
    day = one["night"].to_physical().to_numpy().astype(np.int64)
    kept: list[int] = []
    for place in np.flatnonzero(alarm):
        if not kept or day[place] - day[kept[-1]] >= rest:
            kept.append(int(place))
    places = np.array(kept, dtype=np.int64)
    if not kept:
        return Record(one["night"].to_list(), hours, alarm, places, hours)
    last = np.searchsorted(places, np.arange(day.size), side="right") - 1
    since = np.where(last >= 0, day - day[places[last]], rest)
    resting = (since > 0) & (since < rest)
    return Record(one["night"].to_list(), hours, alarm, places, np.where(resting, 0.0, hours))


def until_night(record: Record, night: date) -> Record | None:
    """Give the part of a record before a night; None where there is none."""
    stop = int(np.searchsorted(np.array([n.toordinal() for n in record.nights]), night.toordinal()))
    if stop == 0:
        return None
    kept = record.kept[record.kept < stop]
    hours, alarm, live = record.hours[:stop], record.alarm[:stop], record.live[:stop]
    return Record(record.nights[:stop], hours, alarm, kept, live)
