"""How often a silence is told where nothing is wrong, and how soon a dead point is told.

``python -m tests.proving.watching`` prints the tables of the held-out seed; ``--tuning`` uses the
seed that bars may be changed by looking at. Buildings of eight points whose panels tell movement
by day, with closings, public holidays and rooms of uneven use, on four backgrounds of use.
"""

import argparse
from dataclasses import dataclass

import polars as pl

from eventlab.analysis.silent_zone import find
from eventlab.ground import lay
from eventlab.settings import Settings
from eventlab.simulate import BACKGROUNDS
from eventlab.simulate.rhythms import Used, used_sites
from eventlab.stats import share_interval

TUNING, HELD_OUT = 43, 2033
HEALTHY, SITES = 400, 100
DEAD = (5, 8, 12, 20)
"""Open days that a point has been dead."""
BATCH = 50


@dataclass(frozen=True)
class Run:
    """One lot of buildings."""

    seed: int
    sites: int
    background: str = "bad-days"
    dead_days: int = 0
    days: int = 365


def told(run: Run) -> tuple[pl.DataFrame, Used]:
    """Analyse the buildings of one lot; what is found at one hangs on no other."""
    made = used_sites(
        run.seed, sites=run.sites, days=run.days, background=run.background,
        dead_days=run.dead_days,
    )  # fmt: skip
    settings = Settings()
    names = made.events["site"].unique(maintain_order=True).to_list()
    parts = []
    for low in range(0, len(names), BATCH):
        here = made.events.filter(pl.col("site").is_in(names[low : low + BATCH]))
        parts.append(find(lay(here, made.context, settings), made.context, settings))
    return pl.concat(parts), made


def healthy(run: Run) -> dict[str, object]:
    """Count the buildings with nothing wrong at which any point is told silent."""
    got, _ = told(run)
    wrong = got["site"].n_unique()
    share = share_interval(wrong, run.sites)
    return {
        "background": run.background,
        "sites": run.sites,
        "with a finding": wrong,
        "at most": round(float(share.high), 4),
    }


def power(run: Run) -> dict[str, object]:
    """Count how many dead points are told, and how many living ones beside them."""
    got, made = told(run)
    true = made.silent.select("site", subject="zone", dead=pl.lit(value=True))
    judged = got.join(true, on=["site", "subject"], how="left")
    right = judged["dead"].sum()
    return {
        "background": run.background,
        "dead days": run.dead_days,
        "sites": run.sites,
        "found": right,
        "share": round(right / run.sites, 2),
        "wrong": judged.height - right,
    }


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--tuning", action="store_true", help="the seed that may be looked at")
    asked.add_argument("--healthy", type=int, default=HEALTHY)
    asked.add_argument("--sites", type=int, default=SITES)
    given = asked.parse_args()
    seed = TUNING if given.tuning else HELD_OUT
    quiet = [healthy(Run(seed, given.healthy, background)) for background in BACKGROUNDS]
    dead = [
        power(Run(seed + n, given.sites, background, n))
        for background in BACKGROUNDS
        for n in DEAD
    ]  # fmt: skip
    with pl.Config(tbl_rows=-1, tbl_formatting="ASCII_MARKDOWN", tbl_hide_column_data_types=True):
        print(f"seed {seed}", pl.DataFrame(quiet), pl.DataFrame(dead), sep="\n")


if __name__ == "__main__":
    main()
