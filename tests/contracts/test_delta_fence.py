"""Facts about commits that carry application transactions; the fence stands on them."""

import os
import shutil
import time
from pathlib import Path

import pytest
from deltalake import DeltaTable
from deltalake.exceptions import CommitFailedError, DeltaError

from tests.contracts.delta import append, make, name, replace, rows, sites

DAY_S = 86_400


@pytest.fixture
def path(tmp_path):
    return make(tmp_path / "table")


def test_given_by_path_the_fence_is_none(path):
    """Both writers read an empty table; the second row doubles and nobody is told."""
    for _ in range(2):
        DeltaTable(path)
    append(path, rows("A"), "site:A")
    append(path, rows("A"), "site:A")
    assert sites(path) == ["A", "A"]


def test_given_by_the_loaded_object_the_second_writer_is_refused(path):
    first, second = DeltaTable(path), DeltaTable(path)
    append(first, rows("A"), "site:A")
    with pytest.raises(CommitFailedError):
        append(second, rows("A"), "site:A")
    assert sites(path) == ["A"]


def test_other_names_do_not_hinder_each_other(path):
    first, second = DeltaTable(path), DeltaTable(path)
    append(first, rows("A"), "site:A")
    append(second, rows("B"), "site:B")
    assert sites(path) == ["A", "B"]


def test_files_named_in_a_commit_stand_behind_the_same_fence(path):
    first, second, third = (DeltaTable(path) for _ in range(3))
    name(first, rows("A"), "site:A")
    with pytest.raises(CommitFailedError):
        name(second, rows("A"), "site:A")
    with pytest.raises(CommitFailedError):
        append(second, rows("A"), "site:A")
    name(third, rows("B"), "site:B")
    assert sites(path) == ["A", "B"]
    assert DeltaTable(path).transaction_version("site:A") == 1


def test_files_named_in_a_commit_are_refused_after_a_replace(path):
    append(DeltaTable(path), rows("A"))
    table = DeltaTable(path)
    replace(DeltaTable(path), rows("A"), "bucket IN (1) AND site IN ('A')", "site:A")
    with pytest.raises(CommitFailedError):
        name(table, rows("A"), "site:A")


def test_a_replace_is_refused_after_files_were_named_in_what_it_replaces(path):
    append(DeltaTable(path), rows("A", "B"))
    table = DeltaTable(path)
    name(DeltaTable(path), rows("A"))
    with pytest.raises(CommitFailedError):
        replace(table, rows("A"), "bucket IN (1) AND site IN ('A')")
    assert sites(path) == ["A", "A", "B"]


def test_a_commit_that_names_no_file_commits_its_transaction(path):
    name(DeltaTable(path), rows(), "export:a", number=7)
    assert DeltaTable(path).version() == 1
    assert DeltaTable(path).transaction_version("export:a") == 7


def test_moving_the_loaded_object_forward_moves_the_fence(path):
    first, second = DeltaTable(path), DeltaTable(path)
    append(first, rows("A"), "site:A")
    second.update_incremental()
    append(second, rows("A"), "site:A")
    assert sites(path) == ["A", "A"]


@pytest.mark.parametrize("number", [7, 1, 0, -7])
def test_numbers_are_not_compared_and_the_last_one_is_read_back(path, number):
    append(DeltaTable(path), rows("A"), "export:a", number=5)
    append(DeltaTable(path), rows("A"), "export:a", number=number)
    assert DeltaTable(path).transaction_version("export:a") == number
    DeltaTable(path).create_checkpoint()
    append(DeltaTable(path), rows("B"), "export:b")
    assert DeltaTable(path).transaction_version("export:a") == number
    assert DeltaTable(path).transaction_version("export:c") is None


def test_an_append_of_nothing_commits_its_transaction(path):
    append(DeltaTable(path), rows(), "export:a")
    table = DeltaTable(path)
    assert table.version() == 1
    assert table.transaction_version("export:a") == 1
    other = DeltaTable(path)
    append(DeltaTable(path), rows(), "export:a")
    with pytest.raises(CommitFailedError):
        append(other, rows(), "export:a")


