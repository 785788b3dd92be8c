"""From a question of proof to what answers it: rows, choices, the windows of the picture."""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import polars as pl

from dashboards.question import Proof
from eventlab.errors import NotFound

if TYPE_CHECKING:
    from dashboards.remember import Remembered

WINDOW = 30
"""Nights of one bar."""
FEW = 7
"""A window with fewer nights at risk has no bar: one alarm would stand for many."""


@dataclass(frozen=True)
class Answer:
    """What a question of proof comes to.

    Parameters
    ----------
    asked : question.Proof
        What was asked, with what was not known left out and a visit chosen.
    first : dict or None
        The row that was asked for; None where there is no visit and no date.
    others : list of dict
        What the same date comes to for single points.
    visits : polars.DataFrame
        All visits on file: ``visit``, ``day``, ``zones``, ``work``.
    windows : polars.DataFrame
        ``since``, ``until`` (Date, both included), ``nights``, ``days``, ``rate`` (alarm nights in
        30; null where there are few nights), ``side``.
    cut : date or None
        The site's own date.
    """

    asked: Proof
    first: dict[str, Any] | None
    others: list[dict[str, Any]]
    visits: pl.DataFrame
    windows: pl.DataFrame
    cut: date | None


def answer(lab: "Remembered", asked: Proof) -> Answer:
    """Ask the lab; where a visit or point is not known, ask without it.

    Parameters
    ----------
    lab : Remembered
        The open store.
    asked : question.Proof
        What the address asks.

    Returns
    -------
    Answer
        Of the newest visit where neither a visit nor a date is asked for.
    """
    try:
        got = lab.proof(asked.site, **_asked(asked))
    except NotFound:
        asked = Proof(asked.site, at=asked.at)
        got = lab.proof(asked.site, **_asked(asked))
    if asked.at is None and asked.visit is None and got.visits.height:
        asked = replace(asked, visit=int(got.visits["visit"].max()))
        got = lab.proof(asked.site, **_asked(asked))
    elif asked.at is None and asked.visit is None:
        return Answer(asked, None, [], got.visits, windows(got.nights, None), None)
    rows = got.rows.to_dicts()
    cut = asked.at or got.visits.filter(pl.col("visit") == asked.visit)["day"][0]
    return Answer(asked, rows[0], rows[1:], got.visits, windows(got.nights, cut), cut)


def _asked(asked: Proof) -> dict[str, Any]:
    said = {"at": asked.at, "visit": asked.visit, "zone": asked.zone}
    return {name: value for name, value in said.items() if value is not None}


def windows(nights: pl.DataFrame, cut: date | None) -> pl.DataFrame:
    """Gather nights into equal windows back and forward from a date.

    Parameters
    ----------
    nights : polars.DataFrame
        ``night``, ``hours``, ``alarms``.
    cut : date or None
        The date.

    Returns
    -------
    polars.DataFrame
        As ``Answer.windows``.
    """
    if cut is None or nights.is_empty():
        return pl.DataFrame(
            schema={"since": pl.Date, "until": pl.Date, "nights": pl.Int64, "days": pl.Int64,
                    "rate": pl.Float64, "side": pl.String}
        )  # fmt: skip
    away = (pl.col("night") - pl.lit(cut)).dt.total_days()
    ends = nights["night"].min(), nights["night"].max()
    start = pl.lit(cut) + pl.duration(days=pl.col("window") * WINDOW)
    return (
        nights.group_by(window=away.floordiv(WINDOW))
        .agg(nights=pl.len().cast(pl.Int64), days=(pl.col("alarms") > 0).sum().cast(pl.Int64))
        .sort("window")
        .select(
            since=pl.max_horizontal(start, pl.lit(ends[0])),
            until=pl.min_horizontal(start + timedelta(days=WINDOW - 1), pl.lit(ends[1])),
            nights="nights",
            days="days",
            rate=pl.when(pl.col("nights") >= FEW).then(WINDOW * pl.col("days") / pl.col("nights")),
            side=pl.when(pl.col("window") < 0).then(pl.lit("before")).otherwise(pl.lit("after")),
        )
    )
