"""Local wall time, and the night that a thing belongs to."""

import polars as pl

from eventlab.meaning.clock import to_wall


def at_home(rows: pl.DataFrame, zones: pl.Series) -> pl.DataFrame:
    """Add the site's own wall time and the night.

    A night runs from local noon to local noon and bears the date of its noon start. A site whose
    time zone is not known is read in UTC.

    Parameters
    ----------
    rows : polars.DataFrame
        ``s`` and ``placed`` and any other columns.
    zones : polars.Series
        By site number: the time zone's name or null.

    Returns
    -------
    polars.DataFrame
        With ``local`` (Datetime without zone) and ``night`` (Date).
    """
    named = rows.with_columns(zone_name=zones.fill_null("UTC").gather(rows["s"]))
    return (
        to_wall(named, "placed", "zone_name", "local")
        .drop("zone_name")
        .with_columns(night=pl.col("local").dt.offset_by("-12h").dt.date())
    )
