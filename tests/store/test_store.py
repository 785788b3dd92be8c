"""The store's other doors: opening, reading back, small tables, originals, upkeep."""

import pickle
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import polars as pl
import pytest
from deltalake import DeltaTable

from eventlab.errors import DamagedStore, NewerStore, NoStore, StoreError, UsageError
from eventlab.schema import EVENT, SITE, ZONE, conform
from eventlab.store import Store
from eventlab.store.table import bucket_of
from tests.store.model import START, export_of, held, keep_and_take, pack

ROWS = [[f"S{n % 7}", n * 3600, [str(n % 3)]] for n in range(70)]


@pytest.fixture
def store(tmp_path):
    store = Store.create(tmp_path / "store", buckets=4)
    keep_and_take(store, pack(ROWS))
    return store


def test_there_is_no_store_where_there_is_none(tmp_path):
    with pytest.raises(NoStore):
        Store.open(tmp_path / "nowhere")
    assert not (tmp_path / "nowhere").exists()
    Store.open(tmp_path / "nowhere", create=True)
    assert Store.open(tmp_path / "nowhere").events().collect().is_empty()


def test_making_a_store_twice_leaves_the_first(store, tmp_path):
    assert Store.create(tmp_path / "store", buckets=9).events().collect().height == 70
    with pytest.raises(UsageError):
        Store.create(tmp_path / "other", buckets=0)


def test_a_newer_store_is_refused(store, tmp_path):
    table = DeltaTable(str(tmp_path / "store" / "events"))
    table.alter.set_table_properties({"eventlab.store_format": "2"}, raise_if_not_exists=False)
    with pytest.raises(NewerStore, match="format 2"):
        Store.open(tmp_path / "store")
    with pytest.raises(NewerStore):
        keep_and_take(store, pack(ROWS[:1]))


def test_a_store_goes_to_another_process(store):
    assert held(pickle.loads(pickle.dumps(store))) == held(store)  # noqa: S301  # our own bytes


def test_the_bucket_of_a_site_never_changes():
    # CRC-32 of "123456789" is 0xCBF43926, the check value of the ISO 3309 polynomial.
    assert bucket_of("123456789", 1 << 32) == 0xCBF43926
    assert bucket_of("Straße", 64) == bucket_of("Straße", 64)


def test_events_come_back_with_their_types_and_in_order(store):
    found = store.events().collect()
    assert found.schema == pl.Schema(EVENT)
    sites = found["site"].to_list()
    assert len({*pairwise(sites)} - {(s, s) for s in sites}) == 6
    for site in set(sites):
        assert found.filter(pl.col("site") == site)["placed"].is_sorted()


def test_events_of_some_sites_and_times(store):
    since, until = START + timedelta(hours=10), START + timedelta(hours=20)
    found = store.events(sites=["S1", "S2", "S?"], since=since, until=until).collect()
    assert set(found["site"]) == {"S1", "S2"}
    assert found["placed"].min() >= since
    assert found["placed"].max() < until
    day = store.events(since=date(2026, 3, 2), columns=["zone", "kind"]).collect()
    assert day.columns == ["zone", "kind"]
    assert day.height == 46
    naive = store.events(since=datetime(2026, 3, 2)).collect()  # noqa: DTZ001  # naive is UTC
    assert naive.height == 46


def test_only_the_bucket_of_a_site_is_opened(store, tmp_path):
    for folder in (tmp_path / "store" / "events").glob("bucket=*"):
        if folder.name != f"bucket={bucket_of('S1', 4)}":
            for file in folder.iterdir():
                file.write_bytes(bytes(file.stat().st_size))
    assert store.events(sites=["S1"]).collect().height == 10
    with pytest.raises(pl.exceptions.ComputeError):
        store.events().collect()


def test_rows_stay_in_order_over_many_files_and_after_tidying(store):
    for start in range(0, 60, 6):
        more = [[site, s + 1800, zones] for site, s, zones in ROWS[start : start + 6]]
        keep_and_take(store, pack(more))
    before = store.events().collect()
    assert store.tidy().files_joined > 0
    for found in (before, store.events().collect()):
        for part in found.partition_by("site"):
            assert part["placed"].is_sorted()
    assert "CHECKPOINT" not in store.version()