def test_a_log_cleaned_since_the_load_is_another_error(path):
    stale = DeltaTable(path)
    for _ in range(3):
        append(DeltaTable(path), rows("A"))
    DeltaTable(path).alter.set_table_properties({"delta.logRetentionDuration": "interval 0 days"})
    DeltaTable(path).create_checkpoint()
    old = time.time() - 3 * DAY_S
    for file in (Path(path) / "_delta_log").iterdir():
        os.utime(file, (old, old))
    DeltaTable(path).cleanup_metadata()
    with pytest.raises(DeltaError, match="Invalid table version") as refused:
        append(stale, rows("A"), "site:A")
    assert not isinstance(refused.value, CommitFailedError)


def test_a_replace_is_refused_after_an_append_to_what_it_replaces(path):
    append(DeltaTable(path), rows("A", "B"))
    table = DeltaTable(path)
    append(DeltaTable(path), rows("A"))
    with pytest.raises(CommitFailedError):
        replace(table, rows("A"), "bucket IN (1) AND site IN ('A')", "site:A")
    assert sites(path) == ["A", "A", "B"]


def test_a_replace_passes_after_an_append_beside_it_and_keeps_both(path):
    append(DeltaTable(path), rows("A", "A", "B"))
    table = DeltaTable(path)
    append(DeltaTable(path), rows("B"), "site:B")
    replace(table, rows("A"), "bucket IN (1) AND site IN ('A')", "site:A")
    assert sites(path) == ["A", "B", "B"]


def test_an_append_loaded_before_a_replace_is_refused_once(path):
    append(DeltaTable(path), rows("A"))
    append(DeltaTable(path), rows("C", bucket=2))
    table = DeltaTable(path)
    replace(DeltaTable(path), rows("A"), "bucket IN (1) AND site IN ('A')", "site:A")
    with pytest.raises(CommitFailedError):
        append(table, rows("C", bucket=2), "site:C")
    append(DeltaTable(path), rows("C", bucket=2), "site:C")
    assert sites(path) == ["A", "C", "C"]


def test_compaction_and_append_pass_in_both_orders(path):
    for site in "ABC":
        append(DeltaTable(path), rows(site))
    before, beside = DeltaTable(path), DeltaTable(path)
    append(DeltaTable(path), rows("D"), "site:D")
    before.optimize.compact()
    append(beside, rows("E"), "site:E")
    assert sites(path) == list("ABCDE")


def test_compaction_after_a_replace_is_refused_and_loses_nothing(path):
    for site in "ABC":
        append(DeltaTable(path), rows(site))
    table = DeltaTable(path)
    replace(DeltaTable(path), rows("A", "A"), "bucket IN (1) AND site IN ('A')", "site:A")
    with pytest.raises(DeltaError):
        table.optimize.compact()
    assert sites(path) == ["A", "A", "B", "C"]


def test_only_a_full_vacuum_sees_the_files_of_a_killed_writer(path):
    append(DeltaTable(path), rows("A"))
    folder = Path(path) / "bucket=1"
    orphan = folder / "part-00000-orphan.parquet"
    shutil.copy(next(folder.iterdir()), orphan)
    old = time.time() - 30 * DAY_S
    os.utime(orphan, (old, old))
    assert sites(path) == ["A"]
    assert DeltaTable(path).vacuum(retention_hours=168) == []
    assert DeltaTable(path).vacuum(retention_hours=168, full=True) == [f"bucket=1/{orphan.name}"]


def test_many_transactions_load_fast_after_a_checkpoint(path):
    names = [f"site:{number:05d}" for number in range(20_000)]
    append(DeltaTable(path), rows("A"), *names)
    DeltaTable(path).create_checkpoint()
    start = time.perf_counter()
    table = DeltaTable(path)
    assert table.transaction_version(names[-1]) == 1
    assert time.perf_counter() - start < 1
