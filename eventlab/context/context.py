"""What is known of sites from outside their logs, as one value."""

from collections.abc import Iterable
from dataclasses import dataclass, field, fields

import polars as pl

from eventlab.schema import (
    CALIBRATION,
    OUTAGE,
    OUTCOME,
    SCHEDULE,
    SITE,
    TAUGHT,
    USER,
    VISIT,
    WEATHER,
    ZONE,
    empty,
)

_FOR_ALL = frozenset({"weather", "taught"})
"""Tables whose rows without a site are for every site."""
_WHOLE = frozenset({"outages", "calibration"})
"""Tables of the whole store, whichever sites are looked at."""


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
        OUTAGE columns: mains lost anywhere, and points that alarmed together anywhere, so that
        what is found of a site does not depend on which other sites are looked at with it. Empty:
        only those looked at are compared.
    taught : polars.DataFrame
        TAUGHT columns: wordings that a person said the meaning of; a row without a site is for
        all sites.
    calibration : polars.DataFrame
        CALIBRATION columns: what recorded outcomes taught. It is of the whole store, so that a
        site's probabilities do not depend on which other sites are looked at with it.
    schedule : polars.DataFrame
        SCHEDULE columns: when places are meant to be open.
    users : polars.DataFrame
        USER columns: who has a code.
    """

    sites: pl.DataFrame
    zones: pl.DataFrame
    weather: pl.DataFrame
    visits: pl.DataFrame
    outcomes: pl.DataFrame
    outages: pl.DataFrame = field(default_factory=lambda: empty(OUTAGE))
    taught: pl.DataFrame = field(default_factory=lambda: empty(TAUGHT))
    calibration: pl.DataFrame = field(default_factory=lambda: empty(CALIBRATION))
    schedule: pl.DataFrame = field(default_factory=lambda: empty(SCHEDULE))
    users: pl.DataFrame = field(default_factory=lambda: empty(USER))

    @classmethod
    def empty(cls) -> "Context":
        """Return a context in which nothing is known."""
        return cls(empty(SITE), empty(ZONE), empty(WEATHER), empty(VISIT), empty(OUTCOME))

    def only(self, sites: Iterable[str]) -> "Context":
        """Keep what concerns some sites; what is for all sites or of the whole store stays.

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
                    kept | pl.col("site").is_null() if one.name in _FOR_ALL else kept
                )
                for one in fields(self)
                if one.name not in _WHOLE
            },
            **{name: getattr(self, name) for name in _WHOLE},
        )
