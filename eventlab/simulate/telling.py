"""How a log tells what was lived: who tells it, how finely, and what it leaves out."""

from collections.abc import Iterable
from dataclasses import dataclass

import polars as pl

from eventlab.schema import EVENT, Kind, Phase, Timing, Witness, conform
from eventlab.simulate.clock import ZONE_NAME
from eventlab.simulate.draw import Draw
from eventlab.simulate.living import Lived
from eventlab.simulate.model import Record

_ARMING = frozenset({Kind.ARM, Kind.DISARM, Kind.ARM_FAILED, Kind.CANCEL})
_ALARMS = frozenset({Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM, Kind.TAMPER_ALARM})


@dataclass(frozen=True)
class Telling:
    """What the log of one site shows.

    Parameters
    ----------
    panel, centre : bool
        Which of the two logs there is.
    grain : int
        What one step of its clock stands for [s].
    arming : bool
        Whether openings and closings are told.
    ends : str
        Whose ends are told: ``all``, ``conditions`` (not those of alarms), ``none``.
    gap : tuple of int or None
        From when to when no export was kept, seconds since 1970 UTC.
    """

    panel: bool = True
    centre: bool = False
    grain: int = 1
    arming: bool = True
    ends: str = "all"
    gap: tuple[int, int] | None = None

    def tells(self, record: Record) -> bool:
        """Say whether a record stands in the log."""
        if not (self.panel if record.witness is Witness.PANEL else self.centre):
            return False
        if not self.arming and record.kind in _ARMING:
            return False
        if self.gap and self.gap[0] <= record.at < self.gap[1]:
            return False
        silent = self.ends == "none" or (self.ends == "conditions" and record.kind in _ALARMS)
        return not (silent and record.phase is Phase.END)


def draw_telling(draw: Draw, start: int, end: int) -> Telling:
    """Draw how a site's log tells.

    Parameters
    ----------
    draw : Draw
        Stream of the site.
    start, end : int
        Of the log, seconds since 1970 UTC.

    Returns
    -------
    Telling
        Panel only 0.45, centre only 0.2, both 0.35; a minute clock 0.2; no arming 0.12; no ends
        of alarms 0.1, of anything 0.05; a gap of 6 to 25 days 0.12.
    """
    panel, centre = draw.weighted([((True, False), 45), ((False, True), 20), ((True, True), 35)])
    grain = draw.weighted([(1, 80), (60, 20)])
    arming = not draw.chance(0.12)
    ends = draw.weighted([("all", 85), ("conditions", 10), ("none", 5)])
    gap = None
    if draw.chance(0.12):
        length = round(draw.between(6, 25) * 86400)
        since = round(draw.between(start + 20 * 86400, end - length - 20 * 86400))
        gap = (since, since + length)
    return Telling(panel, centre, grain, arming, ends, gap)


def as_events(lived: Iterable[Lived], telling: dict[str, Telling] | None = None) -> pl.DataFrame:
    """Turn what was lived into events, as if every row had been read right.

    Parameters
    ----------
    lived : iterable of Lived
        Buildings.
    telling : dict of str to Telling, optional
        How the log of each site tells; everything, to the second, where left out.

    Returns
    -------
    polars.DataFrame
        EVENT columns, by site and time.
    """
    rows = []
    for one in lived:
        site, amiss = one.building.site, one.world.amiss
        how = (telling or {}).get(site, Telling(centre=True))
        for record in one.panel + one.centre:
            if how.tells(record):
                zone = amiss.number(record) if amiss else record.zone
                part = 2 if how.gap and record.at >= how.gap[1] else 1
                rows.append(
                    (site, record.at - record.at % how.grain, how.grain, record.kind,
                     record.phase, record.mode, record.area, zone, record.person,
                     record.witness, record.path, f"{site} {record.witness} {part}")
                )  # fmt: skip
    columns = ("s", "grain", "kind", "phase", "mode", "area", "zone", "person", "witness", "path")
    frame = pl.DataFrame(rows, schema=["site", *columns, "source"], orient="row",
                         infer_schema_length=None)  # fmt: skip
    at = pl.from_epoch("s", time_unit="s").cast(pl.Datetime("us")).dt.replace_time_zone("UTC")
    timed = frame.with_columns(at=at, placed=at)
    return conform(
        timed.with_columns(
            wall=pl.col("at").dt.convert_time_zone(ZONE_NAME).dt.replace_time_zone(None),
            timing=pl.lit(Timing.SURE),
            row=pl.int_range(1, pl.len() + 1).over("source"),
            piece=pl.lit(1),
            nth=pl.lit(1),
            reading=pl.lit("simulated"),
        ).sort("site", "placed", "row", maintain_order=True),
        EVENT,
    )
