"""What panels and detectors hide: power and false findings of points that repeat, by their habits.

``python -m tests.proving.habits`` makes the same sites again and again, each time with one habit
for all: a trip limit of 1, 2 or 3, alarms latched until the disarm, bypasses that end without a
row, a panel that keeps 250 rows, a detector that sleeps 180 s after each trip.
"""

import argparse

import polars as pl

from eventlab.schema import Pattern
from eventlab.simulate.ordinary import Habits
from tests.proving.judging import prove

WATCHED = (
    Pattern.CHATTERING,
    Pattern.SWINGER,
    Pattern.FOLLOWS_POINT,
    Pattern.STORM_BURST,
)
HABITS = {
    "as drawn": Habits(),
    "trip limit 1": Habits(panel={"trip_limit": 1}),
    "trip limit 2": Habits(panel={"trip_limit": 2}),
    "trip limit 3": Habits(panel={"trip_limit": 3}),
    "no trip limit": Habits(panel={"trip_limit": 0}),
    "latched until the disarm": Habits(panel={"latched": True}),
    "bypasses end untold": Habits(panel={"lifts": False}),
    "ring of 250 rows": Habits(ring=250),
    "lock-out of 180 s": Habits(lockout_s=180),
    "lock-out, no trip limit": Habits(panel={"trip_limit": 0}, lockout_s=180),
}
SEED = 31


def table(sites: int) -> pl.DataFrame:
    """Count, by habit, the troubles found of those made, and what was found where there is none.

    Parameters
    ----------
    sites : int
        How many by habit: half of them with a trouble, half with nothing wrong.
    """
    rows = []
    for name, habits in HABITS.items():
        troubles = (*WATCHED, *([None] * len(WATCHED)))
        judged = prove(SEED, sites=sites, troubles=troubles, habits=habits)
        ours = judged.found.filter(pl.col("pattern").is_in(list(WATCHED)))
        quiet = judged.sites.filter(pl.col("trouble") == "nothing")
        false = ours.join(quiet.select("site"), on="site", how="semi")
        row = {"habit": name}
        for pattern in WATCHED:
            made = judged.planted.filter(pl.col("pattern") == pattern)
            row[str(pattern)] = f"{made['hit'].sum()} of {made.height}"
        row["wrong"] = f"{(~ours['right']).sum()} of {ours.height}"
        row["sites with nothing wrong"] = f"{false['site'].n_unique()} of {quiet.height}"
        rows.append(row)
    return pl.DataFrame(rows)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--sites", type=int, default=160)
    given = asked.parse_args()
    with pl.Config(
        tbl_rows=-1, tbl_cols=-1, tbl_width_chars=200, tbl_formatting="ASCII_MARKDOWN",
        tbl_hide_dataframe_shape=True, tbl_hide_column_data_types=True,
    ):  # fmt: skip
        print(table(given.sites))


if __name__ == "__main__":
    main()
