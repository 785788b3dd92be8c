"""A small Delta table for the facts that the store leans on."""

import json
from pathlib import Path
from uuid import uuid4

import polars as pl
from deltalake import CommitProperties, DeltaTable, Field, Schema, Transaction, write_deltalake
from deltalake.schema import PrimitiveType
from deltalake.transaction import AddAction


def make(path):
    """Make an empty table of sites and buckets."""
    fields = [Field("site", PrimitiveType("string")), Field("bucket", PrimitiveType("integer"))]
    DeltaTable.create(str(path), schema=Schema(fields), partition_by=["bucket"])
    return str(path)


def rows(*sites, bucket=1):
    """Return one row for each site."""
    return pl.DataFrame(
        {"site": sites, "bucket": [bucket] * len(sites)},
        schema={"site": pl.String, "bucket": pl.Int32},
    )


def append(table, frame, *names, number=1):
    """Append with application transactions."""
    _write(table, frame, dict.fromkeys(names, number), mode="append")


def name(table, frame, *names, number=1):
    """Write a file beside the table and name it in a commit with application transactions."""
    actions = []
    if frame.height:
        file = f"bucket=1/{uuid4()}.parquet"
        path = Path(table.table_uri.removeprefix("file://")) / file
        path.parent.mkdir(exist_ok=True)
        frame.drop("bucket").write_parquet(path)
        figures = {
            "numRecords": frame.height,
            "minValues": {"site": frame["site"].min()},
            "maxValues": {"site": frame["site"].max()},
            "nullCount": {"site": 0},
        }
        size = path.stat().st_size
        actions = [AddAction(file, size, {"bucket": "1"}, 0, True, json.dumps(figures))]
    table.create_write_transaction(
        actions,
        "append",
        table.schema(),
        ["bucket"],
        commit_properties=CommitProperties(
            app_transactions=[Transaction(each, number) for each in names]
        ),
    )


def replace(table, frame, predicate, *names):
    """Replace what a predicate names, with application transactions."""
    _write(table, frame, dict.fromkeys(names, 1), mode="overwrite", predicate=predicate)


def _write(table, frame, transactions, **how):
    write_deltalake(
        table,
        frame,
        commit_properties=CommitProperties(
            app_transactions=[Transaction(*each) for each in transactions.items()]
        ),
        **how,
    )


def sites(path):
    """Return the sites of all rows, sorted."""
    return pl.scan_delta(DeltaTable(path)).collect()["site"].sort().to_list()
