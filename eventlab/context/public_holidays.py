"""Public holidays of the region of each site."""

from datetime import date

import polars as pl

from eventlab.schema import Schema, conform

HOLIDAYS: Schema = {"site": pl.String(), "date": pl.Date(), "holiday": pl.String()}


def region_of(country: str | None, region: str | None) -> tuple[str, str | None] | None:
    """Read a country and its part as ISO 3166 writes them.

    Parameters
    ----------
    country : str or None
        ``GB``; may be left out where the region tells it.
    region : str or None
        ``GB-SCT``, ``SCT``, or a country alone.

    Returns
    -------
    tuple of str and (str or None), or None
        Country and part; None where the calendar of that place is not known.
    """
    import holidays

    told = (region or "").strip().upper()
    head, dash, part = told.partition("-")
    land = (country or "").strip().upper() or head
    sub = part if dash else (told if country and told != land else "")
    if dash and head != land:
        return None
    known = holidays.list_supported_countries(include_aliases=True)
    if land not in known or (sub and sub not in known[land]):
        return None
    return land, sub or None


def public_holidays(sites: pl.DataFrame, first: date, last: date) -> pl.DataFrame:
    """List the public holidays of each site whose country or region is told.

    Parameters
    ----------
    sites : polars.DataFrame
        SITE columns.
    first, last : datetime.date
        Of which days.

    Returns
    -------
    polars.DataFrame
        ``site``, ``date``, ``holiday`` (its name), by site and date; nothing of a site without a
        known region.

    Notes
    -----
    The calendars are those of the `holidays` library.
    """
    told = sites.select("site", "country", "region").filter(
        pl.col("country").is_not_null() | pl.col("region").is_not_null()
    )
    if told.is_empty():
        return pl.DataFrame(schema=HOLIDAYS)
    import holidays

    parts = []
    for country, region in told.select("country", "region").unique().sort("country").iter_rows():
        place = region_of(country, region)
        if place is None:
            continue
        years = range(first.year, last.year + 1)
        days = holidays.country_holidays(place[0], subdiv=place[1], years=years)
        kept = [(day, name) for day, name in sorted(days.items()) if first <= day <= last]
        here = told.filter(
            pl.col("country").eq_missing(pl.lit(country, pl.String)),
            pl.col("region").eq_missing(pl.lit(region, pl.String)),
        ).select("site")
        dates = pl.DataFrame(kept, schema=["date", "holiday"], orient="row")
        if dates.height:
            parts.append(here.join(dates, how="cross"))
    if not parts:
        return pl.DataFrame(schema=HOLIDAYS)
    return conform(pl.concat(parts), HOLIDAYS).unique(["site", "date"]).sort("site", "date")
