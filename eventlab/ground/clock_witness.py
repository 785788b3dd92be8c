"""The panel's clock against the monitoring centre's, by the events that both tell."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from itertools import pairwise

import numpy as np
import polars as pl

from eventlab.ground.words import ClockRule
from eventlab.schema import LIFE_SAFETY, TRIPS, Kind, Phase, Witness
from eventlab.settings import Settings
from eventlab.stats.clocks import Floats, Longs, Piece, matched, partners, pieces

SHARED = (*TRIPS, *LIFE_SAFETY, Kind.ARM, Kind.DISARM, Kind.TAMPER, Kind.CONFIRMED_ALARM)
"""Kinds that both tell at once. Mains, faults and tests are sent late by design."""

STEADY = "steady"
"""A rule that is the same all year, of which it is not known how far from UTC it stands."""

_OFTEN = 0.5
_MOST = 0.8
_REACH_S = 26 * 3600.0
_SOON = timedelta(minutes=15)
_ROWS_MIN = 5
_FINE_S = 20.0
_STEP_S = 30.0
_MICRO = 1e6
_HALF_HOUR_S = 1800.0


@dataclass(frozen=True)
class Seen:
    """What two witnesses of one site tell of its clock.

    Parameters
    ----------
    site : str
        Which site.
    rules : dict of str to str
        By witness, the rule that makes both agree where the present ones do not.
    pieces : tuple of Piece
        The panel's clock minus the centre's, under these rules; times as the panel is read then.
    ends : tuple of (int, int)
        Places in order of the first and the last event of each piece.
    """

    site: str
    rules: dict[str, str]
    pieces: tuple[Piece, ...]
    ends: tuple[tuple[int, int], ...]


def keyed(events: pl.DataFrame) -> pl.DataFrame:
    """Take what both witnesses of a site tell, and say what makes two rows alike.

    A field counts where both tell it as a rule.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT rows with ``o``, their place in order.

    Returns
    -------
    polars.DataFrame
        ``site``, ``witness``, ``at``, ``wall``, ``grain``, ``o``, ``key``.
    """
    both = (
        events.lazy()
        .select("site", "witness")
        .unique()
        .group_by("site")
        .agg(pl.len())
        .filter(pl.col("len") > 1)
        .collect()["site"]
    )
    rows = (
        events.lazy()
        .filter(
            pl.col("site").is_in(both.implode())
            & pl.col("kind").is_in(list(SHARED))
            & (pl.col("phase") != Phase.END)
            & pl.col("at").is_not_null()
        )
        .select("site", "witness", "at", "wall", "grain", "o", "kind", "zone", "person", "area")
        .collect()
    )
    alarm = pl.col("kind").is_in([Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM])
    family = (
        pl.when(alarm)
        .then(pl.lit(Kind.INTRUSION_ALARM.value))
        .otherwise(pl.col("kind").cast(pl.String))
    )
    rows = rows.with_columns(family=family)
    side = ["site", "family", "witness"]
    told = [
        (pl.col(c).is_not_null().mean().over(side) >= _OFTEN).alias(f"{c}_told")
        for c in ("zone", "person", "area")
    ]
    unit = ["site", "family"]
    rows = rows.with_columns(told).with_columns(
        two=pl.col("witness").n_unique().over(unit) > 1,
        **{
            c: pl.when(pl.col(f"{c}_told").min().over(unit)).then(c)
            for c in ("zone", "person", "area")
        },
    )
    return rows.filter("two").select(
        *("site", "witness", "at", "wall", "grain", "o"),
        key=pl.struct("family", "zone", "person", "area").hash(),
    )


def compared(events: pl.DataFrame, zones: pl.DataFrame, settings: Settings,
             fixed: dict[tuple[str, str], str]) -> Iterator[Seen]:  # fmt: skip
    """Compare the clocks of every site that has both witnesses.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT rows with ``o``, read by the rules that are known so far.
    zones : polars.DataFrame
        ``site``, ``time_zone``, ``standard_s`` (null where the zone never changes).
    settings : Settings
        ``clock_bar_s``.
    fixed : dict
        By site and witness the rule that something else decided: the other clock is the odd one.

    Yields
    ------
    Seen
        Of every site with enough events that both tell; a site whose clocks agree has one piece.
    """
    rows = keyed(events)
    if rows.is_empty():
        return
    zoned = {
        site: (zone, standard)
        for site, zone, standard in zones.select("site", "time_zone", "standard_s").iter_rows()
    }
    even = _even(rows, settings)
    yield from even.values()
    rest = rows.filter(~pl.col("site").is_in(list(even)))
    for (site,), group in rest.group_by("site", maintain_order=True):
        name = str(site)
        zone, standard = zoned.get(name, (None, None))
        found = _looked_at(name, group, zone, standard, fixed)
        if found is not None:
            yield found


def agreed(events: pl.DataFrame, settings: Settings) -> list[Seen]:
    """Compare the clocks of sites with both witnesses, and take those that always agree.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT rows with ``clock_row``, in order of time, of sites of which nothing else is told.
    settings : Settings
        ``clock_bar_s``.

    Returns
    -------
    list of Seen
        One piece each; the others ask for a closer look.
    """
    rows = keyed(events.rename({"clock_row": "o"}))
    return list(_even(rows, settings).values()) if rows.height else []


def _even(rows: pl.DataFrame, settings: Settings) -> dict[str, Seen]:
    """Find the sites whose clocks agree in every month, without a closer look."""
    panel = pl.col("witness") == Witness.PANEL
    theirs = rows.filter(~panel).select("site", "key", "at", heard="at").sort("at")
    near = (
        rows.filter(panel)
        .sort("at")
        .join_asof(
            theirs,
            on="at",
            by=["site", "key"],
            strategy="nearest",
            tolerance=_SOON,
            check_sortedness=False,
        )
    )
    off = (pl.col("at") - pl.col("heard")).dt.total_microseconds() / _MICRO
    months = (
        near.with_columns(off=off, month=pl.col("at").dt.truncate("30d"))
        .group_by("site", "month")
        .agg(
            rows=pl.len(),
            paired=pl.col("off").is_not_null().sum(),
            middle=pl.col("off").median(),
            close=(pl.col("off").abs() <= settings.clock_bar_s).sum(),
            first=pl.col("at").filter(pl.col("off").is_not_null()).min(),
            last=pl.col("at").filter(pl.col("off").is_not_null()).max(),
            grain=pl.col("grain").max(),
            o_first=pl.col("o").min(),
            o_last=pl.col("o").max(),
        )
    )
    tells = pl.col("rows") >= _ROWS_MIN
    odd = tells & (
        (pl.col("close") < _MOST * pl.col("rows"))
        | (pl.col("middle").abs() > _FINE_S + pl.col("grain"))
    )
    good = (
        months.group_by("site", maintain_order=True)
        .agg(
            odd=odd.fill_null(value=True).any(),
            tells=tells.any(),
            pairs=pl.col("close").sum(),
            offset=pl.col("middle").filter(tells).median(),
            spread=pl.col("middle").filter(tells).std().fill_null(0.0),
            first=pl.col("first").min(),
            last=pl.col("last").max(),
            o_first=pl.col("o_first").min(),
            o_last=pl.col("o_last").max(),
        )
        .filter(pl.col("tells") & ~pl.col("odd"))
    )
    found = {}
    for row in good.iter_rows(named=True):
        low, high = row["first"].timestamp(), row["last"].timestamp()
        error = 2 * row["spread"] + 1
        found[row["site"]] = Seen(row["site"], {}, (
            Piece(0, row["pairs"] - 1, low, high, (low + high) / 2, row["offset"], 0.0, error, 0.0,
                  row["pairs"]),
        ), ((row["o_first"], row["o_last"]),))  # fmt: skip
    return found


def _looked_at(site: str, rows: pl.DataFrame, zone: str | None, standard: int | None,
               fixed: dict[tuple[str, str], str]) -> Seen | None:  # fmt: skip
    """Try the rules by which either clock may run; keep the present ones unless one is far better.

    A rule is better where the difference of the clocks is near to nothing and does not jump.
    """
    mine = rows.filter(pl.col("witness") == Witness.PANEL).sort("o")
    theirs = rows.filter(pl.col("witness") == Witness.RECEIVER)
    step_s = max(_STEP_S, 1.5 * float(mine["grain"].fill_null(1).to_numpy().max(initial=1)))
    both = _Both(_seconds(mine["at"]), _keys(mine), _seconds(theirs["at"]), _keys(theirs), step_s)
    best, rule = both.fitted(), ""
    panel = fixed.get((site, str(Witness.PANEL)))
    # That a clock never changes tells not yet how far from UTC it stands.
    odd = Witness.PANEL if panel in {None, STEADY} else Witness.RECEIVER
    settled = best.pieces and best.cost < _HALF_HOUR_S
    if not settled and zone is not None and fixed.get((site, str(odd))) in {None, STEADY}:
        steady = [(ClockRule.STANDARD, standard), (ClockRule.UTC, 0 if standard != 0 else None)]
        for name, shift in steady:
            if shift is None:
                continue
            if odd is Witness.PANEL:
                tried = replace(both, mine=_seconds(mine["wall"]) - shift)
            else:
                tried = replace(both, theirs=_seconds(theirs["wall"]) - shift)
            found = tried.fitted()
            if found.pieces and (not best.pieces or found.cost < best.cost - _HALF_HOUR_S):
                best, rule = found, name.value
    if not best.pieces:
        return None
    place = mine["o"].to_numpy()[best.places]
    ends = tuple((int(place[one.low]), int(place[one.high])) for one in best.pieces)
    return Seen(site, {str(odd): rule} if rule else {}, tuple(best.pieces), ends)


@dataclass(frozen=True)
class _Fit:
    """A reading of two clocks: places of the paired rows, and the stretches found."""

    places: Longs
    pieces: list[Piece]

    @property
    def cost(self) -> float:
        """How far and how unevenly one clock stands from the other [s]."""
        jumps = sum(abs(two.at(two.first) - one.at(one.last)) for one, two in pairwise(self.pieces))
        return jumps + min(abs(one.offset) for one in self.pieces)


@dataclass(frozen=True)
class _Both:
    """The times and keys of both witnesses, and the smallest step told from scatter [s]."""

    mine: Floats
    mine_key: Longs
    theirs: Floats
    theirs_key: Longs
    step_s: float

    def fitted(self) -> _Fit:
        found = partners(self.mine, self.mine_key, self.theirs, self.theirs_key, _REACH_S)
        places, offsets = matched(self.mine, self.theirs, found)
        return _Fit(places, pieces(self.mine[places], offsets, step_s=self.step_s))


def _seconds(times: pl.Series) -> Floats:
    return times.to_physical().to_numpy().astype(np.float64) / _MICRO


def _keys(rows: pl.DataFrame) -> Longs:
    return rows["key"].to_numpy().view(np.int64)
