"""What the screening says of one point, chart by chart."""

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.analysis.drivers.bounds import Hits
from eventlab.analysis.drivers.find import condition
from eventlab.analysis.drivers.grid import Grid
from eventlab.analysis.drivers.naming import named
from eventlab.analysis.drivers.screen import LEAST_DAYS, screened
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Schema, conform, empty
from eventlab.settings import Settings
from eventlab.stats import binomial_tail

VERDICT: Schema = {
    "chart": pl.String(),
    "driver": pl.String(),
    "place": pl.String(),
    "p": pl.Float64(),
    "q": pl.Float64(),
    "hits": pl.Int64(),
    "days": pl.Int64(),
    "share": pl.Float64(),
    "from": pl.Float64(),
    "to": pl.Float64(),
    "level": pl.Float64(),
    "high": pl.Boolean(),
}
"""``place``: ``leads`` (named, or the best of two that cannot be told apart), ``rival`` (the other
of them), ``follows`` (proven, but told better by what leads), ``chance``, ``few`` (too few days),
``apart`` and ``beside`` (month only: beyond chance, or not; never screened)."""

CHART_OF = {
    "sun": "sun", "dark": "sun", "clock": "clock", "weekday": "weekday", "arming": "arming",
    "area": "area",
    "hot": "temperature", "cold": "temperature", "warming": "temperature",
    "cooling": "temperature", "wind": "wind", "rain": "rain", "wet": "rain",
}  # fmt: skip
"""On which chart each driver is seen."""

_BEYOND = 0.05


def verdicts(
    ground: Ground, context: Context, settings: Settings, key: dict[str, str | None]
) -> pl.DataFrame:
    """Say of each driver of one point what the screening of its site makes of it.

    Parameters
    ----------
    ground, context, settings
        Of one site.
    key : dict
        ``site``, ``zone``, ``within``, ``family`` of what is asked about.

    Returns
    -------
    polars.DataFrame
        ``VERDICT`` columns, the best-proven driver of each chart; empty where the point has too
        few days to be screened.
    """
    screen = screened(ground, context, settings)
    if screen is None:
        return empty(VERDICT)
    mine = pl.all_horizontal(pl.col(c).eq_missing(pl.lit(v, pl.String)) for c, v in key.items())
    found = screen.series.series.filter(mine)
    if found.is_empty():
        return empty(VERDICT)
    number = int(found["number"][0])
    best = named(screen, settings).filter(pl.col("number") == number).to_dicts()
    leads = best[0]["driver"] if best else None
    rival = best[0]["rival"] if best and not best[0]["named"] else None
    hits = np.flatnonzero(screen.hits.number == number)
    rows = []
    for test in screen.tests.filter(pl.col("number") == number).iter_rows(named=True):
        driver = test["driver"]
        bound = screen.bounds[driver]
        window = int(bound.window[number])
        told = condition(screen, driver, window, hits)
        proven = test["q"] <= settings.driver_q
        rows.append(
            {
                "chart": CHART_OF[driver],
                "driver": driver,
                "place": "leads"
                if driver == leads
                else "rival"
                if driver == rival
                else "follows"
                if proven
                else "chance",
                "p": test["p"],
                "q": test["q"],
                "hits": int(bound.hits[number]),
                "days": int(bound.days[number]),
                "share": float(bound.share[number]),
                "from": told["low_edge"],
                "to": told["high_edge"],
                "level": told["level"],
                "high": told["high"],
            }
        )
    order = pl.col("place").replace_strict({"leads": 0, "rival": 1, "follows": 2, "chance": 3})
    return (
        conform(pl.DataFrame(rows, infer_schema_length=None), VERDICT)
        .sort(order, "q", "p", "driver")
        .unique("chart", keep="first", maintain_order=True)
    )


def calendar(hits: Hits, laid: Grid, time: npt.NDArray[np.float64]) -> pl.DataFrame:
    """Say whether a month stands out beyond chance; it is not screened, a season is no driver.

    Parameters
    ----------
    hits : Hits
        One alarm of each day of the point.
    laid : Grid
        The days.
    time : numpy.ndarray of float, shape (days, steps)
        Hours at risk.

    Returns
    -------
    polars.DataFrame
        One row of ``VERDICT`` columns; ``from`` is the month that stands out most. The chance is
        of days far enough apart, every month paid for.
    """
    days = pl.Series(np.arange(laid.first, laid.first + laid.days)).cast(pl.Int32).cast(pl.Date)
    month = days.dt.month().to_numpy().astype(np.int64)
    by_day = time.sum(axis=1)
    share = np.bincount(month, by_day, 13) / max(by_day.sum(), 1e-9)
    every = np.bincount(month[hits.day], minlength=13)
    # Neighbouring days are alike: one in three is asked.
    apart = hits.day[np.unique(hits.day // _APART, return_index=True)[1]]
    few = np.bincount(month[apart], minlength=13)
    tail = binomial_tail(few, len(apart), np.clip(share, 1e-9, 1.0))
    tail = np.where(share > 0, tail, 1.0)
    best, many = int(tail.argmin()), len(hits.number)
    p = float(min(tail[best] * (share > 0).sum(), 1.0)) if many else 1.0
    place = "few" if many < LEAST_DAYS else "apart" if p <= _BEYOND else "beside"
    row = {
        "chart": "month",
        "driver": "month",
        "place": place,
        "p": p,
        "hits": int(every[best]),
        "days": many,
        "share": float(share[best]),
        "from": float(best),
    }
    return conform(pl.DataFrame([row]), VERDICT)


_APART = 3
"""Days that one alarm is asked of, where neighbouring days are alike."""
