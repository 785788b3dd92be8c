"""Findings and episodes of many sites, in parts, so that memory stays small."""

import os
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from multiprocessing import get_context

import polars as pl

from eventlab.analysis import ranked
from eventlab.context import Context
from eventlab.ground import NEEDED
from eventlab.lab.standing import work_out
from eventlab.lab.working import load_said
from eventlab.settings import Settings
from eventlab.store import Store, fetch

PART = 1_500_000
"""Events that are looked at together; a site is never cut. A million take about 1.4 GB, and each
part the better part of a second whatever its size."""
PART_GB = 2.2
"""Memory that a process is given for one part, with its libraries [GB]."""


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
        Sites to be looked at together: at most about ``PART`` events, or one larger site; as many
        parts for each processor.
    """
    told = store.sizes()
    number = -(-int(told["events"].sum()) // PART)
    if number > 1:
        number = -(-number // room()) * room()
    size = -(-int(told["events"].sum()) // max(number, 1))
    counted = told.with_columns(part=(pl.col("events").cum_sum() - 1) // max(size, 1))
    gathered = counted.group_by("part", maintain_order=True).agg("site")
    return gathered["site"].to_list()


@dataclass(frozen=True)
class Task:
    """What another process needs for a part: where the store is, and what is of all sites.

    Parameters
    ----------
    store : Store
        It holds no open handle.
    spans : polars.DataFrame
        From when to when each export reaches, as the store tells it.
    outages, calibration : polars.DataFrame
        The small tables of the context that are of the whole store.
    settings : Settings
        The settings in force.
    now : datetime or None
        As in ``standing.work_out``.
    """

    store: Store
    spans: pl.DataFrame
    outages: pl.DataFrame
    calibration: pl.DataFrame
    settings: Settings
    now: datetime | None

    def part(self, sites: list[str]) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Return findings and episodes of some sites."""
        known = replace(load_said(self.store), outages=self.outages, calibration=self.calibration)
        found = work_out(
            fetch(self.store.events(sites=sites, columns=NEEDED)),
            known.only(sites),
            self.settings,
            now=self.now,
            spans=self.spans,
        )
        return found.findings, found.episodes


def in_parts(
    store: Store,
    divided: list[list[str]],
    context: Context,
    settings: Settings,
    *,
    now: datetime | None = None,
    executor: Executor | None = None,
) -> Portfolio:
    """Run everything over some sites beside or after others.

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
    executor : concurrent.futures.Executor, optional
        Who works on the parts: processes of this machine, or those of a cluster; one part after
        the other in this process where left out.

    Returns
    -------
    Portfolio
        The same as of all sites at once: what is found of a site does not depend on the others.
    """
    task = Task(store, store.spans(), context.outages, context.calibration, settings, now)
    work = map if executor is None else executor.map
    told = list(work(task.part, divided))
    found, gathered = zip(*told, strict=True)
    return Portfolio(
        ranked(pl.concat(found)), pl.concat(gathered).sort("site", "since", maintain_order=True)
    )


def room() -> int:
    """Say for how many parts at a time there are processors and memory."""
    try:
        free = os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
        able = len(os.sched_getaffinity(0))
    except (AttributeError, OSError, ValueError):  # not told on this system
        return 1
    return max(1, min(able, int(free / 2**30 / PART_GB)))


@contextmanager
def processes(parts: int) -> Iterator[Executor | None]:
    """Give processes for some parts, which load their libraries meanwhile.

    Each is started anew, since a copy of this one may hang in polars, and has its share of the
    processors.

    Parameters
    ----------
    parts : int
        How many parts there are.

    Yields
    ------
    concurrent.futures.Executor or None
        None where one process does as well.
    """
    workers = min(parts, room())
    if workers <= 1:
        yield None
        return
    share = max(1, len(os.sched_getaffinity(0)) // workers)
    theirs = {"POLARS_MAX_THREADS": str(share), **_KEEPING}
    added = {name: value for name, value in theirs.items() if name not in os.environ}
    os.environ.update(added)
    try:
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            for _ in range(workers):
                pool.submit(room)
            yield pool
    finally:
        for name in added:
            del os.environ[name]


_KEEPING = {"_RJEM_MALLOC_CONF": "dirty_decay_ms:30000,muzzy_decay_ms:0"}
"""To give memory back after each step and take it anew for the next costs a fifth of the time."""


def within(frame: pl.DataFrame, since: datetime | None, until: datetime | None) -> pl.DataFrame:
    """Keep what holds at some time of a span."""
    if since is not None:
        frame = frame.filter(pl.col("until").is_null() | (pl.col("until") >= since))
    if until is not None:
        frame = frame.filter(pl.col("since").is_null() | (pl.col("since") < until))
    return frame
