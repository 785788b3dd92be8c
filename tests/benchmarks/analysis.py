"""How much longer a whole analysis takes than the bare library's scan and sort of the same events.

Run: python -m tests.benchmarks.analysis [events] [sites] [--stations N | --own-weather]
[--store DIR] [--parts] [--save DIR]

Ratios of one run, of time on the wall and of processor time (other programs are in no process's
own time), against a sort of the events as they are, and of seven of their columns. Some simulated
sites, troubles and drivers among them, are multiplied: the copies have other names, places and
weeks. ``--store`` keeps the store, and takes it as it is where there is one; ``--parts``
tells which part took how long; ``--save`` writes findings and episodes, so that those of two
versions can be compared.
"""

import argparse
import cProfile
import hashlib
import json
import pstats
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl

from eventlab.context import Context
from eventlab.lab import Lab
from eventlab.lab.portfolio import room
from eventlab.lab.working import TABLES
from eventlab.schema import EVENT, SITE, WEATHER, ZONE, Kind, conform
from eventlab.simulate import DRIVERS, Driven, ordinary, site_events
from eventlab.simulate.clock import ZONE_NAME
from eventlab.simulate.ordinary import Habits
from eventlab.store import Export, Store

SEED = 5
PLAIN, TELLING, DRIVEN = 12, 18, 2
"""Sites that are simulated: ordinary ones, those that log movement by day, two of each driver."""
SOUTH, NORTH, WEST, EAST = 50.0, 57.0, -5.0, 1.0
MOVEMENT = pl.col("kind") == Kind.ACTIVATION


def templates() -> tuple[pl.DataFrame, Context]:
    """Simulate the sites that are multiplied: events, points, the weather of one station."""
    made = [
        ordinary(SEED, sites=PLAIN),
        ordinary(SEED + 1, sites=TELLING, habits=Habits(panel={"activations": True})),
        *(site_events(SEED, sites=DRIVEN, story=Driven(driver, 12)) for driver in DRIVERS),
    ]
    events, zones = [], []
    for number, one in enumerate(made):
        name = pl.format("T{} {}", pl.lit(number), "site")
        events.append(one.events.with_columns(site=name))
        zones.append(one.context.zones.with_columns(site=name))
    weather = made[-1].context.weather
    return pl.concat(events), replace(Context.empty(), zones=pl.concat(zones), weather=weather)


def multiplied(number: int, sites: int, stations: int) -> tuple[pl.DataFrame, Context]:
    """Copy simulated sites until there are so many sites and events.

    Parameters
    ----------
    number, sites, stations : int
        How many events, about, of how many sites; weather of how many stations, or, with 0, of
        each site's own.

    Returns
    -------
    tuple
        Events, by site, and context.
    """
    events, context = templates()
    rng = np.random.default_rng(SEED)
    known = events["site"].unique(maintain_order=True)
    copies = pl.DataFrame(
        {
            "site": [f"B{n:05d}" for n in range(sites)],
            "of": [known[n % len(known)] for n in range(sites)],
            "latitude": rng.uniform(SOUTH, NORTH, sites),
            "longitude": rng.uniform(WEST, EAST, sites),
            "share": rng.random(sites),
        }
    )
    # A log of half a year may lie in any weeks of the year, so that copies do not fail together.
    weeks = (pl.col("wall").min() - events["wall"].min()).dt.total_days() // 7
    copies = copies.join(
        events.group_by("site").agg(weeks=weeks), left_on="of", right_on="site"
    ).with_columns(back=pl.duration(weeks=(pl.col("share") * pl.col("weeks")).floor()))
    each = copies.select("of", "site", "back")
    rest = each.join(events.filter(~MOVEMENT), left_on="of", right_on="site", how="inner")
    moves = each.join(events.filter(MOVEMENT), left_on="of", right_on="site", how="inner")
    made = [rest, *_as_often(moves, (number - rest.height) / moves.height)]
    zones = copies.join(context.zones, left_on="of", right_on="site")
    listed = copies.with_columns(name="site", time_zone=pl.lit(ZONE_NAME))
    return pl.concat([_back(part) for part in made]), replace(
        context,
        sites=conform(listed, SITE),
        zones=conform(zones, ZONE),
        weather=_weather(context.weather, rng, copies["site"].to_list(), stations),
    )


