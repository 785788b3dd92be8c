"""Killed (SIGKILL) at random instants of intake and of upkeep, then done again.

Events, unread rows and originals equal those of an undisturbed run, row for row. Half of
the instants are spread over the time that the work takes; half follow closely upon one of the
things that it does to the store's folder, so that they fall between original, record, data files,
commit and what comes after.
"""

import os
import random
import shutil
import subprocess
import sys
import time
from collections import Counter

import pytest

from eventlab.lab import Lab
from eventlab.schema import SITE

FEW, MANY = 6, 300
HEAD = "Date,Time,Event\n"


def rows(first, last):
    """Rows of one log; some cannot be read, some are alike."""
    for n in range(first, last):
        what = "Who knows" if n % 9 == 0 else f"Zone {n % 7} alarm"
        yield (
            f"{13 + n // 600}/03/2025,{n // 60 % 10 + 10}:{n % 60:02}:{n % 3 * 20:02},{what}\n"
            * (1 + (n % 50 == 0))
        )


FILES = {
    "one.csv": HEAD + "".join(rows(0, 400)),
    "two.csv": HEAD + "".join(rows(200, 700)),
    "sites.csv": "site,name,time_zone\nA,Old Mill,Europe/London\n",
}
BEFORE = HEAD + "".join(rows(100, 300))


class Worker:
    """A warm process that waits for one order."""

    def __init__(self):
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.store.killed"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            bufsize=1,
        )

    def heard(self, word):
        assert self.process.stdout.readline().strip() == word

    def order(self, *words):
        print(*words, sep="\t", file=self.process.stdin, flush=True)
        self.heard("begun")

    def end(self):
        self.process.kill()
        self.process.wait()
        self.process.stdin.close()
        self.process.stdout.close()


class Workers:
    """The next process warms up while this one works."""

    def __init__(self):
        self.next = Worker()

    def take(self):
        ready, self.next = self.next, Worker()
        ready.heard("ready")
        return ready


@pytest.fixture(scope="module")
def workers():
    found = Workers()
    yield found
    found.next.end()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Files to take, and a store as it stands before."""
    folder = tmp_path_factory.mktemp("killed")
    for name, text in {**FILES, "before.csv": BEFORE}.items():
        (folder / name).write_text(text)
    lab = Lab(folder / "before", create=True)
    lab.take([folder / "before.csv"], site="A", time_zone="Europe/London")
    lab.take([folder / "two.csv"], site="B", time_zone="Europe/London")
    return folder


def held(store):
    """All that a store holds: rows, originals, exports and lists; not when or in which file."""
    lab = Lab(store)
    exports = lab.store.exports()
    return (
        Counter(lab.store.events().collect().rows()),
        {sha: lab.store.original(sha) for sha in exports["sha256"]},
        exports.drop("taken_at").rows(),
        lab.store.table("sites", SITE).rows(),
    )


def killed_and_again(workers, folder, order, moments):
    """Do the work once undisturbed; then kill it at each moment and do it again."""
    worker = workers.take()
    shutil.copytree(folder / "before", folder / "calm")
    begun = time.monotonic()
    worker.order(*order(folder / "calm"))
    worker.heard("done")
    lasts = time.monotonic() - begun
    calm = held(folder / "calm")
    stages = Counter()
    chance = random.Random(20250313)
    for number in range(moments):
        if worker is None:
            worker = workers.take()
        store = folder / f"store{number}"
        shutil.copytree(folder / "before", store)
        worker.order(*order(store))
        if number % 2:
            # Evenly over the work and a little beyond, each somewhere in its own share.
            time.sleep(lasts * 1.1 * (number + chance.random()) / moments)
        else:
            # Just behind a random one of the things that it does to the folder.
            changes(store, chance.randint(1, 30), until=time.monotonic() + 3 * lasts + 0.5)
            time.sleep(chance.random() * 0.01)
        worker.end()
        worker = None
        stages[stage(store, folder / "before")] += 1
        again(order(store))
        assert held(store) == calm, number
        found = Lab(store).store.check()
        assert [problem for problem in found if not problem.waits] == []
        shutil.rmtree(store)
    shutil.rmtree(folder / "calm")
    print(f"\n{moments} kills over {lasts:.2f} s: {dict(stages)}")
    return stages


def changes(folder, count, *, until):
    """Wait until so many changes were seen in a folder."""
    seen = None
    while count >= 0 and time.monotonic() < until:
        now = sorted(path.name for path in folder.rglob("*"))
        count -= now != seen
        seen = now
        time.sleep(0.0005)


def stage(store, before):
    """Tell how far the work had come, by what lies there."""
    now, then = [
        {
            "list": len(list(where.glob("context/*/_delta_log/*.json"))),
            "original": len(list(where.glob("originals/*.zst"))),
            "half": len(list(where.rglob("*.part"))),
            "record": len(list(where.glob("originals/*.[0-9]*.json"))),
            "data": len(list(where.glob("events/bucket=*/*.parquet"))),
            "commit": len(list(where.glob("events/_delta_log/*.json"))),
        }
        for where in (store, before)
    ]
    return " ".join(f"{name}{now[name] - then[name]:+}" for name in now if now[name] != then[name])


def again(order):
    from tests.store import killed

    what, *words = order
    getattr(killed, what)(*words)


def intake(folder):
    def order(store):
        return ("intake", str(store), *(str(folder / name) for name in FILES))

    return order


def tidy(store):
    return ("tidy", str(store))


def unkempt(folder):
    """Small files to join, and what killed writers left behind more than a week ago."""
    lab = Lab(folder / "before")
    for n in range(6):
        (folder / "small.csv").write_text(HEAD + "".join(rows(700 + n, 701 + n)))
        lab.take([folder / "small.csv"], site="A", time_zone="Europe/London")
    kept = next((folder / "before" / "events").glob("bucket=*/*.parquet"))
    left = [kept.with_name(f"part-of-nobody-{n}.parquet") for n in range(20)]
    left += [folder / "before" / "originals" / f"{n}.part" for n in range(20)]
    for path in left:
        shutil.copy(kept, path)
        os.utime(path, (0, 0))


@pytest.mark.parametrize(
    "kills",
    [
        pytest.param(FEW, marks=pytest.mark.timeout(600)),
        pytest.param(MANY, marks=[pytest.mark.slow, pytest.mark.timeout(10_800)]),
    ],
)
@pytest.mark.parametrize("work", ["intake", "tidy"])
def test_killed_at_any_instant_and_done_again_all_is_as_if_undisturbed(
    workers, folder, work, kills
):
    if work == "tidy":
        unkempt(folder)
    stages = killed_and_again(workers, folder, tidy if work == "tidy" else intake(folder), kills)
    assert len(stages) > 1
