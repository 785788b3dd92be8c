"""How often the right driver is named, and how often one is named where nothing is followed.

``python -m tests.proving.driving`` prints the tables of the held-out seed; ``--tuning`` uses the
seed that windows, bars and weights may be changed by looking at. Sites of eight points: one
follows a driver beside a fifth as much background, the others follow nothing. What follows the
arming is told at places that close at other hours on other weekdays: where all closings are alike
no log can tell it from the time of day. ``--variants`` tries what panels and detectors hide
instead, one habit at a time.
"""

import argparse
import math
import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context

import polars as pl

from eventlab.analysis.drivers import find
from eventlab.analysis.run import margin
from eventlab.ground import lay
from eventlab.schema import Pattern
from eventlab.settings import Settings
from eventlab.simulate import BACKGROUNDS
from eventlab.simulate.single import AREA, Driven, site_events
from eventlab.simulate.ways import NOTHING_HIDDEN, Ways
from eventlab.simulate.weather import Weather
from eventlab.stats import share_interval
from tests.proving.measured import put

TUNING, HELD_OUT = 41, 2031
SITES, HEALTHY = 200, 1000
ALARMS: dict[str, tuple[int, ...]] = {
    "sun": (5, 8, 12, 20),
    "clock": (5, 8, 12, 20),
    "temperature": (5, 8, 12, 20),
    "wind": (5, 8, 12, 20),
    "rain": (5, 8, 12, 20),
    "arming": (5, 8, 12, 20),
    "dark": (20, 30, 40, 60),
    AREA: (5, 8, 12, 20),
}
"""Alarm days by driver. Two thirds of armed time are dark: few alarms tell nothing of it."""
BANDS = (0, 8, 12)
PLAIN, OPEN = "plain", "open"
LEAST = 5
"""Fewer findings than this measure nothing."""
BATCH = 50

PATTERN: dict[str, Pattern] = {
    "sun": Pattern.FOLLOWS_SUN,
    "clock": Pattern.FOLLOWS_CLOCK,
    "temperature": Pattern.FOLLOWS_TEMPERATURE,
    "wind": Pattern.FOLLOWS_WIND,
    "rain": Pattern.FOLLOWS_RAIN,
    "arming": Pattern.FOLLOWS_ARMING,
    "dark": Pattern.AFTER_DARK,
    AREA: Pattern.FOLLOWS_AREA,
}
FLOORS = {
    "sun": (0.60, 0.75, 0.90, 0.90),
    "clock": (0.80, 0.95, 0.95, 0.95),
    "temperature": (0.40, 0.70, 0.90, 0.90),
    "wind": (0.80, 0.95, 0.95, 0.95),
    "rain": (0.80, 0.95, 0.95, 0.95),
    "arming": (0.60, 0.90, 0.95, 0.95),
    "dark": (0.0, 0.10, 0.50, 0.90),
    AREA: (0.80, 0.90, 0.95, 0.95),
}
"""Share named right to be reached, by driver and number of alarm days, over 365 days."""
HIDDEN_FLOORS = {"sun": 0.60, "clock": 0.90, "temperature": 0.60, "wind": 0.85, "rain": 0.85,
                 AREA: 0.85}  # fmt: skip
"""The same at twelve alarm days where something is hidden; of a short ring clock and area only."""

VARIANTS = {
    "nothing hidden": NOTHING_HIDDEN,
    "trip limit 1": Ways(trip_limit=1),
    "trip limit 2": Ways(trip_limit=2),
    "trip limit 3": Ways(trip_limit=3),
    "latched": Ways(latched=True),
    "bypasses end untold": Ways(bypasses=True),
    "part sets": Ways(part=True),
    "common areas": Ways(common=True),
    "ring of 250 rows": Ways(ring=250),
    "second tenant": Ways(comings=True),
    "lock-out of 180 s": Ways(lockout_s=180),
}
"""What panels and detectors may hide, one at a time."""
VARIANT_ALARMS = 12
RING_DAYS = 110
"""A short ring holds no year: it is tried on alarms of so many days."""


@dataclass(frozen=True)
class Run:
    """One lot of sites: what they follow, on which background; ``quiet`` alarms follow nothing."""

    seed: int
    sites: int
    days: int = 365
    driver: str | None = None
    alarms: int = 0
    background: str = "bad-days"
    weather: Weather | None = None
    ways: Ways = NOTHING_HIDDEN
    sky: bool = False
    quiet: tuple[int, int] = (4, 25)