def _as_often(moves: pl.DataFrame, times: float) -> list[pl.DataFrame]:
    """Log movement so many times as often; below once, of some points only."""
    whole = int(times)
    place = pl.col("zone").hash(SEED) % 100 < round((times - whole) * 100)
    parts = [moves] * whole + [moves.filter(place)]
    later = (pl.col("wall") + pl.duration(seconds=41 * n) for n in range(len(parts)))
    return [part.with_columns(wall) for part, wall in zip(parts, later, strict=True)]


def _back(events: pl.DataFrame) -> pl.DataFrame:
    """Move events back by whole weeks of the wall clock; those of a skipped hour are left out."""
    wall = pl.col("wall") - pl.col("back")
    at = wall.dt.replace_time_zone(ZONE_NAME, ambiguous="earliest", non_existent="null")
    return (
        events.with_columns(wall=wall, at=at.dt.convert_time_zone("UTC"))
        .filter(pl.col("at").is_not_null())
        .with_columns(placed="at")
        .select(*EVENT)
    )


def _weather(
    one: pl.DataFrame, rng: np.random.Generator, sites: list[str], stations: int
) -> pl.DataFrame:
    """Give each station, or each site, the weather simulated and a little of its own."""
    told = []
    for number in range(stations or len(sites)):
        where = {
            "station": pl.lit(f"Station {number}"),
            "latitude": pl.lit(rng.uniform(SOUTH, NORTH)),
            "longitude": pl.lit(rng.uniform(WEST, EAST)),
        }
        own = pl.Series(rng.normal(0, 0.4, one.height).round(1))
        moved = (pl.col("wind_m_s", "gust_m_s") + own).clip(0)
        told.append(
            one.with_columns(
                pl.col("temperature_c") + own,
                moved,
                **(where if stations else {"site": pl.lit(sites[number])}),
            )
        )
    return conform(pl.concat(told), WEATHER)


def make(folder: Path, number: int, sites: int, stations: int) -> None:
    """Make the store: the panels' logs as one export, the centre's history as another."""
    events, context = multiplied(number, sites, stations)
    store = Store.create(folder)
    for witness, part in sorted(events.partition_by("witness", as_dict=True).items()):
        # What a panel tells stands in the order of its time.
        rows = part.sort("site", "wall", "row", "piece", maintain_order=True).with_columns(
            row=pl.int_range(1, pl.len() + 1), piece=pl.lit(1, pl.Int32)
        )
        name = f"{witness[0]} {number} {sites} {stations}".encode()
        sha256 = hashlib.sha256(name).hexdigest()
        store.keep(name, sha256=sha256, name="log.csv")
        store.take(
            rows,
            Export(sha256, "log.csv", reading="simulated", rows=rows.height, lines=rows.height),
        )
    for name, _, key in TABLES.values():
        frame = getattr(context, name)
        if frame.height:
            store.put(name, frame, key=key)


COLUMNS = ("site", "placed", "kind", "phase", "area", "zone", "person")


def bare(folder: Path, columns: Sequence[str] = COLUMNS) -> int:
    """Scan and sort events as the bare library does."""
    files = str(folder / "events" / "**" / "*.parquet")
    return pl.scan_parquet(files).select(columns).sort("site", "placed").collect().height


def analysed(folder: Path, save: Path | None) -> int:
    """Work out findings and episodes of all sites, as ``eventlab findings`` does."""
    found = Lab(folder).found()
    if save is not None:
        save.mkdir(parents=True, exist_ok=True)
        found.findings.write_parquet(save / "findings.parquet")
        found.episodes.write_parquet(save / "episodes.parquet")
    return found.findings.height