def test_a_newest_first_export_is_stored_as_it_happened(tmp_path):
    """In one second the row that stands lower in the file came first."""
    store = Store.create(tmp_path / "store")
    keep_and_take(store, pack([["S1", 9, ["3"]], ["S1", 5, ["2"]], ["S1", 5, ["1"]]]))
    assert store.events().collect()["zone"].to_list() == ["1", "2", "3"]


def test_a_checkpoint_is_written_when_much_has_gathered(store, tmp_path):
    for n in range(12):
        keep_and_take(store, pack([["S1", n, ["9"]]]))
    log = tmp_path / "store" / "events" / "_delta_log"
    assert len(list(log.glob("*.checkpoint.parquet"))) == 1


def test_the_ledger(store):
    keep_and_take(store, pack([*ROWS[60:], ["", None, "what?"]]), answers={"a": "b"}, name="2.csv")
    listed = store.exports()
    assert listed["name"].to_list() == ["log.csv", "2.csv"]
    assert listed.select("rows", "read", "repeated", "unread").rows() == [
        (70, 70, 0, 0),
        (11, 0, 10, 1),
    ]
    assert listed["answers"].to_list() == ["{}", '{"a":"b"}']
    assert listed["sites"].to_list()[1] == ["", "S0", "S1", "S2", "S3", "S4", "S5", "S6"]
    assert listed["first"][0] == START
    assert listed["last"][0] == START + timedelta(hours=69)
    assert listed["witness"].to_list() == ["panel", "panel"]
    assert store.export(export_of(pack(ROWS)).sha256).rows == 70


def test_how_far_each_export_reaches_and_how_large_each_site_is(store):
    keep_and_take(store, pack(ROWS[60:]), name="2.csv")
    listed = store.exports()
    wanted = listed.select("sites", "sha256", "first", "last").explode("sites")
    assert store.spans().rows() == wanted.rows()
    held = store.events().collect()
    sizes = held.group_by("site", maintain_order=True).len()
    assert store.sizes().rows() == sizes.rows()
    kinds = held["kind"].unique().to_list()[:1]
    some = store.events(kinds=kinds).collect()
    assert some.equals(held.filter(pl.col("kind").is_in(kinds)))


def test_the_ledger_of_many_exports_is_the_same_from_its_shortcut(store, tmp_path, monkeypatch):
    monkeypatch.setattr("eventlab.store.ledger._CACHE_FROM", 2)
    for n in range(4):
        keep_and_take(store, pack([["S1", n, ["9"]]]))
    before = store.exports()
    assert (tmp_path / "store" / "originals" / "ledger.parquet").exists()
    assert store.exports().equals(before)
    (tmp_path / "store" / "originals" / "ledger.parquet").write_bytes(b"damaged")
    assert store.exports().equals(before)


def test_originals_come_back_byte_for_byte(store, tmp_path):
    data = bytes(range(256)) * 9000
    path = tmp_path / "export.bin"
    path.write_bytes(data)
    sha256 = export_of(b"[]").sha256
    with pytest.raises(StoreError):
        store.keep(path, sha256=sha256, name="export.bin")
    import hashlib

    sha256 = hashlib.sha256(data).hexdigest()
    for _ in range(2):
        store.keep(path, sha256=sha256, name="export.bin")
    assert store.original(sha256) == data
    assert [(e.sha256, e.name) for e in store.waiting()] == [(sha256, "export.bin")]
    with pytest.raises(StoreError, match="no hash"):
        store.original("../../etc/passwd")


def test_small_tables_replace_rows_with_the_same_key(store):
    first = conform(pl.DataFrame({"site": ["A", "B"], "name": ["a", "b"]}), SITE)
    before = store.version()
    store.put("sites", first, key=["site"])
    version = store.version()
    assert version != before
    store.put("sites", first, key=["site"])
    assert store.version() == version
    more = pl.DataFrame({"site": ["B", "C", "C"], "name": ["new", "c", "last"]})
    store.put("sites", conform(more, SITE), key=["site"])
    assert store.version() != version
    found = store.table("sites", SITE)
    assert found.schema == pl.Schema(SITE)
    assert found.select("site", "name").rows() == [("A", "a"), ("B", "new"), ("C", "last")]


