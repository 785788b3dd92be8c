"""Facts about types that a Delta table holds, and about reading only what is asked for."""

from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest
from deltalake import DeltaTable, write_deltalake

from tests.contracts.delta import append, make, rows

REFUSED = "panicked|Cast error|Invalid data type|Null"
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def back(path, series):
    write_deltalake(str(path), pl.DataFrame({"v": series}))
    return pl.scan_delta(DeltaTable(str(path))).collect()["v"]


@pytest.mark.parametrize(
    "series",
    [
        pl.Series(["a"], dtype=pl.Enum(["a"])),
        pl.Series(["a"], dtype=pl.Categorical),
        pl.Series([200], dtype=pl.UInt8),
        pl.Series([1], dtype=pl.Duration("us")),
        pl.Series([None], dtype=pl.Null),
    ],
    ids=lambda series: str(series.dtype)[:8],
)
def test_these_are_refused_and_have_to_be_cast(tmp_path, series):
    with pytest.raises(Exception, match=REFUSED):
        back(tmp_path / "t", series)


def test_unsigned_numbers_come_back_signed(tmp_path):
    assert back(tmp_path / "t", pl.Series([1], dtype=pl.UInt32)).dtype == pl.Int32


@pytest.mark.parametrize(
    "series",
    [
        pl.Series(["a", None, "ä'\"\n"]),
        pl.Series([1, None], dtype=pl.Int32),
        pl.Series([NOON, None], dtype=pl.Datetime("us", "UTC")),
        pl.Series([NOON.replace(tzinfo=None), None], dtype=pl.Datetime("us")),
        pl.Series([NOON.date(), None]),
        pl.Series([["a", "b"], [], None], dtype=pl.List(pl.String)),
        pl.Series([True, None]),
        pl.Series([0.5, None]),
    ],
    ids=lambda series: str(series.dtype),
)
def test_these_come_back_as_they_were(tmp_path, series):
    assert back(tmp_path / "t", series).equals(series.alias("v"))
    assert back(tmp_path / "u", series).dtype == series.dtype


def test_a_missing_column_is_refused(tmp_path):
    path = make(tmp_path / "t")
    with pytest.raises(Exception, match="number of fields"):
        append(DeltaTable(path), rows("A").drop("site"))


def test_an_enum_in_a_file_that_notes_text_is_text(tmp_path):
    """The library noted the enum of old files; readers of the table would refuse it."""
    path = tmp_path / "one.parquet"
    text = pl.DataFrame({"v": ["b", None, "a", "b"], "w": pl.Series([None] * 4, dtype=pl.String)})
    enums = text.with_columns(
        pl.col("v").cast(pl.Enum(["unused", "b", "a"])), pl.col("w").cast(pl.Enum([]))
    )
    enums.write_parquet(path)
    assert pl.read_parquet(path).schema["v"] == pl.Enum(["unused", "b", "a"])
    text.write_parquet(tmp_path / "types.parquet")
    types = pl.read_parquet_metadata(tmp_path / "types.parquet")["ARROW:schema"]
    enums.write_parquet(path, metadata={"ARROW:schema": types})
    assert pl.read_parquet(path).equals(text)
    assert pl.read_parquet(path).schema == text.schema


@pytest.fixture
def hidden(tmp_path):
    """A table of three buckets; the files of all but the second are gone."""
    path = make(tmp_path / "t")
    for bucket in (1, 2, 3):
        append(DeltaTable(path), rows("A", "B", bucket=bucket))
    for folder in Path(path).glob("bucket=*"):
        if folder.name != "bucket=2":
            for file in folder.iterdir():
                file.unlink()
    return pl.scan_delta(DeltaTable(path))


def test_files_of_other_buckets_are_not_opened(hidden):
    only = hidden.filter(pl.col("bucket") == 2)
    assert only.collect().height == 2
    assert only.filter(pl.col("site") == "A").collect().height == 1
    assert hidden.filter(pl.col("bucket").is_in([2])).collect().height == 2
    with pytest.raises(FileNotFoundError):
        hidden.collect()


def test_a_filter_after_a_window_function_opens_them_all(hidden):
    numbered = hidden.with_columns(n=pl.int_range(pl.len()).over("site"))
    with pytest.raises(FileNotFoundError):
        numbered.filter(pl.col("bucket") == 2).collect()
