"""What is known of sites from outside their logs, as one value."""

from collections.abc import Iterable
from dataclasses import dataclass, field, fields

import polars as pl

from eventlab.schema import OUTAGE, OUTCOME, SITE, VISIT, WEATHER, ZONE, empty


@dataclass(frozen=True)
class Context:
    """Sites, points, weather, visits and outcomes; any of them may be empty.

    Parameters
    ----------
    sites : polars.DataFrame
        SITE columns, one row per site.
    zones : polars.DataFrame
        ZONE columns, one row per point.
    weather : polars.DataFrame
        WEATHER columns; a row without a site is for every site that has no rows of its own.
    visits : polars.DataFrame
        VISIT columns.
    outcomes : polars.DataFrame
        OUTCOME columns.
    outages : polars.DataFrame
        OUTAGE columns: mains lost anywhere, so that what is found of a site does not depend on
        which other sites are looked at with it. Empty: only those looked at are compared.
    """

    sites: pl.DataFrame
    zones: pl.DataFrame
    weather: pl.DataFrame
    visits: pl.DataFrame
    outcomes: pl.DataFrame
    outages: pl.DataFrame = field(default_factory=lambda: empty(OUTAGE))

    @classmethod
    def empty(cls) -> "Context":
        """Return a context in which nothing is known."""
        return cls(empty(SITE), empty(ZONE), empty(WEATHER), empty(VISIT), empty(OUTCOME))

    def only(self, sites: Iterable[str]) -> "Context":
        """Keep what concerns some sites; weather without a site and all outages stay.

        Parameters
        ----------
        sites : iterable of str
            The sites to keep.

        Returns
        -------
        Context
            The same frames with fewer rows.
        """
        wanted = list(dict.fromkeys(sites))
        kept = pl.col("site").is_in(wanted)
        return Context(
            **{
                one.name: getattr(self, one.name).filter(
                    kept | pl.col("site").is_null() if one.name == "weather" else kept
                )
                for one in fields(self)
                if one.name != "outages"
            },
            outages=self.outages,
        )