def found(run: Run) -> pl.DataFrame:
    """Analyse the sites of one lot: FOUND rows with the site."""
    story = None if run.driver is None else Driven(run.driver, run.alarms)
    ways = replace(run.ways, comings=True) if run.driver == AREA else run.ways
    made = site_events(
        run.seed, sites=run.sites, days=run.days, background=run.background, story=story,
        weather=run.weather, ways=ways, sky=run.sky,
        alarms=run.quiet,
    )  # fmt: skip
    settings = Settings()
    got = find(lay(made.events, made.context, settings), made.context, settings)
    return got.with_columns(margin=margin()).select(
        "site", "pattern", "subject", "events", "margin", "p_value", "q_value"
    )


def lots(run: Run) -> Iterator[Run]:
    """Divide a lot, so that memory stays small; seeds go on counting."""
    for number, low in enumerate(range(0, run.sites, BATCH)):
        size = min(BATCH, run.sites - low)
        yield replace(run, seed=run.seed * 1000 + number, sites=size)


def power(got: pl.DataFrame, run: Run) -> dict[str, object]:
    """Say how often the point was found, named right, left open, named wrong."""
    mine = got.filter(pl.col("subject") == "1")
    decided = mine.filter(pl.col("margin") != "open")
    right = decided.filter(pl.col("pattern") == PATTERN[str(run.driver)]).height
    wrong = decided.height - right
    named = share_interval(right, run.sites)
    others = decided.filter(pl.col("pattern") != PATTERN[str(run.driver)])["pattern"]
    return {
        "driver": run.driver,
        "alarms": run.alarms,
        "days": run.days,
        "sites": run.sites,
        "detected": mine.height / run.sites,
        "named right": right / run.sites,
        "low": float(named.low),
        "high": float(named.high),
        "open": (mine.height - decided.height) / run.sites,
        "wrong of decided": wrong / decided.height if decided.height else 0.0,
        "wrong": ", ".join(f"{p} {n}" for p, n in others.value_counts(sort=True).rows()),
        "sites with other points": got.filter(pl.col("subject") != "1")["site"].n_unique(),
    }


def healthy(got: pl.DataFrame, run: Run) -> dict[str, object]:
    """Say how many sites where nothing is followed show something."""
    shown = got["site"].n_unique()
    share = share_interval(shown, run.sites)
    patterns = ", ".join(f"{p} {n}" for p, n in got["pattern"].value_counts(sort=True).rows())
    return {
        "background": run.background,
        "days": run.days,
        "sites": run.sites,
        "with a finding": shown,
        "share": shown / run.sites,
        "high": float(share.high),
        "patterns": patterns,
    }


def shares(got: list[pl.DataFrame], runs: list[Run], seed: int) -> list[tuple[object, ...]]:
    """Give the rows of the table of confidence: of what is told, the share that is right."""
    told = pl.concat(
        frame.with_columns(
            right=(pl.col("subject") == "1")
            & (pl.col("pattern") == str(PATTERN.get(str(run.driver))))
        )
        for frame, run in zip(got, runs, strict=True)
    )
    rows: list[tuple[object, ...]] = []
    for pattern in sorted(told["pattern"].unique()):
        for kind, bands in ((PLAIN, BANDS), (OPEN, BANDS[:1])):
            some = told.filter((pl.col("pattern") == pattern) & (pl.col("margin") == kind))
            for low, high in zip(bands, [*bands[1:], None], strict=True):
                beyond = pl.lit(value=True) if high is None else pl.col("events") < high
                mine = some.filter((pl.col("events") >= low) & beyond)
                rows.append(_row(pattern, kind, low, mine.height, mine["right"].sum(), seed))
    return rows


def _row(
    pattern: str, kind: str, low: int, cases: int, right: int, seed: int
) -> tuple[object, ...]:
    what = "two explanations told, the first" if kind == OPEN else "statistic of days; simulated"
    basis = f"{what}, seed {seed}: {right} of {cases} right"
    if cases < LEAST:
        return (pattern, kind, low, None, cases, f"{basis}, too few to say")
    limits = share_interval(right, cases)
    share = math.floor(100 * (right + 0.5) / (cases + 1)) / 100
    return (
        *(pattern, kind, low, share, cases),
        f"{basis} ({float(limits.low):.2f} to {float(limits.high):.2f})",
    )


