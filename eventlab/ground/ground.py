"""What every analysis stands on, as one value."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import polars as pl

from eventlab.ground.exposure import exposed


@dataclass(frozen=True)
class Ground:
    """The frames of ``lay``, all sorted by site and time.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT rows in the order in which they happened.
    occurrences : polars.DataFrame
        One row for each thing that happened, however many rows tell it.
    powers : polars.DataFrame
        What each log can show: ``site, witness, power, value, figure, since, until``.
    coverage : polars.DataFrame
        ``site, since, until``: what the logs cover.
    watched : polars.DataFrame
        ``site, since, until``: covered, not set aside, no doubtful rows.
    recorded : polars.DataFrame
        ``site, since, until``: covered by a log that tells all openings and closings.
    armed : polars.DataFrame
        ``site, area, since, until, mode, person, settled_since, disarmed_by, known, period``;
        unknown stretches have ``known`` false; recorded time outside all rows is unarmed.
    aside : polars.DataFrame
        ``site, area, since, until, reason, ended``.
    points : polars.DataFrame
        Every point listed or seen.
    exposure : polars.DataFrame
        Hours and armed periods at risk of every point, and on what basis.
    bases : polars.DataFrame
        ``site, base, since, until``: the hours at risk that points share.
    removed : polars.DataFrame
        ``site, zone, within, since, until, reason``: hours taken from single points.
    episodes : polars.DataFrame
        Alarms that belong together.
    clocks : polars.DataFrame
        What was seen of each clock: ``site, witness, sign, since, until, offset_s`` (told minus
        true, at the end), ``drift_s_day, plus_minus_s, pairs, shifted, basis``. Times of all
        frames are corrected already where ``shifted``.
    sites : polars.DataFrame
        One row for each site in the events.
    """

    events: pl.DataFrame
    occurrences: pl.DataFrame
    powers: pl.DataFrame
    coverage: pl.DataFrame
    watched: pl.DataFrame
    recorded: pl.DataFrame
    armed: pl.DataFrame
    aside: pl.DataFrame
    points: pl.DataFrame
    exposure: pl.DataFrame
    bases: pl.DataFrame
    removed: pl.DataFrame
    episodes: pl.DataFrame
    clocks: pl.DataFrame
    sites: pl.DataFrame

    def only(self, sites: Sequence[str]) -> "Ground":
        """Give the same of some sites.

        Parameters
        ----------
        sites : sequence of str
            The sites wanted.

        Returns
        -------
        Ground
            Every frame with the rows of these sites only.
        """
        here = pl.col("site").is_in(list(sites))
        parts = {one.name: getattr(self, one.name).filter(here) for one in fields(self)}
        return replace(self, **parts)

    def exposed(self, sites: Sequence[str] | None = None) -> pl.DataFrame:
        """Give the intervals in which each point was at risk.

        Over a whole portfolio these are millions; ask for the sites that are looked at.

        Parameters
        ----------
        sites : sequence of str, optional
            The sites wanted; all where left out.

        Returns
        -------
        polars.DataFrame
            ``site``, ``zone``, ``within``, ``area``, ``since``, ``until``, sorted.
        """
        here = pl.lit(value=True) if sites is None else pl.col("site").is_in(list(sites))
        return exposed(
            self.exposure.filter(here), self.bases.filter(here), self.removed.filter(here)
        )
