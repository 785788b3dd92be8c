"""Codes against the list of users: never used, used after their end, unlisted, or far apart."""

from datetime import date

import polars as pl

from eventlab.analysis.found import seconds
from eventlab.context import great_circle_km
from eventlab.schema import Kind, Mode
from eventlab.settings import Settings

ACTS = ("site", "placed", "kind", "mode", "person", "person_name")
_FROM_AFAR = (Mode.TIMED, Mode.REMOTE)


def against_list(
    used: pl.DataFrame, users: pl.DataFrame, first: date, last: date, settings: Settings
) -> pl.DataFrame:
    """Compare the codes that a log tells with the list of users of its site.

    Parameters
    ----------
    used : polars.DataFrame
        ``person``, ``last`` (wall: its last use), ``what`` (as `who.codes` says) of one site.
    users : polars.DataFrame
        USER columns of that site.
    first, last : datetime.date
        From when to when the log reaches, by the site's own calendar.
    settings : Settings
        ``unused_days``.

    Returns
    -------
    polars.DataFrame
        By number: ``person``, ``asks`` (``never``: listed for ``unused_days`` of the log and
        never used; ``ended``: used after the day on which it was to end; ``unlisted``: used and
        in no list), ``days`` (of the log in which it was listed), ``until``, ``last``.
        Nothing where there is no list.
    """
    listed = users.drop_nulls("person").sort("person", "until", nulls_last=True)
    listed = listed.group_by("person", maintain_order=True).agg(
        pl.col("since").min(),
        until=pl.when(pl.col("until").null_count() == 0).then(pl.col("until").max()),
        rows=pl.len(),
    )
    if listed.is_empty():
        return pl.DataFrame(schema=_ASKED)
    both = listed.join(used, on="person", how="full", coalesce=True)
    begun = pl.max_horizontal("since", pl.lit(first))
    ended = pl.min_horizontal("until", pl.lit(last))
    days = (ended - begun).dt.total_days()
    person = pl.col("what").is_in(["person", "shared"]).fill_null(value=True)
    asks = (
        pl.when(pl.col("last").is_null() & (days >= settings.unused_days) & (ended >= last))
        .then(pl.lit("never"))
        .when(pl.col("last").dt.date() > pl.col("until"))
        .then(pl.lit("ended"))
        .when(pl.col("rows").is_null() & person)
        .then(pl.lit("unlisted"))
    )
    told = both.with_columns(asks=asks, days=days.cast(pl.Int64)).drop_nulls("asks")
    number = pl.col("person").str.to_integer(strict=False)
    return told.sort(number, "person", nulls_last=True).select(
        pl.col(name).cast(kind) for name, kind in _ASKED.items()
    )


_ASKED = {
    "person": pl.String(),
    "asks": pl.String(),
    "days": pl.Int64(),
    "until": pl.Date(),
    "last": pl.Datetime("us"),
}


def far_apart(
    acts: pl.DataFrame, users: pl.DataFrame, sites: pl.DataFrame, site: str, settings: Settings
) -> pl.DataFrame:
    """Find one name at two sites sooner after each other than anyone could travel.

    Numbers are a site's own: only a name, in the list of users or in the logs, is the same person
    at another site. What was done by a timer or from afar needs no travel.

    Parameters
    ----------
    acts : polars.DataFrame
        Openings and closings of all sites: the columns of ``ACTS``.
    users : polars.DataFrame
        USER columns of all sites.
    sites : polars.DataFrame
        SITE columns: where the sites are.
    site : str
        One of the two is this site.
    settings : Settings
        ``apart_km`` [km], ``apart_km_h`` [km/h], ``apart_clock_min`` [min].

    Returns
    -------
    polars.DataFrame
        By name, the last time of each pair of sites: ``person`` (the number here), ``other``
        (site), ``at`` (the earlier of the two, UTC), ``minutes`` (between them), ``km``,
        ``times``.
    """
    places = sites.select("site", "latitude", "longitude").drop_nulls().unique("site", keep="last")
    if places.height < 2 or site not in places["site"]:
        return pl.DataFrame(schema=_APART)
    names = users.drop_nulls(["person", "name"]).unique(["site", "person"], keep="last")
    done = (
        acts.filter(
            pl.col("kind").is_in([Kind.ARM, Kind.DISARM])
            & ~pl.col("mode").is_in(list(_FROM_AFAR)).fill_null(value=False)
        )
        .join(names.select("site", "person", "name"), on=["site", "person"], how="left")
        .with_columns(who=_folded(pl.coalesce("name", "person_name")))
        .drop_nulls("who")
        .join(places, on="site")
    )
    here = done.filter(pl.col("site") == site).select("who").unique()
    step = (
        done.join(here, on="who", how="semi")
        .sort("who", "placed")
        .with_columns(
            pl.col("site", "placed", "latitude", "longitude", "person")
            .shift(1)
            .over("who")
            .name.suffix("_before")
        )
        .filter(
            (pl.col("site") != pl.col("site_before"))
            & ((pl.col("site") == site) | (pl.col("site_before") == site))
        )
    )
    ends = ("latitude", "longitude", "latitude_before", "longitude_before")
    at_home = pl.col("site") == site
    far = step.with_columns(
        km=great_circle_km(*(pl.col(name) for name in ends)),
        minutes=seconds(pl.col("placed") - pl.col("placed_before")) / 60,
        other=pl.when(at_home).then("site_before").otherwise("site"),
        own=pl.when(at_home).then("person").otherwise("person_before"),
    ).filter(
        (pl.col("km") >= settings.apart_km)
        & (pl.col("minutes") + settings.apart_clock_min < 60 * pl.col("km") / settings.apart_km_h)
    )
    return (
        far.sort("placed")
        .group_by("who", "other", maintain_order=True)
        .agg(
            person=pl.col("own").last(),
            at=pl.col("placed_before").last(),
            minutes=pl.col("minutes").last(),
            km=pl.col("km").last(),
            times=pl.len(),
        )
        .sort("at", "other")
        .select(pl.col(name).cast(kind) for name, kind in _APART.items())
    )


_APART = {
    "person": pl.String(),
    "other": pl.String(),
    "at": pl.Datetime("us", "UTC"),
    "minutes": pl.Float64(),
    "km": pl.Float64(),
    "times": pl.Int64(),
}


def _folded(name: pl.Expr) -> pl.Expr:
    bare = name.str.to_lowercase().str.replace_all(r"\s+", " ").str.strip_chars()
    return pl.when(bare != "").then(bare)