def variant_runs(seed: int, sites: int, quiet: int, alarms: int) -> list[tuple[str, Run]]:
    """List what is run of each variant: each driver, then each background with nothing followed."""
    listed = []
    for name, ways in VARIANTS.items():
        days = RING_DAYS if ways.ring else 365
        listed += [
            (name, Run(seed + alarms, sites, days, driver, alarms, ways=ways))
            for driver in HIDDEN_FLOORS
            # A point in common space belongs to the tenant's area: that is no other.
            if not (driver == AREA and ways.common)
        ]
        listed += [
            (name, Run(seed, quiet, days, background=background, ways=ways))
            for background in BACKGROUNDS
        ]
    return listed


def variants(got: list[pl.DataFrame], runs: list[tuple[str, Run]]) -> pl.DataFrame:
    """Say by variant how often each driver is named right, and how many healthy sites show any."""
    rows: dict[str, dict[str, object]] = {}
    decided: dict[str, list[int]] = {}
    for frame, (name, run) in zip(got, runs, strict=True):
        row = rows.setdefault(name, {"variant": name})
        if run.driver is None:
            told = healthy(frame, run)
            row[run.background] = f"{told['with a finding']} of {run.sites}"
            continue
        told = power(frame, run)
        row[run.driver] = told["named right"]
        right = round(float(str(told["named right"])) * run.sites)
        named = round((float(str(told["detected"])) - float(str(told["open"]))) * run.sites)
        many = decided.setdefault(name, [0, 0])
        many[0] += named - right
        many[1] += named
        row["wrong"] = f"{many[0]} of {many[1]}"
    return pl.DataFrame(list(rows.values()))


def gathered(runs: list[Run], pool: ProcessPoolExecutor | None = None) -> list[pl.DataFrame]:
    """Analyse all lots; sites of one name in different batches stay apart."""
    parts = [(n, lot) for n, run in enumerate(runs) for lot in lots(run)]
    done = (pool.map if pool else map)(found, [lot for _, lot in parts])
    frames: list[list[pl.DataFrame]] = [[] for _ in runs]
    for (n, lot), frame in zip(parts, done, strict=True):
        name = pl.format("{} {}", pl.col("site"), pl.lit(str(lot.seed)))
        frames[n].append(frame.with_columns(site=name))
    return [pl.concat(some) for some in frames]


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--tuning", action="store_true", help="the seed that may be looked at")
    asked.add_argument("--sites", type=int, default=SITES)
    asked.add_argument("--healthy", type=int, default=HEALTHY)
    asked.add_argument("--days", type=int, default=365)
    asked.add_argument("--processes", type=int, default=1)
    asked.add_argument("--only", nargs="+", choices=list(PATTERN), default=list(PATTERN))
    asked.add_argument("--variants", action="store_true", help="what panels and detectors hide")
    asked.add_argument("--write", action="store_true", help="replace these rows of confidence")
    given = asked.parse_args()
    if given.tuning and given.write:
        asked.error("the table is written from the held-out seed only")
    if given.write and len(given.only) < len(PATTERN):
        asked.error("what is told wrongly of other drivers counts too: all are needed to write")
    seed = TUNING if given.tuning else HELD_OUT
    followed = [
        Run(seed + n, given.sites, given.days, driver, n)
        for driver in given.only
        for n in ALARMS[driver]
    ]
    quiet = [Run(seed, given.healthy, given.days, background=b) for b in BACKGROUNDS]
    tried = variant_runs(seed, given.sites, given.sites, VARIANT_ALARMS)
    if given.processes > 1:
        os.environ["POLARS_MAX_THREADS"] = "1"
    with ProcessPoolExecutor(given.processes, mp_context=get_context("spawn")) as pool:
        runs = [run for _, run in tried] if given.variants else followed + quiet
        got = gathered(runs, pool)
    tables: tuple[pl.DataFrame, ...] = (
        (variants(got, tried),)
        if given.variants
        else (
            pl.DataFrame([power(frame, run) for frame, run in zip(got, followed, strict=False)]),
            pl.DataFrame(
                [
                    healthy(frame, run)
                    for frame, run in zip(got[len(followed) :], quiet, strict=True)
                ]
            ),
        )
    )
    with pl.Config(
        tbl_rows=-1, tbl_cols=-1, tbl_width_chars=240, tbl_formatting="ASCII_MARKDOWN",
        tbl_hide_dataframe_shape=True, tbl_hide_column_data_types=True, fmt_str_lengths=80,
        float_precision=3,
    ):  # fmt: skip
        print(f"seed {seed}")
        for table in tables:
            print(table)
    if given.variants:
        return
    measured = [row for row in shares(got, followed + quiet, seed) if row[4]]
    for row in measured:
        print(*row, sep=",")
    if given.write:
        print(f"written: {put(measured)}")


if __name__ == "__main__":
    main()
