"""A point that trips as the siren of its site stops: added to plain sites."""

import zlib
from dataclasses import replace

import numpy as np
import polars as pl

from eventlab.schema import Kind, Phase
from eventlab.simulate.single import Sites

SIREN_S = (180, 300, 600, 900, 1200)
"""How long sirens sound; one length at each site."""
_QUIET_S = 1500
"""No alarm so long before: the siren is silent, and begins with this one."""
_POINT = "1"


def sounding(made: Sites, seed: int, nights: int) -> Sites:
    """Let the first point of each site trip as the siren stops, on so many nights.

    Parameters
    ----------
    made : Sites
        Plain sites whose other points alarm.
    seed : int
        The same seed adds the same alarms.
    nights : int
        On how many nights, where another point alarmed on so many.

    Returns
    -------
    Sites
        The same with these alarms, and with how many there are in ``affected``.
    """
    added, affected = [], []
    for (site,), rows in made.events.group_by("site", maintain_order=True):
        draw = np.random.Generator(np.random.PCG64([seed, zlib.crc32(str(site).encode())]))
        length = int(draw.choice(SIREN_S))
        begun = _begun(rows, length)
        chosen = begun[sorted(draw.permutation(begun.height)[:nights].tolist())]
        later = pl.Series("later", draw.integers(0, 4, chosen.height) + length)
        trips = chosen.with_columns(later, zone=pl.lit(_POINT), row=pl.col("row") + 100_000)
        for wait, phase in ((0, Phase.BEGIN), (3, Phase.END)):
            moved = pl.duration(seconds=pl.col("later") + wait)
            times = [pl.col(name) + moved for name in ("at", "placed", "wall")]
            added.append(
                trips.with_columns(*times, phase=pl.lit(str(phase)).cast(rows["phase"].dtype)).drop(
                    "later"
                )
            )
        affected.append((site, _POINT, "siren", chosen.height))
    events = pl.concat([made.events, *added]).sort("site", "at", maintain_order=True)
    truth = pl.DataFrame(affected, schema=made.affected.schema, orient="row")
    return replace(made, events=events, affected=truth)


def _begun(rows: pl.DataFrame, length: int) -> pl.DataFrame:
    """Find alarms of other points that a siren began with and nobody silenced: one a night."""
    alarm = (pl.col("kind") == Kind.INTRUSION_ALARM) & (pl.col("phase") == Phase.BEGIN)
    disarmed = pl.when(pl.col("kind") == Kind.DISARM).then("at")
    known = rows.sort("at").with_columns(
        ended=disarmed.shift(-1).backward_fill(),
        before=pl.when(alarm).then("at").shift(1).forward_fill(),
        night=pl.col("at").dt.offset_by("-12h").dt.date(),
    )
    silent = (pl.col("at") - pl.col("before")).dt.total_seconds() > _QUIET_S
    sounds = (pl.col("ended") - pl.col("at")).dt.total_seconds() > length + 10
    return (
        known.filter(alarm & silent.fill_null(value=True) & sounds & (pl.col("zone") != _POINT))
        .unique("night", keep="first", maintain_order=True)
        .select(rows.columns)
    )
