"""Whatever is missing or damaged is named, with what to do; nothing is taken by halves."""

import os
import random
import shutil
import subprocess
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import unquote

import polars as pl
import pytest
from deltalake import DeltaTable

from eventlab.cli import main
from eventlab.errors import DamagedStore, EventlabError, StoreError
from eventlab.schema import SITE, conform
from eventlab.store import Store
from tests.store.model import held, keep_and_take, pack, read

FIRST = [[f"S{n % 5}", n * 10, ["1"]] for n in range(2000)]
SECOND = [[f"S{n % 5}", n * 10, ["1"]] for n in range(1000, 3000)]


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A store with rows, a list and a checkpoint; tests damage copies of it."""
    folder = tmp_path_factory.mktemp("whole") / "store"
    store = Store.create(folder, buckets=4)
    keep_and_take(store, pack(FIRST))
    keep_and_take(store, pack([["S1", 5, ["9"]]]))
    store.put("sites", conform(pl.DataFrame({"site": ["S1"]}), SITE), key=["site"])
    DeltaTable(str(folder / "events")).create_checkpoint()
    keep_and_take(store, pack([["S1", 7, ["9"]]]))
    keep_and_take(store, pack([["S1", 8, ["9"]]]))
    return folder


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "store"


@pytest.fixture
def store(whole, folder):
    shutil.copytree(whole, folder)
    return Store.open(folder)


def gone(path):
    path.unlink()


def cut(path):
    path.write_bytes(path.read_bytes()[:100])


def flipped(path):
    """One byte is another one, somewhere in the middle."""
    data = bytearray(path.read_bytes())
    data[len(data) // 3] ^= 0x10
    path.write_bytes(data)


def largest(files):
    return max(files, key=lambda path: path.stat().st_size)


DAMAGE = {
    "a file of events is gone": ("events/bucket=*/*.parquet", gone),
    "a file of events is cut": ("events/bucket=*/*.parquet", cut),
    "a byte in a file of events is another": ("events/bucket=*/*.parquet", flipped),
    "a commit is gone": ("events/_delta_log/*3.json", gone),
    "a commit is cut": ("events/_delta_log/*3.json", cut),
    "the checkpoint is gone": ("events/_delta_log/*.checkpoint.parquet", gone),
    "the checkpoint is cut": ("events/_delta_log/*.checkpoint.parquet", cut),
    "an original is gone": ("originals/*.zst", gone),
    "an original is cut": ("originals/*.zst", cut),
    "a byte in an original is another": ("originals/*.zst", flipped),
    "a record is gone": ("originals/*.1.json", gone),
    "a record is cut": ("originals/*.1.json", cut),
    "a list of sites is gone": ("context/sites/*.parquet", gone),
    "a list of sites is cut": ("context/sites/*.parquet", cut),
    "a commit of a list is cut": ("context/sites/_delta_log/*1.json", cut),
}
SHOWS_AT_ONCE = ("events", "commit", "checkpoint")


@pytest.mark.parametrize(("files", "damage"), DAMAGE.values(), ids=DAMAGE)
def test_check_names_what_is_wrong_and_what_to_do(store, folder, capsys, files, damage):
    assert store.check() == []
    path = largest(folder.glob(files))
    content = path.read_bytes()
    damage(path)
    found = store.check()
    assert found
    named = path.name.split(".")[0]
    assert any(named in problem.where for problem in found), found
    assert all(problem.do for problem in found)
    with pytest.raises(SystemExit) as left:
        main(["store", "check", "--store", str(folder)])
    assert left.value.code == 1
    assert named in capsys.readouterr().out
    path.write_bytes(content)
    assert store.check() == []


@pytest.mark.parametrize(("files", "damage"), DAMAGE.values(), ids=DAMAGE)
def test_who_meets_it_is_told_and_nothing_is_changed(store, folder, files, damage):
    path = largest(folder.glob(files))
    content = path.read_bytes()
    before = held(store)
    damage(path)

    def use():
        keep_and_take(store, pack(SECOND))
        store.rebuild([f"S{n}" for n in range(5)], read)
        store.table("sites", SITE)

    if damage is flipped and "events" in files:
        pytest.skip("a changed byte in a table file is found by looking for it, not on the way")
    with pytest.raises(DamagedStore) as told:
        use()
    assert path.name.split(".")[0] in str(told.value)
    assert told.value.do
    path.write_bytes(content)
    assert set(before) <= set(held(store))
    use()
    assert store.check() == []


@pytest.mark.parametrize("left", ["originals", "events"])
def test_a_store_without_its_list_is_not_made_anew(store, folder, left):
    shutil.rmtree(folder / "events" / "_delta_log")
    if left == "originals":
        shutil.rmtree(folder / "events")
    with pytest.raises(DamagedStore, match="is missing"):
        Store.open(folder, create=True)
    assert store.check()


def test_a_changed_byte_is_found_in_joined_and_rebuilt_files_too(store, folder):
    store.rebuild(["S1"], read)
    store.tidy()
    assert store.check() == []
    for name in DeltaTable(str(folder / "events")).file_uris():
        path = Path(unquote(name.removeprefix("file://")))
        content = path.read_bytes()
        flipped(path)
        assert any(path.name in problem.where for problem in store.check())
        path.write_bytes(content)


@contextmanager
def small_disk(path, size):
    """A file system of a few kilobytes, where this machine allows to make one."""
    path.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "none", str(path)],
        capture_output=True,
        check=False,
    )
    if made.returncode:
        pytest.skip("no right to mount a small disk")
    try:
        yield
    finally:
        subprocess.run(["umount", str(path)], check=True)


@pytest.mark.parametrize("size", ["96k", "128k", "160k", "192k"])
def test_a_full_disk_is_told_and_nothing_is_half_taken(tmp_path, size):
    rows = [
        [f"S{n % 5}", n * 10, [f"{random.Random(n).random()}"]]  # nothing that compresses
        for n in range(4000)
    ]
    with small_disk(tmp_path / "small", size):
        store = Store.create(tmp_path / "small" / "store", buckets=4)
        keep_and_take(store, pack(FIRST[:50]))
        before = held(store)
        with pytest.raises((EventlabError, OSError)) as told:
            keep_and_take(store, pack(rows))
        assert "No space left" in str(told.value), told.value
        assert held(store) == before
        assert [problem.what for problem in store.check() if not problem.waits] == []
        subprocess.run(
            ["mount", "-o", "remount,size=8m", str(tmp_path / "small")],
            check=True,
            capture_output=True,
        )
        assert keep_and_take(store, pack(rows)).read == len(rows)
        assert store.check() == []


@pytest.fixture
def no_root():
    """Nobody is kept out where everything is allowed: become another user for a while."""
    if os.geteuid() == 0:
        os.seteuid(65534)
        yield
        os.seteuid(0)
    else:
        yield


def test_a_folder_that_cannot_be_written_is_told(tmp_path, store, folder, request):
    before = held(store)
    for path in tmp_path.parents:  # pytest keeps its own folders for the user who runs it
        if not path.stat().st_mode & 0o001:
            path.chmod(path.stat().st_mode | 0o055)
    for path in [tmp_path, folder, *folder.rglob("*")]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    request.getfixturevalue("no_root")
    with pytest.raises((StoreError, PermissionError)) as told:
        keep_and_take(store, pack(SECOND))
    assert "denied" in str(told.value)
    assert held(store) == before