def test_small_tables_hold_lists_and_grow_columns(store):
    zones = conform(
        pl.DataFrame({"site": ["A", "A"], "zone": ["1", None], "area": [["1", "2"], []]}), ZONE
    )
    store.put("zones", zones.select("site", "zone", "area"), key=["site", "zone"])
    store.put("zones", zones, key=["site", "zone"])
    assert store.table("zones", ZONE).sort("zone").equals(zones.sort("zone"))
    assert store.table("weather", ZONE).is_empty()
    with pytest.raises(UsageError):
        store.put("../events", zones, key=["site"])


def test_small_tables_of_odd_types(store):
    frame = pl.DataFrame(
        {
            "site": pl.Series(["A"], dtype=pl.Enum(["A"])),
            "n": pl.Series([200], dtype=pl.UInt8),
            "none": [None],
        }
    )
    store.put("odd", frame, key=["site"])
    shape = {"site": pl.String(), "n": pl.Int64(), "none": pl.String()}
    assert store.table("odd", shape).rows() == [("A", 200, None)]
    with pytest.raises(StoreError, match="cannot be stored"):
        store.put("odd", frame.with_columns(t=pl.lit(timedelta(1))), key=["site"])


def test_check_finds_each_thing_that_is_wrong(store, tmp_path):
    assert store.check() == []
    folder, sha256 = tmp_path / "store", export_of(pack(ROWS)).sha256
    waiting = pack([["S1", 1, ["5"]]])
    store.keep(waiting, sha256=export_of(waiting).sha256, name="waiting.csv")
    packed = folder / "originals" / f"{sha256}.zst"
    whole = packed.read_bytes()

    def told():
        return {problem.what.split(" (")[0] for problem in store.check()}

    left = {"an export was kept but not taken, or not to the end"}
    assert told() == left
    packed.write_bytes(whole[:-9])
    assert told() == left | {"the original is not what it was"}
    with pytest.raises(DamagedStore):
        store.original(sha256)
    packed.unlink()
    assert told() == left | {"the original of an export is missing"}
    packed.write_bytes(whole)
    record = folder / "originals" / f"{sha256}.1.json"
    said = record.read_bytes()
    record.unlink()
    assert "the record of an export is missing or cannot be read" in told()
    record.write_bytes(said.replace(b'"rows":70', b'"rows":60'))
    assert told() == left | {"an export of 60 rows has 70 in the table"}
    record.write_bytes(said)
    file = next((folder / "events").glob("bucket=*/*.parquet"))
    content = file.read_bytes()
    file.write_bytes(content[:-200])
    assert told() == left | {"a file of the table is damaged"}
    file.unlink()
    assert told() == left | {"a file of the table is missing"}
    with pytest.raises(DamagedStore):
        keep_and_take(store, pack([*ROWS, ["S0", 0, ["7"]]]))
    file.write_bytes(content)
    assert told() == left


def test_rows_that_stand_there_twice_are_found(store, tmp_path):
    """Only a writer that goes round the one door can do this."""
    path = str(tmp_path / "store" / "events")
    pl.scan_delta(DeltaTable(path)).filter(pl.col("site") == "S1").collect().write_delta(
        path, mode="append"
    )
    assert [problem.what for problem in store.check()] == ["a site holds rows twice"]


def test_history_tells_what_was_done(store):
    keep_and_take(store, pack([["S1", 1, ["5"]]]))
    done = store.history()
    assert done["version"].to_list() == [2, 1, 0]
    assert done["rows"].to_list() == [1, 70, None]
    assert done["readable"].all()
    assert done["at"][0] <= datetime.now(UTC)


def test_only_one_module_writes_to_tables():
    from pathlib import Path

    import eventlab.store

    folder = Path(eventlab.store.__file__).parent
    for call, modules in {
        "asked.transactions": {"commit.py"},
        "create_write_transaction(": {"commit.py"},
        "write_deltalake(": {"commit.py", "shelf.py"},  # the shelf makes empty tables
    }.items():
        assert {p.name for p in folder.glob("*.py") if call in p.read_text("utf-8")} == modules
