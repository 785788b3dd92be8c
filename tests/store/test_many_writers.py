"""Several processes and threads at once, in a folder and on S3: nothing lost, nothing doubled."""

import multiprocessing
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

import pytest

from eventlab.store import Store
from tests.store.model import Model, export_of, held, keep_and_take, pack, read
from tests.store.s3 import bucket

__all__ = ["bucket"]

WRITERS = 8
LONGEST_S = 100
"""Nobody waits for ever: all writers are done by then (measured: 5 s on two cores)."""

LOG = [["S1", 10 * n, [str(n % 3)]] for n in range(60)]
# Each writer has every eighth of these overlapping exports.
EXPORTS = [LOG[start : start + 15] for start in range(0, 46, 3)]
OF_OTHERS = [
    [[f"S{n}", second, zones] for _, second, zones in LOG[start : start + 15]]
    for n in range(WRITERS)
    for start in (0, 10)
]
SHARES = {
    "one site": [EXPORTS[n::WRITERS] for n in range(WRITERS)],
    "the same exports": [EXPORTS[:3]] * WRITERS,
    "different sites": [OF_OTHERS[2 * n : 2 * n + 2] for n in range(WRITERS)],
    "sites that overlap": [OF_OTHERS[n : n + 2] for n in range(WRITERS)],
}


def take_some(location, exports):
    """Take exports; return the rows that were new."""
    store = Store.open(location)
    return sum(keep_and_take(store, pack(rows)).read for rows in exports)


@pytest.fixture(scope="module")
def processes():
    with ProcessPoolExecutor(WRITERS, mp_context=multiprocessing.get_context("spawn")) as pool:
        yield pool


def cases():
    """Each way of sharing, in a folder and on S3; the two that are slow there on demand."""
    for where in ("folder", "S3"):
        for name, shares in SHARES.items():
            slow = where == "S3" and name in {"one site", "different sites"}
            marks = [pytest.mark.slow] if slow else []
            yield pytest.param(where, shares, id=f"{where}, {name}", marks=marks)


def all_there(store, shares, read_rows):
    taken = {pack(rows) for share in shares for rows in share}
    model = Model()
    model.exports = [(export_of(data), data) for data in taken]
    assert Counter(key for key, _ in held(store)) == model.largest()
    assert read_rows == len(held(store))
    assert store.exports().height == len(taken)
    assert store.check() == []


@pytest.mark.parametrize(("where", "shares"), [*cases()])
def test_processes_at_once_take_turns(tmp_path, processes, bucket, where, shares):
    location = f"{bucket}/{tmp_path.name}/store" if where == "S3" else str(tmp_path / "store")
    store = Store.create(location, buckets=2)
    begun = time.monotonic()
    read_rows = sum(processes.map(take_some, [location] * WRITERS, shares, timeout=LONGEST_S))
    assert time.monotonic() - begun < LONGEST_S
    all_there(store, shares, read_rows)


def test_threads_at_once_take_turns(tmp_path):
    store = Store.create(tmp_path / "store", buckets=2)
    shares = SHARES["one site"][:4]
    with ThreadPoolExecutor(4) as pool:
        read_rows = sum(pool.map(take_some, [tmp_path / "store"] * 4, shares))
    all_there(store, shares, read_rows)


def test_a_rebuild_beside_takes_loses_nothing(tmp_path):
    store = Store.create(tmp_path / "store", buckets=2)
    keep_and_take(store, pack(LOG[:30]))

    def rebuild(_):
        return store.rebuild(["S1"], read).after

    with ThreadPoolExecutor(3) as pool:
        takes = [pool.submit(take_some, tmp_path / "store", EXPORTS[n::2]) for n in range(2)]
        for _ in pool.map(rebuild, range(3)):
            pass
        for take in takes:
            take.result()
    assert len(held(store)) == 60
    assert store.check() == []
