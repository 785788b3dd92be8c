"""How much slower than the bare library an intake is: a ratio within one run.

Run: python -m tests.benchmarks.intake [rows] [sites]
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


def main() -> None:
    """Print seconds, peak memory and the ratio."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 5_000_000
    sites = int(sys.argv[2]) if len(sys.argv) > 2 else 2_000
    with tempfile.TemporaryDirectory() as folder:
        log, parquet, store = (Path(folder) / name for name in ("log.csv", "bare", "store"))
        write(log, rows=rows, sites=sites)
        sys.stdout.write(f"{rows} rows, {sites} sites, {log.stat().st_size / 1e6:.0f} MB\n")
        take = ("-m", "eventlab", "intake", str(log), "--store", str(store), "--format", "json")
        zone = ("--time-zone", "Europe/London")
        bare, bare_memory = _run(sys.executable, "-c", BARE, str(log), str(parquet))
        first, memory = _run(sys.executable, *take, *zone)
        again, again_memory = _run(sys.executable, *take, *zone)
        for name, seconds, peak in (
            ("read as text, write Parquet", bare, bare_memory),
            ("intake", first, memory),
            ("the same file again", again, again_memory),
        ):
            sys.stdout.write(
                f"{name:30} {seconds:7.2f} s  {seconds / bare:5.2f} x  peak {peak:5.2f} GB\n"
            )


if __name__ == "__main__":
    main()
