"""What the recorded outcomes of a store teach, and how far what is told is from them."""

from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np
import polars as pl

from eventlab.analysis import (
    CAUSE_ORDER,
    LEARNED,
    USE,
    Known,
    base_rates,
    evidence,
    learn,
    matched,
    run,
    unseen,
)
from eventlab.context import Context
from eventlab.ground import NEEDED
from eventlab.lab.portfolio import parts
from eventlab.lab.standing import laid
from eventlab.lab.working import load_all
from eventlab.report import odds_from
from eventlab.schema import CALIBRATION, Schema, empty
from eventlab.settings import Settings
from eventlab.stats import bins, brier, calibration_error, calibration_interval, share_interval
from eventlab.store import Store, fetch

CURVE: Schema = {
    "told": pl.Float64(),
    "true": pl.Float64(),
    "low": pl.Float64(),
    "high": pl.Float64(),
    "nights": pl.Int64(),
}


@dataclass(frozen=True)
class Learning:
    """What was learned from, and what came of it.

    Parameters
    ----------
    outcomes : polars.DataFrame
        ``site, at, outcome, cause, episode, use``: each recorded outcome, and its use.
    calibration : polars.DataFrame
        CALIBRATION columns; empty where nothing was learned.
    known : Known or None
        The nights that were learned from.
    """

    outcomes: pl.DataFrame = field(default_factory=lambda: empty(USE))
    calibration: pl.DataFrame = field(default_factory=lambda: empty(CALIBRATION))
    known: Known | None = None


@dataclass(frozen=True)
class HowSure:
    """How sure the causes told are, held to recorded outcomes.

    Parameters
    ----------
    basis : str
        What the probabilities are from, for people.
    uses : polars.DataFrame
        ``use``, ``outcomes``: how many recorded outcomes were learned from, and why others not.
    unknown : polars.DataFrame
        ``outcome``, ``rows``: words that name no one cause.
    causes : polars.DataFrame
        ``cause``, ``table`` (share by common practice), ``told`` (outcomes), ``share`` (in force).
    curve : polars.DataFrame
        ``told``, ``true``, ``low``, ``high``, ``nights``: bins of equal number of the
        probability of the likeliest cause, each night told from all sites but its own; empty
        where outcomes come from fewer than two sites.
    error, error_low, error_high : float or None
        Mean distance of told probabilities from shares, with its 95 % interval by site.
    brier, brier_base : float or None
        Brier score of what is told, and of the shares of causes alone.
    """

    basis: str
    uses: pl.DataFrame
    unknown: pl.DataFrame
    causes: pl.DataFrame
    curve: pl.DataFrame
    error: float | None = None
    error_low: float | None = None
    error_high: float | None = None
    brier: float | None = None
    brier_base: float | None = None


def learned(
    store: Store, context: Context, settings: Settings, *, now: datetime | None = None
) -> Learning:
    """Learn from all recorded outcomes of a store, whichever sites are asked about.

    Parameters
    ----------
    store : Store
        Where the events are; only sites with outcomes are read.
    context : Context
        What is known of all sites.
    settings : Settings
        The settings in force.
    now : datetime, optional
        As in ``standing.work_out``.

    Returns
    -------
    Learning
        Empty where no outcome is recorded.
    """
    told = set(context.outcomes["site"].unique())
    if not told:
        return Learning()
    spans = store.spans()
    uses, rows = [], []
    for part in parts(store):
        sites = [site for site in part if site in told]
        if not sites:
            continue
        here = context.only(sites)
        events = fetch(store.events(sites=sites, columns=NEEDED))
        ground = laid(events, here, settings, now=now, spans=spans)
        use = matched(ground.episodes, here.outcomes, settings)
        uses.append(use)
        taught = use.filter(pl.col("use") == LEARNED).select("site", "episode", true="cause")
        if taught.height:
            weighed = evidence(ground, here, settings, run(ground, here, settings))
            rows.append(taught.join(weighed, on=["site", "episode"]))
    unheard = context.outcomes.filter(~pl.col("site").is_in(_sites(uses)))
    uses.append(matched(_NO_EPISODES, unheard, settings))
    outcomes = pl.concat(uses).sort("site", "at", "outcome")
    if not rows:
        return Learning(outcomes)
    known = Known.of(pl.concat(rows).sort("site", "episode"))
    return Learning(outcomes, learn(known, settings), known)


def in_force(
    store: Store, settings: Settings, *, now: datetime | None = None
) -> tuple[Context, Learning]:
    """Return what is known of all sites, with what recorded outcomes taught, and the learning."""
    context = load_all(store, settings)
    learning = learned(store, context, settings, now=now)
    return replace(context, calibration=learning.calibration), learning


_NO_EPISODES = pl.DataFrame(
    schema={
        "site": pl.String(),
        "episode": pl.Int64(),
        **dict.fromkeys(("since", "last", "armed_at"), pl.Datetime("us", "UTC")),
        "night": pl.Date(),
        "life_safety": pl.Boolean(),
        "aside": pl.Boolean(),
        "disarm_after_s": pl.Float64(),
    }
)


def _sites(uses: list[pl.DataFrame]) -> list[str]:
    return [site for use in uses for site in use["site"].unique()]


def how_sure(learning: Learning, settings: Settings) -> HowSure:
    """Hold what is told to what came out.

    Parameters
    ----------
    learning : Learning
        As ``learned`` gives it.
    settings : Settings
        The settings in force.

    Returns
    -------
    HowSure
        No figure where there is nothing to hold it to.
    """
    taught, known = learning.calibration, learning.known
    table = pl.DataFrame({"cause": CAUSE_ORDER, "table": base_rates()})
    causes = table.join(
        taught.select("cause", "told", "share"), on="cause", how="left", maintain_order="left"
    ).with_columns(pl.col("told").fill_null(0), pl.coalesce("share", "table").alias("share"))
    basis = odds_from(taught)
    uses = learning.outcomes.group_by("use").len("outcomes").sort("outcomes", descending=True)
    unknown = (
        learning.outcomes.filter(pl.col("cause").is_null())
        .drop_nulls("outcome")
        .group_by("outcome")
        .len("rows")
        .sort("rows", "outcome", descending=[True, False])
    )
    if known is None or len(np.unique(known.site)) < _SITES:
        return HowSure(basis, uses, unknown, causes, empty(CURVE))
    told, usual = unseen(known, settings)
    best, right = told.max(axis=1), told.argmax(axis=1) == known.cause
    low, high = calibration_interval(best, right, known.site)
    return HowSure(
        basis,
        uses,
        unknown,
        causes,
        _curve(best, right),
        calibration_error(best, right),
        low,
        high,
        brier(told, known.cause),
        brier(usual, known.cause),
    )


_SITES = 2
"""Fewer have no others that they could be told from."""
_EACH = 5
"""Nights in a bin of the curve, at least."""


def _curve(best: "np.ndarray", right: "np.ndarray") -> pl.DataFrame:
    part = bins(best, right, min(10, max(1, len(best) // _EACH)))
    share = share_interval(np.rint(part.true * part.count), part.count)
    return pl.DataFrame(
        {"told": part.told, "true": part.true, "low": share.low, "high": share.high,
         "nights": part.count},
        schema=CURVE,
    )  # fmt: skip
