"""Upkeep: older formats, joined files, checkpoints, old versions, and what is told of it."""

import json
from datetime import timedelta
from pathlib import Path

import polars as pl
import pytest
from deltalake import DeltaTable
from deltalake import Schema as DeltaSchema

from eventlab.cli import main
from eventlab.errors import NewerStore
from eventlab.schema import EVENT
from eventlab.store import Store, table
from tests.store.model import START, held, keep_and_take, pack, read

ROWS = [[f"S{n % 5}", n * 10, ["1"]] for n in range(60)]
LATER = ("person_name", "path", "grain")


@pytest.fixture
def older(tmp_path, monkeypatch):
    """A store as a program of format 0 made it, before some columns were thought of."""
    fields = [table.field_of(name) for name in table.TABLE if name not in LATER]
    DeltaTable.create(
        str(tmp_path / "store" / "events"),
        schema=DeltaSchema(fields),
        partition_by=[table.BUCKET],
        configuration={"eventlab.store_format": "0", "eventlab.buckets": "3"},
        raise_if_key_not_exists=False,
    )
    with monkeypatch.context() as before:
        before.setattr(table, "FORMAT", 0)
        before.setattr("eventlab.store.formats.FORMAT", 0)
        store = Store.open(tmp_path / "store")
        keep_and_take(store, pack(ROWS[:40]))
    # The old program knew nothing of what came later.
    for file in table.files(DeltaTable(str(tmp_path / "store" / "events"))):
        path = Path(file)
        size = path.stat().st_size
        pl.read_parquet(path, hive_partitioning=False).drop(LATER).write_parquet(path)
        _resized(tmp_path / "store", path.name, size, path.stat().st_size)
    return tmp_path / "store"


def _resized(folder, name, before, after):
    for log in (folder / "events" / "_delta_log").glob("*.json"):
        lines = [json.loads(line) for line in log.read_text().splitlines()]
        for line in lines:
            if line.get("add", {}).get("path", "").endswith(name):
                assert line["add"]["size"] == before
                line["add"]["size"] = after
        log.write_text("\n".join(json.dumps(line) for line in lines))


def test_an_older_store_is_read_without_writing(older):
    store = Store.open(older)
    version = store.version()
    found = store.events().collect()
    assert found.schema == pl.Schema(EVENT)
    assert found.height == 40
    assert found["person_name"].null_count() == found["grain"].null_count() == 40
    assert store.events(columns=["site", "path"]).collect()["path"].null_count() == 40
    assert store.exports()["read"].to_list() == [40]
    assert (store.version(), store.check()[:0]) == (version, [])


def test_an_older_store_is_brought_up_before_rows_are_added(older):
    store = Store.open(older)
    before = held(store)
    assert (taken := keep_and_take(store, pack(ROWS))).repeated == 40
    assert taken.read == 20
    assert before.items() <= held(store).items()
    metadata = DeltaTable(str(older / "events")).metadata()
    assert metadata.configuration["eventlab.store_format"] == str(table.FORMAT)
    assert store.events().collect()["grain"].null_count() == 40
    store.rebuild([f"S{n}" for n in range(5)], read)
    assert store.events().collect()["grain"].null_count() == 0
    assert store.history()["what"].to_list()[-4:-2] == [
        "the store was brought to a newer format",
        "columns of a newer format were added",
    ]


def test_a_newer_store_is_refused_and_left_alone(older):
    made = DeltaTable(str(older / "events"))
    made.alter.set_table_properties({"eventlab.store_format": "99"}, raise_if_not_exists=False)
    for use in (lambda: Store.open(older), lambda: Store.at(older).check()):
        with pytest.raises(NewerStore, match="format 99"):
            use()


@pytest.fixture
def store(tmp_path):
    store = Store.create(tmp_path / "store", buckets=2)
    for n in range(12):
        keep_and_take(store, pack(ROWS[n : n + 20]))
    return store


def test_many_commits_leave_a_checkpoint(store, tmp_path):
    assert list((tmp_path / "store" / "events" / "_delta_log").glob("*.checkpoint.parquet"))


def test_tidying_joins_files_and_keeps_old_ones_for_a_week(store, tmp_path):
    folder = tmp_path / "store" / "events"
    before, rows = held(store), store.events().collect()
    done = store.tidy()
    assert done.files_joined > 2
    assert done.files_removed == 0
    assert store.history()["readable"].all()
    joined = next(
        path for path in folder.glob("_delta_log/*.json") if "OPTIMIZE" in path.read_text()
    )
    old = int((START - timedelta(days=900)).timestamp() * 1000)
    lines = [json.loads(line) for line in joined.read_text().splitlines()]
    for line in lines:
        if "remove" in line:
            line["remove"]["deletionTimestamp"] = old
    joined.write_text("\n".join(json.dumps(line) for line in lines))
    for path in folder.glob("_delta_log/*.checkpoint.parquet"):
        path.unlink()
    (folder / "_delta_log" / "_last_checkpoint").unlink()
    assert store.tidy().files_removed > 2
    assert held(store) == before
    assert store.events().collect().equals(rows)
    assert store.check() == []
    told = store.history()
    assert told["readable"][0]
    assert not told["readable"].all()


def test_it_is_told_in_plain_words(store, tmp_path, capsys):
    store.rebuild(["S1"], read)
    for words in (["tidy"], ["history"], ["check"]):
        with pytest.raises(SystemExit) as left:
            main(["store", *words, "--store", str(tmp_path / "store")])
        assert left.value.code == 0
    told = capsys.readouterr().out
    for sentence in (
        "small files joined",
        "small files were joined",
        "sites were made anew",
        "rows were added (20 rows)",
        "the store was made",
        "The store is whole",
    ):
        assert sentence in told
