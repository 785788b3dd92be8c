"""Cut short at any stage, done again: nothing lost, nothing doubled."""

import pytest

from eventlab.errors import StoreBusy, StoreError
from eventlab.store import Store, commit, folders, originals, taking
from eventlab.store.shown import Shown
from tests.store.model import export_of, held, keep_and_take, pack, read

ROWS = [[f"S{n % 5}", n * 10, ["1"]] for n in range(40)]


class Killed(BaseException):
    """Stands for the end of the process."""


def kill(*args, **kwargs):
    raise Killed


@pytest.fixture
def store(tmp_path):
    store = Store.create(tmp_path / "store", buckets=4)
    keep_and_take(store, pack(ROWS[:10]))
    return store


def undisturbed(tmp_path, *exports):
    store = Store.create(tmp_path / "undisturbed", buckets=4)
    for rows in exports:
        keep_and_take(store, pack(rows))
    return held(store)


def before_the_record(patch):
    patch.setattr(originals.Originals, "add_record", kill)


def before_the_data(patch):
    patch.setattr(taking, "write", kill)


def in_the_middle_of_the_data(patch):
    whole = Shown.stored

    def half(self, fresh, source):
        for number, frame in enumerate(whole(self, fresh, source)):
            if number == 2:
                raise StoreError("the disk is full")
            yield frame

    patch.setattr(Shown, "stored", half)


def between_data_and_commit(patch):
    """All files are written; the log never hears of them."""

    def elsewhere(table, asked):
        assert asked.made
        raise Killed

    patch.setattr(commit, "_write", elsewhere)


def after_the_commit(patch):
    patch.setattr(commit, "_checkpoint", kill)


STAGES = [
    before_the_record,
    before_the_data,
    in_the_middle_of_the_data,
    between_data_and_commit,
    after_the_commit,
]


@pytest.mark.parametrize("stage", STAGES, ids=lambda stage: stage.__name__)
def test_a_take_cut_short_is_simply_done_again(store, tmp_path, monkeypatch, stage):
    before = held(store)
    with monkeypatch.context() as patch:
        stage(patch)
        with pytest.raises((Killed, StoreError)):
            keep_and_take(store, pack(ROWS))
    if stage is after_the_commit:
        assert store.waiting() == []
    else:
        assert held(store) == before
        assert [export.sha256 for export in store.waiting()] == [export_of(pack(ROWS)).sha256]
        assert store.exports().height == 1
        assert "not taken" in store.check()[0].what
    taken = keep_and_take(store, pack(ROWS))
    assert taken.already == (stage is after_the_commit)
    assert held(store) == undisturbed(tmp_path, ROWS[:10], ROWS)
    assert (store.waiting(), store.check()) == ([], [])


def test_an_original_half_written_is_not_there(tmp_path, monkeypatch):
    store = Store.create(tmp_path / "store")
    data = pack(ROWS)
    sha256 = export_of(data).sha256
    with monkeypatch.context() as patch:
        patch.setattr(folders.os, "fsync", kill)
        with pytest.raises(Killed):
            store.keep(data, sha256=sha256, name="log.csv")
    assert store.waiting() == []
    store.keep(data, sha256=sha256, name="log.csv")
    assert store.original(sha256) == data


def test_a_file_that_changes_while_it_is_read_is_refused(tmp_path):
    store = Store.create(tmp_path / "store")
    with pytest.raises(StoreError, match="changed"):
        store.keep(b"later", sha256=export_of(b"[]").sha256, name="log.csv")
    assert store.waiting() == []


def before_the_commit(patch):
    patch.setattr(commit, "_write", kill)


@pytest.mark.parametrize("stage", [before_the_commit, after_the_commit], ids=lambda s: s.__name__)
def test_a_drop_cut_short_is_simply_done_again(store, monkeypatch, stage):
    export = export_of(pack(ROWS[:10]))
    keep_and_take(store, pack(ROWS[5:]))
    before = held(store)
    with monkeypatch.context() as patch:
        stage(patch)
        with pytest.raises(Killed):
            store.rebuild([], read, drop=frozenset({export.sha256}))
    if stage is before_the_commit:
        assert held(store) == before
        store.rebuild([], read, drop=frozenset({export.sha256}))
    else:
        assert store.export(export.sha256) is None
        assert store.waiting() == []
        assert "left behind" in store.check()[0].what
        assert store.tidy().leftovers == 1
    assert store.check() == []
    assert {place[0] for place in held(store).values()} == {export_of(pack(ROWS[5:])).sha256}


def test_a_new_answer_counts_only_once_its_rows_are_there(store, monkeypatch):
    before = store.export(export_of(pack(ROWS[:10])).sha256)
    after = export_of(pack(ROWS[:10]), site="S9")
    with monkeypatch.context() as patch:
        before_the_commit(patch)
        with pytest.raises(Killed):
            store.rebuild([], read, change={after.sha256: after})
    assert store.export(after.sha256) == before
    store.rebuild([], read, change={after.sha256: after})
    assert store.export(after.sha256) == after
    assert store.events().collect()["site"].unique().to_list() == ["S9"]


def test_a_commit_that_went_through_unheard_is_told_as_what_it_did(store, monkeypatch):
    """The library may fail after its commit; what was counted is told, not "known already"."""
    from deltalake.exceptions import CommitFailedError

    write = commit._write
    calls = []

    def loud(table, asked):
        write(table, asked)
        calls.append(asked)
        raise CommitFailedError("the answer was lost")

    monkeypatch.setattr(commit, "_write", loud)
    taken = keep_and_take(store, pack(ROWS))
    assert len(calls) == 1
    assert (taken.read, taken.repeated, taken.already) == (30, 10, False)
    drop = frozenset({export_of(pack(ROWS)).sha256})
    assert store.rebuild([], read, drop=drop).dropped == tuple(drop)
    assert len(calls) == 2


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), Exception("odd")])
def test_what_the_library_refuses_is_told_in_one_line(store, monkeypatch, error):
    def refuse(table, asked):
        raise error

    monkeypatch.setattr(commit, "_write", refuse)
    with pytest.raises(StoreError, match="the table refused"):
        keep_and_take(store, pack(ROWS))


def test_who_never_gets_a_turn_is_told(store, monkeypatch):
    from deltalake.exceptions import CommitFailedError

    def lose(table, asked):
        raise CommitFailedError("somebody was faster")

    monkeypatch.setattr(commit, "_write", lose)
    monkeypatch.setattr(commit, "LONGEST_PAUSE_S", 0.0)
    monkeypatch.setattr(commit, "TRIES", 6)
    before = held(store)
    with pytest.raises(StoreBusy):
        keep_and_take(store, pack(ROWS))
    assert held(store) == before
