"""How a log tells what was lived: who tells it, how finely, and what it leaves out."""

from collections.abc import Iterable
from dataclasses import dataclass

import polars as pl

from eventlab.schema import EVENT, Kind, Phase, Timing, Witness, conform
from eventlab.simulate.clock import ZONE_NAME
from eventlab.simulate.draw import Draw
from eventlab.simulate.living import Lived
from eventlab.simulate.model import Record
from eventlab.simulate.signalling import Wrong

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
    ring : int
        How many rows the panel keeps, the newest; all where 0.
    """

    panel: bool = True
    centre: bool = False
    grain: int = 1
    arming: bool = True
    ends: str = "all"
    gap: tuple[int, int] | None = None
    ring: int = 0

    def kept(self, records: Iterable[Record]) -> list[Record]:
        """Return what one log still tells, in its order."""
        told = [record for record in records if self.tells(record)]
        ringed = self.ring and told and told[0].witness is Witness.PANEL
        return told[-self.ring :] if ringed else told

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


def draw_telling(draw: Draw, start: int, end: int, *, both: bool = False) -> Telling:
    """Draw how a site's log tells.

    Parameters
    ----------
    draw : Draw
        Stream of the site.
    start, end : int
        Of the log, seconds since 1970 UTC.
    both : bool
        Whether there are mostly both logs, since few troubles of its kind show in one.

    Returns
    -------
    Telling
        Panel only 0.45, centre only 0.2, both 0.35 (0.2, 0.1, 0.7 where ``both``); a minute clock
        0.2; no arming 0.12; no ends of alarms 0.1, of anything 0.05; a gap of 6 to 25 days 0.12.
    """
    weights = (20, 10, 70) if both else (45, 20, 35)
    logs = ((True, False), (False, True), (True, True))
    panel, centre = draw.weighted(list(zip(logs, weights, strict=True)))
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
        clock = one.world.clock
        for record in how.kept(one.panel) + how.kept(one.centre):
            zone = amiss.number(record) if amiss else record.zone
            part = 2 if how.gap and record.at >= how.gap[1] else 1
            wrong = _wrong(clock, record) if clock else None
            at = record.at if wrong is None else record.at + wrong.at(record.at)
            anew = wrong is not None and wrong.anew
            shown = _ANEW_S + record.at - wrong.since if wrong and anew else at
            rows.append(
                (site, at - at % how.grain, shown - shown % how.grain, anew, how.grain,
                 record.kind, record.phase, record.mode, record.area, zone,
                 record.person, record.witness, record.path, f"{site} {record.witness} {part}")
            )  # fmt: skip
    columns = ("s", "shown", "anew", "grain", "kind", "phase", "mode", "area", "zone", "person",
               "witness", "path")  # fmt: skip
    frame = pl.DataFrame(rows, schema=["site", *columns, "source"], orient="row",
                         infer_schema_length=None)  # fmt: skip
    told = _moment("s")
    local = told.dt.convert_time_zone(ZONE_NAME).dt.replace_time_zone(None)
    # What a lost clock shows is no moment: such rows stand where the row before them stands.
    placed = pl.when(~pl.col("anew")).then(told).forward_fill().over("source")
    timed = frame.with_columns(
        at=pl.when(~pl.col("anew")).then(told),
        placed=pl.coalesce(placed, told) + pl.duration(microseconds=pl.col("anew").cum_sum()),
        wall=pl.when("anew").then(_moment("shown").dt.replace_time_zone(None)).otherwise(local),
        timing=pl.when("anew")
        .then(pl.lit(Timing.DOUBTFUL.value))
        .otherwise(pl.lit(Timing.SURE.value)),
    )
    return conform(
        timed.with_columns(
            placed=pl.when("anew").then("placed").otherwise("at"),
            row=pl.int_range(1, pl.len() + 1).over("source"),
            piece=pl.lit(1),
            nth=pl.lit(1),
            reading=pl.lit("simulated"),
        ).sort("site", "placed", "row", maintain_order=True),
        EVENT,
    )


_ANEW_S = 946_684_800
"""The first of January 2000 [s since 1970]."""


def _moment(column: str) -> pl.Expr:
    told = pl.from_epoch(column, time_unit="s").cast(pl.Datetime("us"))
    return told.dt.replace_time_zone("UTC")


def _wrong(clock: list[Wrong], record: Record) -> Wrong | None:
    """Find how the panel's clock is wrong at a record; the centre's never is."""
    if record.witness is not Witness.PANEL:
        return None
    return max(
        (wrong for wrong in clock if wrong.since <= record.at),
        key=lambda wrong: wrong.since,
        default=None,
    )
