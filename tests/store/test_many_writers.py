"""Several processes and threads at once: nothing lost, nothing doubled."""

import multiprocessing
from collections import Counter
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

import pytest

from eventlab.store import Store
from tests.store.model import Model, export_of, held, keep_and_take, pack, read

LOG = [["S1", 10 * n, [str(n % 3)]] for n in range(60)]
# Each writer has every fourth of these overlapping exports.
EXPORTS = [LOG[start : start + 15] for start in range(0, 48, 3)]


def take_some(location, exports):
    """Take exports; return the rows that were new."""
    store = Store.open(location)
    return sum(keep_and_take(store, pack(rows)).read for rows in exports)


@pytest.mark.parametrize("same", [False, True], ids=["overlapping", "the same"])
@pytest.mark.parametrize("how", ["threads", "processes"])
def test_writers_of_one_site_take_turns(tmp_path, how, same):
    store = Store.create(tmp_path / "store", buckets=2)
    shares = [EXPORTS[:6]] * 4 if same else [EXPORTS[n::4] for n in range(4)]
    pool = (
        ThreadPoolExecutor(4)
        if how == "threads"
        else ProcessPoolExecutor(4, mp_context=multiprocessing.get_context("spawn"))
    )
    with pool:
        read_rows = sum(pool.map(take_some, [str(tmp_path / "store")] * 4, shares))
    taken = {pack(rows) for share in shares for rows in share}
    model = Model()
    model.exports = [(export_of(data), data) for data in taken]
    assert Counter(key for key, _ in held(store)) == model.largest()
    assert read_rows == len(held(store))
    assert store.exports().height == len(taken)
    assert store.check() == []


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
