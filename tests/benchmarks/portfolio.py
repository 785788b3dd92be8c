"""A big history of many sites, made fast: 5 million rows of 2,000 sites are about 290 MB."""

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import polars as pl

EVENTS = [
    ("Zone opened", 0.26, True, False),
    ("Zone closed", 0.26, True, False),
    ("Disarmed by user", 0.13, False, True),
    ("Armed by user", 0.13, False, True),
    ("Intruder alarm", 0.06, True, False),
    ("Intruder alarm restored", 0.06, True, False),
    ("Test report", 0.05, False, False),
    ("Mains failure", 0.01, False, False),
    ("Mains restored", 0.01, False, False),
    ("Low battery wireless detector", 0.01, True, False),
    ("Detector battery restored", 0.01, True, False),
    ("Tamper alarm", 0.005, True, False),
    ("Tamper restored", 0.005, True, False),
]
ROOMS = ["Reading room", "Front door", "Stack store", "Boat hall", "Office", "Rear corridor"]


def write(path: Path, *, rows: int = 5_000_000, sites: int = 2_000, seed: int = 7) -> None:
    """Write one comma-separated history: account, time, event, area, point, place, user.

    Parameters
    ----------
    path : Path
        The file to write.
    rows, sites : int
        How many.
    seed : int
        The same seed, the same file.
    """
    rng = np.random.default_rng(seed)
    begin = int(datetime(2025, 1, 1, tzinfo=UTC).timestamp())
    blocks = -(-rows // BLOCK)
    share = 365 * 86_400 // blocks
    with path.open("wb") as file:
        for block in range(blocks):
            number = min(BLOCK, rows - block * BLOCK)
            first = begin + block * share
            frame = _block(rng, number, sites, first, first + share)
            frame.write_csv(file, include_header=block == 0)


BLOCK = 5_000_000
"""Rows in memory at a time; each block has its share of the year."""


def _block(rng: np.random.Generator, rows: int, sites: int, first: int, last: int) -> pl.DataFrame:
    share = np.array([event[1] for event in EVENTS])
    what = rng.choice(len(EVENTS), size=rows, p=share / share.sum())
    seconds = np.sort(rng.integers(first, last, size=rows))
    pointed = np.array([event[2] for event in EVENTS])[what]
    manned = np.array([event[3] for event in EVENTS])[what]
    zone = rng.integers(1, 25, size=rows)
    frame = pl.DataFrame(
        {
            "site": rng.integers(1, sites + 1, size=rows),
            "at": seconds,
            "what": pl.Series(np.array([event[0] for event in EVENTS])[what]),
            "zone": zone,
            "pointed": pointed,
            "manned": manned,
            "user": rng.integers(1, 12, size=rows),
            "room": pl.Series(np.array(ROOMS)[zone % len(ROOMS)]),
        }
    )
    return frame.select(
        Account="S" + pl.col("site").cast(pl.String).str.zfill(5),
        Time=pl.from_epoch("at", time_unit="s").dt.strftime("%Y-%m-%d %H:%M:%S"),
        Event=pl.col("what"),
        Area=pl.lit("1"),
        Zone=pl.when("pointed").then(pl.col("zone").cast(pl.String)),
        Place=pl.when("pointed").then(pl.col("room")),
        User=pl.when("manned").then(pl.col("user").cast(pl.String)),
    )
