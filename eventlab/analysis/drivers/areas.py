"""Time since another area was opened or closed: a tenant who comes and goes beside armed points."""

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.drivers.grid import Grid, steps_of
from eventlab.analysis.found import asof
from eventlab.ground import Ground, intervals
from eventlab.schema import Kind, Timing

Floats = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

OTHER_MIN = (5, 15, 30, 60)
"""Minutes since another area was opened, or closed."""
_KINDS = (Kind.DISARM, Kind.ARM)
WINDOWS = [(kind, minutes) for kind in _KINDS for minutes in OTHER_MIN]


def others(ground: Ground, rows: pl.DataFrame) -> pl.DataFrame:
    """List when areas that a row of time at risk does not belong to were opened and closed.

    Parameters
    ----------
    ground : Ground
        Arming and disarming, and the areas of points.
    rows : polars.DataFrame
        ``site``, ``zone``, ``within``, ``row`` of points.

    Returns
    -------
    polars.DataFrame
        ``row``, ``kind``, ``acted``; sorted.
    """
    point = ["site", "zone", "within"]
    own = (
        rows.join(ground.points.select(*point, "areas"), on=point, nulls_equal=True)
        .select("row", "site", area="areas")
        .explode("area", empty_as_null=True)
        .drop_nulls()
        .unique()
    )
    acts = ground.occurrences.filter(
        pl.col("kind").is_in(list(_KINDS))
        & pl.col("area").is_not_null()
        & pl.col("at").is_not_null()
        & (pl.col("timing") != Timing.DOUBTFUL)
    ).select("site", "area", pl.col("kind").cast(pl.String), acted="at")
    return (
        own.select("row", "site")
        .unique()
        .join(acts.select("site", "area").unique(), on="site")
        .join(own.select("row", "area"), on=["row", "area"], how="anti")
        .join(acts, on=["site", "area"])
        .select("row", "kind", "acted")
        .sort("row", "kind", "acted")
    )


def since_other(hits: pl.DataFrame, acts: pl.DataFrame) -> Numbers:
    """Say how long ago another area was last opened, and closed, at each alarm.

    Returns
    -------
    numpy.ndarray of int, shape (n, 2)
        [s]; -1 where that is not known.
    """
    columns = []
    for kind in _KINDS:
        some = acts.filter(pl.col("kind") == kind).select("row", "acted")
        near = asof(hits.select("row", "at"), some, "at", "acted", by=["row"])
        ago = (pl.col("at") - pl.col("acted")).dt.total_seconds().fill_null(-1)
        columns.append(near.select(ago).to_series().to_numpy())
    return np.stack(columns, axis=1)


def ago(moments: pl.DataFrame, ground: Ground) -> Numbers:
    """Say how long before each moment of a point another area was last opened, and closed.

    Parameters
    ----------
    moments : polars.DataFrame
        ``site``, ``zone``, ``area``, ``at``.
    ground : Ground
        Arming and disarming, and the areas of points.

    Returns
    -------
    numpy.ndarray of int, shape (n, 2)
        [s]; -1 where that is not known.
    """
    rows = ground.points.select("site", "zone", "within").with_row_index("row")
    here = pl.col("within").is_null() | pl.col("within").eq_missing(pl.col("area"))
    named = (
        moments.with_row_index("moment")
        .join(rows, on=["site", "zone"], how="left", maintain_order="left")
        .with_columns(row=pl.when(here).then("row"))
        .sort("moment", "row", nulls_last=True)
        .unique("moment", keep="first", maintain_order=True)
    )
    some = rows.filter(pl.col("row").is_in(named["row"].implode()))
    return since_other(named.select("row", "at"), others(ground, some))


def hours_after(spans: pl.DataFrame, acts: pl.DataFrame) -> Floats:
    """Add up the time at risk that lies within each time after any act in another area [h]."""
    told = []
    for minutes in OTHER_MIN:
        after = acts.select(
            "row", since="acted", until=pl.col("acted") + pl.duration(minutes=minutes)
        )
        held = intervals.intersect(spans, intervals.unite(after, ["row"]), ["row"])
        told.append((held["until"] - held["since"]).dt.total_seconds().sum() / 3600)
    return np.array(told)


def within(since: Numbers) -> Flags:
    """Say which alarms lie in which windows: shape (n, windows)."""
    ago = np.repeat(since, len(OTHER_MIN), axis=1)
    limits = 60 * np.array([minutes for _, minutes in WINDOWS])
    return np.asarray((ago >= 0) & (ago < limits))


def soon_after(
    laid: Grid, spans: pl.DataFrame, acts: pl.DataFrame, zones: pl.DataFrame
) -> list[Grid]:
    """Lay out the time at risk that lies in each window.

    Parameters
    ----------
    laid : Grid
        All time at risk.
    spans : polars.DataFrame
        The same, as ``series.Series`` has it.
    acts : polars.DataFrame
        As ``others`` gives it.
    zones : polars.DataFrame
        ``site``, ``time_zone``.

    Returns
    -------
    list of Grid
        One for each window; none where no other area was ever opened or closed.
    """
    if acts.is_empty():
        return []
    site = spans.select("row", "site").unique()
    grids = []
    for kind, minutes in WINDOWS:
        after = acts.filter(pl.col("kind") == kind).select(
            "row", since="acted", until=pl.col("acted") + pl.duration(minutes=minutes)
        )
        held = intervals.intersect(spans, intervals.unite(after, ["row"]), ["row"])
        told = held.select("row", "since", "until").join(site, on="row").sort("row", "since")
        start, stop = steps_of(told, zones, laid.first)
        grids.append(replace(laid, row=told["row"].to_numpy(), start=start, stop=stop))
    return grids


def spent(laid: Grid, grids: list[Grid]) -> Floats:
    """Work out the share of each row's time in each window; not a number where there are none."""
    total = np.bincount(laid.row, laid.stop - laid.start, laid.rows)
    parts = [np.bincount(one.row, one.stop - one.start, laid.rows) for one in grids]
    if not parts:
        return np.full((laid.rows, len(WINDOWS)), np.nan)
    inside = np.stack(parts, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = inside / total[:, None]
    return np.where(inside.any(axis=1, keepdims=True), share, np.nan)
