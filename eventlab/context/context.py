"""What is known of sites from outside their logs, as one value."""

from collections.abc import Iterable
from dataclasses import dataclass, fields

import polars as pl

from eventlab.schema import OUTCOME, SITE, VISIT, WEATHER, ZONE, empty


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
    """

    sites: pl.DataFrame
    zones: pl.DataFrame
    weather: pl.DataFrame
    visits: pl.DataFrame
    outcomes: pl.DataFrame

    @classmethod
    def empty(cls) -> "Context":
        """Return a context in which nothing is known."""
        return cls(empty(SITE), empty(ZONE), empty(WEATHER), empty(VISIT), empty(OUTCOME))

    def only(self, sites: Iterable[str]) -> "Context":
        """Keep what concerns some sites; weather without a site stays.

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
                field.name: getattr(self, field.name).filter(
                    kept | pl.col("site").is_null() if field.name == "weather" else kept
                )
                for field in fields(self)
            }
        )
