"""A process that does what it is told with a store, and can be killed at any instant.

It warms up first (libraries loaded, one intake done elsewhere), then waits for orders on its
standard input: ``intake STORE FILE…`` or ``tidy STORE``. It says ``begun`` and ``done``.
"""

import sys
import tempfile
from pathlib import Path


def intake(store, *files):
    from eventlab.lab import Lab

    Lab(store, create=True).take(files, site="A", time_zone="Europe/London")


def tidy(store):
    from eventlab.store import Store

    Store.open(store).tidy()


def main():
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "log.csv"
        log.write_text("Date,Time,Event\n13/03/2025,18:00:03,Zone 1 alarm\n")
        intake(str(Path(folder) / "store"), str(log))
        tidy(str(Path(folder) / "store"))
    print("ready", flush=True)
    for line in sys.stdin:
        what, *words = line.rstrip("\n").split("\t")
        print("begun", flush=True)
        {"intake": intake, "tidy": tidy}[what](*words)
        print("done", flush=True)


if __name__ == "__main__":
    main()
