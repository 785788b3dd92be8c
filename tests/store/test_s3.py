"""A store on S3: the same as in a folder, and plain words where it cannot be reached."""

import pytest

from eventlab.cli import main
from eventlab.errors import NoStore, StoreError, UsageError
from eventlab.lab import Lab
from eventlab.store import Store
from eventlab.store.folders import folder
from tests.store.model import export_of, held, keep_and_take, pack, read
from tests.store.s3 import bucket

__all__ = ["bucket"]

ROWS = [[f"S{n % 3}", n * 10, ["1"]] for n in range(30)]
SITES = "site,name,time_zone\nA,Old Mill,Europe/London\n"
LOG = (
    "Date,Time,Event\n13/03/2025,18:00:03,Zone 1 alarm\n13/03/2025,18:07:33,Zone 2 alarm\n"
    "14/03/2025,08:07:33,Area 1 disarmed by User 4\n15/03/2025,09:00:00,Who knows\n"
)


@pytest.fixture
def place(bucket, request):
    return f"{bucket}/{request.node.name}/store"


def test_it_holds_and_gives_back_what_a_folder_does(place, tmp_path):
    stores = [Store.create(where, buckets=3) for where in (place, tmp_path / "store")]
    for store in stores:
        keep_and_take(store, pack(ROWS[:20]))
        assert keep_and_take(store, pack(ROWS)).repeated == 20
        assert keep_and_take(store, pack(ROWS)).already
        store.rebuild(["S1"], read)
        store.rebuild([], read, drop=frozenset({export_of(pack(ROWS[:20])).sha256}))
        assert store.tidy().problem is None
        assert store.check() == []
    there, here = stores
    assert held(there) == held(here)
    assert there.exports().drop("taken_at").equals(here.exports().drop("taken_at"))
    assert there.version() == here.version()
    assert there.history()["what"].to_list() == here.history()["what"].to_list()
    assert there.original(export_of(pack(ROWS)).sha256) == pack(ROWS)


def test_the_command_line_takes_into_it(place, tmp_path, capsys):
    for name, text in (("sites.csv", SITES), ("A.csv", LOG)):
        (tmp_path / name).write_text(text)

    def run(*words):
        with pytest.raises(SystemExit) as left:
            main([*words])
        return left.value.code, capsys.readouterr()

    files = [str(tmp_path / "sites.csv"), str(tmp_path / "A.csv")]
    for store in (place, str(tmp_path / "store")):
        assert run("intake", *files, "--store", store, "--site", "A")[0] == 0
    there, here = Lab(place).events(), Lab(tmp_path / "store").events()
    assert there.equals(here)
    assert there.height == 4
    assert run("store", "check", "--store", place)[0] == 0
    assert run("store", "tidy", "--store", place)[0] == 0
    assert run("retake", "--store", place)[0] == 0
    code, told = run("events", "--store", f"{place}-of-another")
    assert code == 1
    assert "there is no store here" in told.err


def test_two_writers_never_make_the_same_new_file(place, tmp_path):
    for where in (place, str(tmp_path)):
        one, other = folder(where), folder(where)
        assert one.create("a/1.json", b"first")
        assert not other.create("a/1.json", b"second")
        with one.read("a/1.json") as file:
            assert file.read() == b"first"
        with other.written("a/2.json") as out:
            out.write(b"whole")
        assert [(file.name, file.size) for file in sorted(one.files(), key=str)] == [
            ("a/1.json", 5),
            ("a/2.json", 5),
        ]
        assert one.folders() == ["a"]
        with pytest.raises(OSError), one.written("a/3.json"):  # noqa: PT011  # any
            raise OSError
        one.remove("a/2.json")
        one.remove("a/2.json")
        assert [one.holds(f"a/{n}.json") for n in (1, 2, 3)] == [True, False, False]
        with pytest.raises(FileNotFoundError):
            one.read("a/2.json")


@pytest.mark.parametrize("where", ["s3://", "gs://logs/store", "http://localhost/store"])
def test_what_is_no_place_for_a_store_is_told(where):
    with pytest.raises(UsageError, match="s3://BUCKET/FOLDER"):
        Store.open(where)


def test_a_bucket_that_is_not_there_is_told(bucket):
    with pytest.raises((NoStore, StoreError)) as told:
        Store.open("s3://no-such-bucket/store", create=True)
    assert "s3://no-such-bucket/store" in str(told.value)
