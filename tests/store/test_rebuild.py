"""Correcting is rebuilding: every wrong answer can be taken back and leaves no trace row."""

from dataclasses import replace

import polars as pl
import pytest

from eventlab.errors import DamagedStore, EventlabError, NotFound
from eventlab.schema import Kind
from eventlab.store import Store
from tests.store.model import export_of, held, keep_and_take, pack, read

FIRST = [["S1", 0, ["1"]], ["S1", 100, ["1"]], ["S1", 200, "odd"]]
SECOND = [["S1", 100, ["1"]], ["S1", 200, "odd"], ["S1", 300, ["2"]]]
OTHER = [["S2", 0, ["9"]]]


@pytest.fixture
def store(tmp_path):
    store = Store.create(tmp_path / "store", buckets=2)
    for rows in (FIRST, SECOND, OTHER):
        keep_and_take(store, pack(rows))
    return store


def hash_of(rows):
    return export_of(pack(rows)).sha256


def test_dropping_an_export_keeps_what_others_show_too(store):
    """Rows that the second export only repeated come from it now."""
    done = store.rebuild([], read, drop=frozenset({hash_of(FIRST)}))
    assert (done.sites, done.dropped, done.before, done.after) == (("S1",), (hash_of(FIRST),), 4, 3)
    assert {source for source, _, _ in held(store).values()} == {hash_of(SECOND), hash_of(OTHER)}
    assert store.exports()["sha256"].to_list() == [hash_of(SECOND), hash_of(OTHER)]
    with pytest.raises(DamagedStore):
        store.original(hash_of(FIRST))
    assert store.check() == []


def test_a_dropped_export_can_be_taken_again(store):
    before = set(held(store))
    store.rebuild([], read, drop=frozenset({hash_of(FIRST)}))
    assert store.waiting() == []
    assert keep_and_take(store, pack(FIRST)).read == 1
    assert set(held(store)) == before


def test_a_better_reading_leaves_no_unread_row_behind(store):
    change = {
        sha256: replace(store.export(sha256), answers={"odd": "test report"})
        for sha256 in (hash_of(FIRST), hash_of(SECOND))
    }
    store.rebuild([], read, change=change)
    kinds = store.events().collect()["kind"]
    assert (kinds == Kind.UNREAD).sum() == 0
    assert (kinds == Kind.TEST_REPORT).sum() == 1
    # Told again with the old answers it is refused; with the new ones it is known.
    assert store.take(read(change[hash_of(FIRST)], pack(FIRST)), change[hash_of(FIRST)]).already


def test_a_wrong_site_is_taken_back(store):
    export = export_of(pack(SECOND))
    store.rebuild([], read, change={export.sha256: replace(export, site="S2")})
    found = store.events().collect()
    assert found.filter(pl.col("site") == "S1").height == 3
    assert found.filter(pl.col("site") == "S2").height == 4
    store.rebuild([], read, change={export.sha256: export})
    assert store.events(sites=["S2"]).collect().height == 1


def test_rows_that_find_their_site_leave_the_unknown_one(tmp_path):
    """A row of an unknown site, read better, belongs to a site that nobody asked to rebuild."""
    store = Store.create(tmp_path / "store", buckets=2)
    keep_and_take(store, pack([["S2", 0, ["1"]], ["", 100, "odd"]]))

    def better(export, data):
        return read(replace(export, answers={"odd": "yes"}), data)

    done = store.rebuild(["S2"], better)
    assert set(done.sites) == {"", "S1", "S2"}
    assert store.events(sites=[""]).collect().is_empty()
    assert store.events(sites=["S1"]).collect()["kind"].to_list() == [Kind.TEST_REPORT]


def test_rebuilding_one_site_leaves_the_others_alone(store):
    def shouting(export, data):
        return read(export, data).with_columns(text=pl.lit("again"))

    store.rebuild(["S1"], shouting)
    found = store.events().collect()
    assert found.filter(pl.col("site") == "S1")["text"].unique().to_list() == ["again"]
    assert found.filter(pl.col("site") == "S2")["text"].to_list() == [None]


def test_sites_with_any_name(tmp_path):
    store = Store.create(tmp_path / "store", buckets=1)
    names = ["O'Brien", "Straße 5", 'a "b"', "x\ny", "100%", "a;--", "a\\b", "🏛", "S1"]
    keep_and_take(store, pack([[name, 0, ["1"]] for name in names]))
    before = held(store)
    store.rebuild(names[:-1], read)
    assert held(store) == before


def test_an_original_that_is_gone_stops_the_rebuild(store, tmp_path):
    before, version = held(store), store.version()
    (tmp_path / "store" / "originals" / f"{hash_of(FIRST)}.zst").unlink()
    with pytest.raises(DamagedStore, match="original is missing"):
        store.rebuild(["S1"], read)
    assert (held(store), store.version()) == (before, version)


def test_rows_whose_export_nobody_knows_stop_the_rebuild(store, tmp_path):
    for path in (tmp_path / "store" / "originals").glob(f"{hash_of(SECOND)}*"):
        path.unlink()
    with pytest.raises(DamagedStore, match="not known"):
        store.rebuild(["S1"], read)


def test_a_reading_that_fails_changes_nothing(store):
    before, version = held(store), store.version()

    def failing(export, data):
        raise EventlabError("cannot be read any more")

    with pytest.raises(EventlabError, match="any more"):
        store.rebuild(["S1"], failing)
    assert (held(store), store.version()) == (before, version)


def test_exports_that_are_not_there_cannot_be_dropped(store):
    with pytest.raises(NotFound):
        store.rebuild([], read, drop=frozenset({"0" * 64}))


def test_an_export_without_a_row_is_answered_otherwise_and_dropped(store):
    keep_and_take(store, b"[]")
    export = export_of(b"[]")
    store.rebuild([], read, change={export.sha256: replace(export, site="S2")})
    assert store.export(export.sha256).site == "S2"
    store.rebuild([], read, drop=frozenset({export.sha256}))
    assert store.export(export.sha256) is None
    assert store.check() == []


def test_a_site_that_nobody_knows_is_nothing_to_rebuild(store):
    version = store.version()
    assert store.rebuild(["nowhere"], read).sites == ()
    assert store.version() == version


def test_seams_are_counted_anew(tmp_path):
    store = Store.create(tmp_path / "store", buckets=2)
    rows = [["S1", second, ["7"]] for second in (0, 100, 100, 200)]
    keep_and_take(store, pack(rows[:2]))
    keep_and_take(store, pack(rows[2:]))
    assert store.exports()["seam"].to_list() == [0, 1]
    store.rebuild(["S1"], read)
    assert store.exports()["seam"].to_list() == [0, 1]
    store.rebuild([], read, drop=frozenset({hash_of(rows[:2])}))
    assert store.exports()["seam"].to_list() == [0]
