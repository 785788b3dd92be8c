"""How often a point that alarms as the siren stops is found, and how often one that does not.

``python -m tests.proving.siren`` prints both for the held-out seed: sites of eight points, of which
the first alarms as the siren stops on 5, 8, 12 or 20 nights of a year, beside alarms of its own;
and sites where nothing does, on the four backgrounds. ``--write`` puts the share right into the
table of the analyses.
"""

import argparse
import math

import polars as pl

from eventlab.analysis import siren
from eventlab.ground import lay
from eventlab.schema import Pattern
from eventlab.settings import Settings
from eventlab.simulate import BACKGROUNDS
from eventlab.simulate.single import site_events
from eventlab.simulate.sounding import sounding
from eventlab.stats import share_interval
from tests.proving.measured import put

TUNING, HELD_OUT = 61, 6061
NIGHTS = (5, 8, 12, 20)
SITES, HEALTHY = 40, 100
SETTINGS = Settings()


def found(seed: int, sites: int, nights: int, background: str = "bad-days") -> pl.DataFrame:
    """Give the findings of so many sites; their first point alarms so often as the siren stops."""
    made = site_events(seed, sites=sites, background=background)
    if nights:
        made = sounding(made, seed, nights)
    return siren.find(lay(made.events, made.context, SETTINGS), made.context, SETTINGS)


def right(got: pl.DataFrame) -> pl.DataFrame:
    """Keep the findings about the point that does it."""
    return got.filter(pl.col("subject") == "1")


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--tuning", action="store_true", help="the seed that may be looked at")
    asked.add_argument("--write", action="store_true", help="put the share right into the table")
    given = asked.parse_args()
    seed = TUNING if given.tuning else HELD_OUT
    every, good = 0, 0
    for place, nights in enumerate(NIGHTS):
        got = found(seed + place, SITES, nights)
        every, good = every + got.height, good + right(got).height
        print(
            f"{nights:>3} nights: found at {right(got).height} of {SITES} sites, "
            f"of other points {got.height - right(got).height}"
        )
    for place, background in enumerate(BACKGROUNDS):
        got = found(seed + 10 + place, HEALTHY, 0, background)
        print(f"nothing does it, {background}: {got['site'].n_unique()} of {HEALTHY} sites")
    low, high = (float(one) for one in share_interval(good, every)[1:3])
    print(f"right: {good} of {every} ({low:.2f} to {high:.2f})")
    if given.write and not given.tuning:
        share = math.floor(100 * (good + 0.5) / (every + 1)) / 100
        basis = f"exact test of nights; simulated, seed {seed}: {good} of {every} right"
        told = f"{basis} ({low:.2f} to {high:.2f})"
        put([(str(Pattern.FOLLOWS_SIREN), "plain", 0, share, every, told)])


if __name__ == "__main__":
    main()
