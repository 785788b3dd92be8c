"""How much slower than the bare library an intake is: a ratio within one run.

Run: python -m tests.benchmarks.intake [rows] [sites]

Also an export of which nine rows in ten are known, and the same file again. From twenty million
rows on only the intake itself is run, for its seconds and its peak memory: the bare library would
want the whole file in memory.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.portfolio import write

BARE = """
import polars, sys
polars.read_csv(sys.argv[1], infer_schema=False).write_parquet(sys.argv[2])
"""


def _run(*command: str) -> tuple[float, float]:
    """Run a command; return its seconds and its peak memory in GB."""
    code = (
        "import resource, subprocess, sys, time\n"
        "t = time.perf_counter()\n"
        "done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL)\n"
        "s = time.perf_counter() - t\n"
        "m = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 2**20\n"
        "print(s, m, done.returncode)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *command], capture_output=True, text=True, check=True
    )
    seconds, memory, status = done.stdout.split()
    if status != "0":
        raise SystemExit(f"{command} ended with {status}\n{done.stderr}")
    return float(seconds), float(memory)


MANY = 20_000_000
KNOWN = 0.9


def _head(log: Path, part: Path, share: float) -> None:
    """Copy the first rows of a file."""
    size = int(log.stat().st_size * share)
    with log.open("rb") as file, part.open("wb") as out:
        while size > 0 and (piece := file.read(min(size, 1 << 24))):
            out.write(piece)
            size -= len(piece)
        out.write(file.readline())


def main() -> None:
    """Print seconds, peak memory and the ratio."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 5_000_000
    sites = int(sys.argv[2]) if len(sys.argv) > 2 else 2_000
    with tempfile.TemporaryDirectory() as folder:
        log, part, parquet = (Path(folder) / name for name in ("log.csv", "part.csv", "bare"))
        write(log, rows=rows, sites=sites)
        sys.stdout.write(f"{rows} rows, {sites} sites, {log.stat().st_size / 1e6:.0f} MB\n")
        zone = ("--time-zone", "Europe/London", "--format", "json")

        def take(file: Path, store: str) -> tuple[float, float]:
            where = ("--store", str(Path(folder) / store))
            return _run(sys.executable, "-m", "eventlab", "intake", str(file), *where, *zone)

        told = []
        if rows < MANY:
            told.append(
                (
                    "read as text, write Parquet",
                    *_run(sys.executable, "-c", BARE, str(log), str(parquet)),
                )
            )
        told.append(("intake", *take(log, "store")))
        if rows < MANY:
            told.append(("the same file again", *take(log, "store")))
            _head(log, part, KNOWN)
            take(part, "known")
            told.append(("nine rows in ten known", *take(log, "known")))
        bare = told[0][1]
        for name, seconds, peak in told:
            sys.stdout.write(
                f"{name:30} {seconds:7.2f} s  {seconds / bare:5.2f} x  peak {peak:5.2f} GB\n"
            )


if __name__ == "__main__":
    main()
