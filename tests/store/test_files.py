"""Files of the table as the store writes them: what comes back, and what the log says of them."""

import hashlib
from datetime import timedelta

import polars as pl
import pytest
from deltalake import DeltaTable

from eventlab.errors import StoreError
from eventlab.schema import EVENT
from eventlab.store import Export, Store, files, folders
from tests.store.model import START, export_of, keep_and_take, pack, read

ROWS = 600


def events():
    """Columns with one value, few, many, none; times with fractions; two sites, one unknown."""
    number = pl.int_range(ROWS, eager=True)
    one = read(export_of(pack([["S1", 5, ["7"]]])), pack([["S1", 5, ["7"]]]))
    at = [START + timedelta(microseconds=1_234_567 * n) for n in range(ROWS)]
    return pl.concat([one] * ROWS).with_columns(
        site=pl.when(number % 3 == 0).then(pl.lit("Ä")).otherwise(pl.lit("")),
        at=pl.when(number % 50 != 0).then(pl.Series(at)),
        placed=pl.Series(at),
        text=pl.Series([f"only once {n}" for n in range(ROWS)]),
        zone=pl.when(number % 4 > 0).then((number % 4).cast(pl.String)),
        person=pl.when(number == 577).then(pl.lit("9")),
        area=pl.lit("1"),
        row=number + 2,
    )


@pytest.fixture
def taken(tmp_path):
    """A store that holds these events, and the folder of its table."""
    store = Store.create(tmp_path / "store", buckets=2)
    sha256 = hashlib.sha256(b"log").hexdigest()
    store.keep(b"log", sha256=sha256, name="log.csv")
    export = Export(sha256=sha256, name="log.csv", reading="reader-1", rows=ROWS)
    assert store.take(events(), export).read == ROWS
    return store, tmp_path / "store" / "events"


def test_all_columns_come_back_as_they_went_in(taken):
    store, _ = taken
    found = store.events().collect().sort("row")
    assert found.schema == pl.Schema(EVENT)
    gone_in = events()
    assert found.drop("source", "nth").equals(gone_in.drop("source", "nth"))
    # Rows without a sure time, all of one wall time: told apart by their number.
    assert found.filter(pl.col("at").is_null()).n_unique(["site", "zone", "person", "nth"]) == 12
    assert set(found.filter(pl.col("at").is_not_null())["nth"]) == {1}
    assert found["source"].unique().to_list() == [hashlib.sha256(b"log").hexdigest()]


def test_they_come_back_after_the_library_has_joined_the_files(taken):
    store, _ = taken
    keep_and_take(store, pack([["Ä", 90_000, ["8"]], ["", 90_001, ["8"]]]))
    before = store.events().collect()
    assert store.tidy().files_joined == 4
    assert store.events().collect().equals(before)


def test_the_log_tells_of_each_file_what_is_asked_for(taken):
    _, folder = taken
    told = pl.DataFrame(DeltaTable(str(folder)).get_add_actions(flatten=True))
    stored = pl.scan_delta(DeltaTable(str(folder))).collect()
    for file in told.iter_rows(named=True):
        rows = stored.filter(pl.col("bucket") == file["partition.bucket"])
        assert file["num_records"] == rows.height
        for column in ("site", "at", "placed"):
            assert file[f"min.{column}"] == rows[column].min()
            assert file[f"max.{column}"] == rows[column].max()
            assert file[f"null_count.{column}"] == rows[column].null_count()
        path = folder / file["path"]
        assert file["size_bytes"] == path.stat().st_size


def test_files_of_other_times_are_not_opened(taken):
    store, folder = taken
    keep_and_take(store, pack([["Ä", 900_000, ["8"]]]))
    first = START + timedelta(seconds=800_000)
    old = [f for f in folder.glob("bucket=*/*") if pl.read_parquet(f)["placed"].max() < first]
    for file in old:
        file.write_bytes(bytes(file.stat().st_size))
    assert store.events(since=first).collect().height == 1
    assert len(old) == 2


def test_a_folder_that_cannot_be_written_is_told_in_one_line(tmp_path):
    (tmp_path / "bucket=1").write_text("in the way")
    frame = pl.DataFrame({"site": ["S1"], "bucket": [1]})
    with pytest.raises(StoreError, match="cannot be written"):
        files.write(folders.folder(str(tmp_path)), [frame])