def tell(profile: cProfile.Profile) -> None:
    """Print the processor time of each public step: the ground, each analysis, causes, words."""
    steps = []
    for (file, _, name), (_, _, _, whole, _) in pstats.Stats(profile).stats.items():
        room = Path(file).parent.name
        shown = f"{room}/{Path(file).stem}.{name}"
        if name == "find" or shown in STEPS:
            steps.append((whole, shown))
    for seconds, shown in sorted(steps, reverse=True):
        sys.stdout.write(f"    {shown:42} {seconds:7.2f} s\n")


STEPS = frozenset(
    {
        "lab/portfolio.in_parts",
        "lab/learning.in_force",
        "lab/portfolio.parts",
        "store/table.fetch",
        "ground/lay.lay",
        "analysis/run.run",
        "analysis/causes.causes",
        "advice/advise.advise",
        "report/sentences.state",
    }
)


def measured(what: str, *options: str) -> tuple[float, float, float]:
    """Run a step in a process of its own; return wall and processor time [s] and its peak [GB]."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.analysis", "--step", what, *options],
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    *said, figures = done.stdout.splitlines()
    sys.stdout.write("".join(f"{line}\n" for line in said))
    wall, cpu, peak = json.loads(figures)
    return wall, cpu, peak


NAMES = {
    "bare": "scan and sort, 7 columns",
    "events": "scan and sort of events",
    "whole": "whole analysis",
}


def step(given: argparse.Namespace) -> None:
    """Do one step and print its figures."""
    profile = cProfile.Profile(time.process_time)
    wall, cpu = time.perf_counter(), time.process_time()
    if given.parts:
        profile.enable()
    if given.step == "make":
        make(given.store, given.events, given.sites, 0 if given.own_weather else given.stations)
    elif given.step == "bare":
        bare(given.store)
    elif given.step == "events":
        bare(given.store, list(EVENT))
    else:
        analysed(given.store, given.save)
    profile.disable()
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    others = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu += others.ru_utime + others.ru_stime
    if given.parts:
        tell(profile)
    # Each of the processes that work on parts is as large as the largest, at most.
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss + room() * others.ru_maxrss
    peak /= 2**20
    sys.stdout.write(f"{json.dumps([wall, cpu, peak])}\n")


def main() -> None:
    """Print seconds, peak memory and the ratio."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("events", type=int, nargs="?", default=5_000_000)
    asked.add_argument("sites", type=int, nargs="?", default=2_000)
    asked.add_argument("--stations", type=int, default=20)
    asked.add_argument("--own-weather", action="store_true", help="of each site, not of stations")
    asked.add_argument("--store", type=Path, help="where the store is, or is to be, kept")
    asked.add_argument("--parts", action="store_true", help="tell the parts")
    asked.add_argument("--save", type=Path, help="where findings and episodes are written")
    asked.add_argument(
        "--step", choices=("make", "bare", "events", "whole"), help=argparse.SUPPRESS
    )
    given = asked.parse_args()
    if given.step:
        step(given)
        return
    with tempfile.TemporaryDirectory() as folder:
        store = given.store or Path(folder) / "store"
        options = ["--store", str(store)]
        if not store.exists():
            how = ["--own-weather"] if given.own_weather else ["--stations", str(given.stations)]
            measured("make", str(given.events), str(given.sites), *how, *options)
        saved = ["--save", str(given.save)] if given.save else []
        told = {name: measured(name, *options, *saved) for name in ("bare", "events", "whole")}
        if given.parts:
            measured("whole", "--parts", *options)
    wall, cpu, _ = told["whole"]
    for name, (own_wall, own_cpu, peak) in told.items():
        sys.stdout.write(
            f"{NAMES[name]:24} {own_wall:7.2f} s, of processors {own_cpu:7.2f} s, "
            f"peak {peak:5.2f} GB; the analysis takes {wall / own_wall:5.1f} and "
            f"{cpu / own_cpu:5.1f} times as long\n"
        )


if __name__ == "__main__":
    main()
