"""How often a point that visits set off is found, and how often one that they do not.

``python -m tests.proving.visiting`` prints both for the held-out seed: sites of eight points and a
few visits a year, of which the first point alarms in the week after visits, on 5, 8, 12 or 20
nights beside a fifth as many others; and sites where visits do nothing, on the four backgrounds,
half of the visits called for by an alarm in the three days before. ``--write`` puts the share
right into the table of the analyses.
"""

import argparse
import math
import zlib
from dataclasses import replace

import numpy as np
import polars as pl

from eventlab.analysis import after_visit
from eventlab.ground import lay
from eventlab.schema import UTC, VISIT, Kind, Pattern, Phase, conform
from eventlab.settings import Settings
from eventlab.simulate import BACKGROUNDS
from eventlab.simulate.single import Sites, site_events
from eventlab.stats import share_interval
from tests.proving.measured import put

TUNING, HELD_OUT = 71, 7071
NIGHTS, VISITS = (5, 8, 12, 20), (2, 3, 4, 6)
SITES, HEALTHY = 40, 100
CALLED_FOR = 0.5
SETTINGS = Settings()
_WEEK = 7
_ALARM = (pl.col("kind") == Kind.INTRUSION_ALARM) & (pl.col("phase") == Phase.BEGIN)


def visited(made: Sites, seed: int, visits: int, nights: int) -> Sites:
    """Add visits; where ``nights`` is given, alarms of the first point are moved behind them."""
    rows, events = [], []
    for (name,), every in made.events.group_by("site", maintain_order=True):
        site = str(name)
        draw = np.random.Generator(np.random.PCG64([seed, zlib.crc32(site.encode())]))
        first, last = every["at"].min(), every["at"].max()
        span = int((last - first).total_seconds() / 86400)  # type: ignore[operator]  # times
        day = np.sort(draw.choice(np.arange(1, span // 20), visits, replace=False)) * 20
        at = [first + pl.duration(days=int(one)) for one in day]  # type: ignore[operator]  # times
        dates = pl.select(pl.concat_list(at).explode()).to_series().dt.truncate("1d")
        alarms = every.filter(_ALARM)["at"]
        if not nights:
            called = draw.random(visits) < CALLED_FOR
            after = alarms.sample(visits, with_replacement=True, seed=int(draw.integers(1 << 30)))
            moved = after.dt.truncate("1d").dt.offset_by("1d")
            dates = pl.select(
                pl.when(pl.Series(called)).then(moved).otherwise(dates).sort()
            ).to_series()
        rows += [(site, one) for one in dates.dt.offset_by("10h")]
        events.append(_moved(every, dates, draw, nights) if nights else every)
    told = pl.DataFrame(rows, schema={"site": pl.String(), "at": UTC}, orient="row")
    context = replace(made.context, visits=conform(told, VISIT))
    return replace(made, events=pl.concat(events).sort("site", "at", maintain_order=True),
                   context=context)  # fmt: skip


def _moved(
    every: pl.DataFrame, dates: pl.Series, draw: np.random.Generator, nights: int
) -> pl.DataFrame:
    """Move the first point's alarms to the week after visits; a fifth as many stay."""
    mine = pl.col("zone") == "1"
    own = every.filter(mine & _ALARM)
    kept = own.head(max(1, round(nights / 5)))
    pick = draw.integers(0, len(dates), nights)
    away = draw.integers(0, _WEEK, nights) * 24 + draw.integers(20, 29, nights)
    minutes = away * 60 + draw.integers(0, 60, nights)
    when = dates.gather(pick.tolist()) + pl.Series(minutes * 60_000_000).cast(pl.Duration("us"))
    like = own.head(1).drop("at", "placed", "wall")
    added = (
        pl.DataFrame({"at": when, "placed": when})
        .with_columns(
            wall=pl.col("at").dt.convert_time_zone("Europe/London").dt.replace_time_zone(None)
        )
        .join(like, how="cross")
        .with_columns(row=pl.int_range(pl.len()) + 100_000)
    )
    others = every.filter(~mine.fill_null(value=False))
    return pl.concat([others, kept, added.select(every.columns)])


def found(
    seed: int, sites: int, visits: int, nights: int, background: str = "bad-days"
) -> pl.DataFrame:
    """Give the findings of so many sites, each visited so often."""
    made = visited(site_events(seed, sites=sites, background=background), seed, visits, nights)
    return after_visit.find(lay(made.events, made.context, SETTINGS), made.context, SETTINGS)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--tuning", action="store_true", help="the seed that may be looked at")
    asked.add_argument("--write", action="store_true", help="put the share right into the table")
    given = asked.parse_args()
    seed = TUNING if given.tuning else HELD_OUT
    every = good = 0
    for visits in VISITS:
        shares = []
        for nights in NIGHTS:
            got = found(seed + visits, SITES, visits, nights)
            right = got.filter(pl.col("subject") == "1").height
            every, good = every + got.height, good + right
            shares.append(f"{right / SITES:.2f}")
        print(f"{visits} visits a year, {NIGHTS} nights: found {' '.join(shares)}")
    for place, background in enumerate(BACKGROUNDS):
        got = found(seed + 10 + place, HEALTHY, 4 + 4 * (place % 2), 0, background)
        print(f"visits do nothing, {background}: {got['site'].n_unique()} of {HEALTHY} sites")
    low, high = (float(one) for one in share_interval(good, every)[1:3])
    print(f"right: {good} of {every} ({low:.2f} to {high:.2f})")
    if given.write and not given.tuning:
        share = math.floor(100 * (good + 0.5) / (every + 1)) / 100
        basis = f"exact test of visits; simulated, seed {seed}: {good} of {every} right"
        told = f"{basis} ({low:.2f} to {high:.2f})"
        put([(str(Pattern.AFTER_VISIT), "plain", 0, share, every, told)])


if __name__ == "__main__":
    main()
