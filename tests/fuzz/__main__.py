"""Many inputs over all processors: ``python -m tests.fuzz --count 200000``."""

import argparse
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context

CHUNK = 100


def main():
    """Run, and end with 1 where anything went wrong."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--count", type=int, default=200_000)
    asked.add_argument("--first", type=int, default=0, help="the first number")
    asked.add_argument("--processes", type=int, default=os.cpu_count())
    asked.add_argument("--sheets", action="store_true", help="no further than to rows of cells")
    said = asked.parse_args()
    os.environ["POLARS_MAX_THREADS"] = "1"
    from tests.fuzz.running import Ran, run

    total, began = Ran(), time.monotonic()
    ends = said.first + said.count
    with ProcessPoolExecutor(said.processes, mp_context=get_context("spawn")) as pool:
        jobs = [
            pool.submit(run, first, min(CHUNK, ends - first), sheet_only=said.sheets)
            for first in range(said.first, ends, CHUNK)
        ]
        for job in as_completed(jobs):
            ran = job.result()
            total.add(ran)
            for wrong in ran.wrong:
                print(wrong, flush=True)
            if total.number % (10 * CHUNK) == 0:
                took = time.monotonic() - began
                rate = total.number / took
                left = (said.count - total.number) / rate
                print(
                    f"{total.number} after {took:.0f} s, {rate:.1f} a second, "
                    f"{left:.0f} s to go, the slowest {total.slowest_s:.2f} s",
                    flush=True,
                )
    print(
        f"{total.number} inputs with {total.rows} rows in {time.monotonic() - began:.0f} s: "
        f"{total.refused} refused with a reason, {total.asked} asked about, "
        f"the slowest {total.slowest_s:.2f} s, wrong {len(total.wrong)}"
    )
    return 1 if total.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
