"""Findings and episodes of many sites, some sites after others, so that memory stays small."""

from dataclasses import dataclass
from datetime import datetime

import polars as pl

from eventlab.analysis import ranked
from eventlab.context import Context
from eventlab.lab.standing import work_out
from eventlab.settings import Settings
from eventlab.store import Store, fetch

PART = 1_000_000
"""Events that are looked at together; a site is never cut. A part takes about 1.1 GB, and each
some tenths of a second whatever its size."""


@dataclass(frozen=True)
class Portfolio:
    """What stands for all sites of a store.

    Parameters
    ----------
    findings : polars.DataFrame
        Columns of ``schema.FINDING``, what leaves a place unprotected first.
    episodes : polars.DataFrame
        Episodes with the probability of each cause.
    """

    findings: pl.DataFrame
    episodes: pl.DataFrame


def parts(store: Store) -> list[list[str]]:
    """Divide the sites of a store, in the order in which they are stored.

    Parameters
    ----------
    store : Store
        Any number of sites.

    Returns
    -------
    list of list of str
        Sites to be looked at together: about ``PART`` events, or one larger site.
    """
    sizes = store.events(columns=["site"]).group_by("site", maintain_order=True).agg(n=pl.len())
    counted = fetch(sizes).with_columns(part=(pl.col("n").cum_sum() - 1) // PART)
    gathered = counted.group_by("part", maintain_order=True).agg("site")
    return gathered["site"].to_list()


def in_parts(
    store: Store,
    divided: list[list[str]],
    context: Context,
    settings: Settings,
    *,
    now: datetime | None = None,
) -> Portfolio:
    """Run everything over some sites after others.

    Parameters
    ----------
    store : Store
        Where the events are.
    divided : list of list of str
        As ``parts`` gives them.
    context : Context
        What is known of all sites.
    settings : Settings
        The settings in force.
    now : datetime, optional
        As in ``standing.work_out``.

    Returns
    -------
    Portfolio
        The same as of all sites at once: what is found of a site does not depend on the others.
    """
    exports = store.exports()

    def one(sites: list[str]) -> tuple[pl.DataFrame, pl.DataFrame]:
        events = fetch(store.events(sites=sites))
        part = work_out(events, context.only(sites), settings, now=now, exports=exports)
        return part.findings, part.episodes

    # What a part stands on goes before the next part is laid out.
    found, gathered = zip(*(one(sites) for sites in divided), strict=True)
    return Portfolio(
        ranked(pl.concat(found)), pl.concat(gathered).sort("site", "since", maintain_order=True)
    )


def within(frame: pl.DataFrame, since: datetime | None, until: datetime | None) -> pl.DataFrame:
    """Keep what holds at some time of a span."""
    if since is not None:
        frame = frame.filter(pl.col("until").is_null() | (pl.col("until") >= since))
    if until is not None:
        frame = frame.filter(pl.col("since").is_null() | (pl.col("since") < until))
    return frame
