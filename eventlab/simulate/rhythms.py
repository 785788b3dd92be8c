"""Many buildings whose panels tell movement by day: which rooms are used when, and which died.

Straight as events, for measuring how often a silence is told rightly or wrongly.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from eventlab.context import Context
from eventlab.errors import UsageError
from eventlab.schema import EVENT, Kind, Phase, Schema, Timing, Witness, conform
from eventlab.simulate.backgrounds import BACKGROUNDS
from eventlab.simulate.clock import days as last_days
from eventlab.simulate.clock import public_holiday, utc

SILENT: Schema = {"site": pl.String(), "zone": pl.String(), "since": pl.Datetime("us", "UTC")}

Flags = NDArray[np.bool_]
_MOVES = 2.0
"""Mean of how often more than once a room is used on a day on which it is."""


@dataclass(frozen=True)
class Used:
    """Simulated buildings as events.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT columns, by site and time: movement only.
    context : Context
        Nothing is known of them.
    silent : polars.DataFrame
        ``site, zone, since``: the points that died, and when; nothing else is wrong.
    """

    events: pl.DataFrame
    context: Context
    silent: pl.DataFrame


def used_sites(
    seed: int,
    *,
    sites: int,
    days: int = 365,
    points: int = 8,
    background: str = "bad-days",
    dead_days: int = 0,
) -> Used:
    """Make buildings with a summer closing, public holidays and rooms of uneven use.

    Parameters
    ----------
    seed : int
        The same seed makes the same events.
    sites, days, points : int
        How many.
    background : str
        How rooms are used: ``poisson`` each day for itself; ``bad-days`` on some days hardly any;
        ``bad-spells`` in spells of days to weeks; ``season`` six times as often in one half of the
        year as in the other.
    dead_days : int
        So many open days before the end one point of each building dies; none where 0.

    Returns
    -------
    Used
        Events and truth.

    Raises
    ------
    UsageError
        Where the background is not known.

    Notes
    -----
    The first point is the way in and is used on every open day; of the others each has a share of
    days of its own, from one in five to nearly all. Buildings close for one to four weeks, one in
    five of them at the end of the log; meanwhile somebody looks in by the way in on some days; one
    in three is then half open instead: rooms rest, the first third of the points does not.
    """
    if background not in BACKGROUNDS:
        raise UsageError(
            f"no such background: {background}", do=f"Take one of {', '.join(BACKGROUNDS)}."
        )
    calendar = last_days(days)
    midnight = np.array([utc(day, 0) for day in calendar], dtype=np.int64)
    frames, silent = [], []
    for number in range(sites):
        random = np.random.Generator(np.random.PCG64([seed, number]))
        site = f"U{number:05d}"
        weekdays = random.choice((5, 6, 7))
        is_open = np.array([d.weekday() < weekdays and not public_holiday(d) for d in calendar])
        used = _used(random, days, points, background) & is_open[:, None]
        used[:, 0] = is_open
        closed = _closing(random, days)
        half = random.random() < 1 / 3
        resting = np.arange(points) >= (points // 3 if half else 0)
        used[np.ix_(closed, resting)] = False
        looks_in = closed & (random.random(days) < 0.2) & (not half)
        used[looks_in, 0] = True
        if dead_days:
            zone = int(random.integers(1, points))
            working = np.flatnonzero(is_open & ~closed)
            first = int(working[-dead_days])
            used[first:, zone] = False
            silent.append((site, str(zone + 1), int(midnight[first])))
        frames.append(_moves(random, site, used, midnight))
    told = pl.DataFrame(silent, schema=["site", "zone", "s"], orient="row",
                        schema_overrides={"s": pl.Int64})  # fmt: skip
    since = pl.from_epoch("s", time_unit="s").cast(pl.Datetime("us")).dt.replace_time_zone("UTC")
    return Used(
        pl.concat(frames),
        Context.empty(),
        told.select(pl.col("site").cast(pl.String), pl.col("zone").cast(pl.String), since=since),
    )


def _used(random: np.random.Generator, days: int, points: int, background: str) -> Flags:
    """Say on which days each room is used, were the building always open."""
    share = random.uniform(0.2, 0.98, points)
    if background == "bad-spells":
        used = np.zeros((days, points), dtype=bool)
        for point in range(points):
            rests = random.uniform(2, 12)
            lasts = rests * share[point] / (1 - share[point])
            on, day = bool(random.random() < share[point]), 0
            while day < days:
                length = int(random.geometric(1 / max(lasts if on else rests, 1.0)))
                used[day : day + length, point] = on
                day, on = day + length, not on
        return used
    chance = np.broadcast_to(share, (days, points)).copy()
    if background == "bad-days":
        slow = random.random(days) < 0.15
        chance[slow] *= random.uniform(0.1, 0.6, (int(slow.sum()), 1))
    if background == "season":
        turn = random.random(points) * 2 * np.pi
        year = 2 * np.pi * np.arange(days)[:, None] / 365.25
        chance *= (3.5 + 2.5 * np.cos(year + turn)) / 6
    return random.random((days, points)) < chance


def _closing(random: np.random.Generator, days: int) -> Flags:
    """Say on which days a building is closed for its holidays."""
    closed = np.zeros(days, dtype=bool)
    for _ in range(int(random.integers(1, 3))):
        first = int(random.integers(0, days))
        closed[first : first + int(random.integers(7, 29))] = True
    if random.random() < 0.2:
        closed[-int(random.integers(7, 29)) :] = True
    return closed


def _moves(
    random: np.random.Generator, site: str, used: Flags, midnight: NDArray[np.int64]
) -> pl.DataFrame:
    """Write the movement of one building."""
    day, point = np.nonzero(used)
    many = 1 + random.poisson(_MOVES, len(day))
    day, point = np.repeat(day, many), np.repeat(point, many)
    at = midnight[day] + random.integers(8 * 3600, 18 * 3600, len(day))
    moment = pl.from_epoch("s", time_unit="s").cast(pl.Datetime("us"))
    rows = pl.DataFrame({"s": at, "zone": point + 1}).sort("s").with_columns(
        site=pl.lit(site),
        at=moment.dt.replace_time_zone("UTC"),
        placed=moment.dt.replace_time_zone("UTC"),
        wall=moment,
        zone=pl.col("zone").cast(pl.String),
        timing=pl.lit(str(Timing.SURE)),
        grain=pl.lit(1),
        kind=pl.lit(str(Kind.ACTIVATION)),
        phase=pl.lit(str(Phase.BEGIN)),
        witness=pl.lit(str(Witness.PANEL)),
        source=pl.lit(site),
        row=pl.int_range(1, pl.len() + 1),
        piece=pl.lit(1),
        nth=pl.lit(1),
        reading=pl.lit("simulated"),
    )  # fmt: skip
    return conform(rows, EVENT)
