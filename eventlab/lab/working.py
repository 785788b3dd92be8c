"""What is known of sites while files are taken: the store's context and what has just come."""

from collections.abc import Mapping
from dataclasses import replace

import polars as pl

from eventlab.context import Context
from eventlab.lab.identity import ZONE_SAID
from eventlab.meaning import SAID_ZONES
from eventlab.schema import (
    OUTAGE,
    OUTCOME,
    SCHEDULE,
    SITE,
    TAUGHT,
    TRIPS,
    USER,
    VISIT,
    WEATHER,
    ZONE,
    Kind,
    Phase,
    Role,
    Schema,
    Witness,
    conform,
    empty,
)
from eventlab.settings import Settings
from eventlab.store import Store, fetch

SAID_CLOCKS: Schema = {"site": pl.String(), "clock": pl.String()}

TABLES: Mapping[Role, tuple[str, Schema, tuple[str, ...]]] = {
    Role.SITES: ("sites", SITE, ("site",)),
    Role.ZONES: ("zones", ZONE, ("site", "zone")),
    Role.WEATHER: ("weather", WEATHER, ("site", "station", "at")),
    Role.VISITS: ("visits", VISIT, ("site", "at", "work")),
    Role.OUTCOMES: ("outcomes", OUTCOME, ("site", "at")),
    Role.SCHEDULE: ("schedule", SCHEDULE, ("site",)),
    Role.USERS: ("users", USER, ("site",)),
}
"""The small tables of the store: name, shape, and what makes a row the same row.

Of a schedule, and of a list of users, it is the site: what comes anew stands for all of its
earlier rows, so that hours that were put right leave no old ones behind.
"""

SAME_ROW: Mapping[Role, tuple[str, ...]] = {
    Role.SCHEDULE: ("site", "area", "weekday", "opens", "from"),
    Role.USERS: ("site", "person", "since"),
}
"""What makes two rows of one file the same, where that is more than what a new file replaces."""

TAUGHT_TABLE = "taught"
"""The small table of wordings that a person said the meaning of."""


def load(store: Store | None) -> Context:
    """Read the context that a store keeps, as the lists tell it.

    Parameters
    ----------
    store : Store or None
        None for a dry run without a store.

    Returns
    -------
    Context
        Empty tables where nothing has come yet.
    """
    if store is None:
        return Context.empty()
    tables = {name: store.table(name, schema) for name, schema, _ in TABLES.values()}
    return Context(**tables, taught=taught_in(store))


def taught_in(store: Store) -> pl.DataFrame:
    """Return the wordings that were taught to a store, columns of ``schema.TAUGHT``."""
    return store.table(TAUGHT_TABLE, TAUGHT)


def load_said(store: Store) -> Context:
    """Read the context with what only a person's word can tell.

    Parameters
    ----------
    store : Store
        Where it is kept.

    Returns
    -------
    Context
        The same as ``load`` gives, with a zone for each site that was named with an export, and
        with the rule of its clock where a person said it.
    """
    context = load(store)
    said = said_zones(store).rename({"time_zone": "said"})
    clocks = _said_clocks(store).rename({"clock": "said_clock"})
    sites = context.sites.join(said, on="site", how="full", coalesce=True).join(
        clocks, on="site", how="full", coalesce=True
    )
    zoned = sites.with_columns(
        time_zone=pl.coalesce("time_zone", "said"), clock=pl.coalesce("said_clock", "clock")
    )
    return replace(context, sites=conform(zoned, SITE))


def load_all(store: Store, settings: Settings) -> Context:
    """Read the context with what only a person's word, or the logs of all sites, can tell.

    Parameters
    ----------
    store : Store
        Where it is kept.
    settings : Settings
        ``storm_within_s`` [s], ``storm_points``.

    Returns
    -------
    Context
        The same as ``load_said`` gives, with the mains losses and bursts of all sites.
    """
    context = load_said(store)
    return replace(context, outages=_outages(store, context.sites, settings))


def _outages(store: Store, sites: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """List mains losses and bursts of alarms of every site whose place is known."""
    places = sites.select("site", "latitude", "longitude").drop_nulls().unique("site", keep="first")
    if places.height < 2:
        return empty(OUTAGE)  # nobody is anybody's neighbour
    kinds = [Kind.MAINS_LOSS, *TRIPS]
    told = fetch(
        store.events(kinds=kinds, columns=["site", "placed", "kind", "phase", "zone", "area"])
        .filter(pl.col("phase") == Phase.BEGIN)
        .select("site", "kind", "area", "zone", at="placed")
    ).join(places, on="site")
    lost = told.filter(pl.col("kind") == Kind.MAINS_LOSS)
    near = pl.col("at") - pl.col("at").shift(1).over("site") <= pl.duration(
        seconds=int(settings.storm_within_s)
    )
    bursts = (
        told.filter((pl.col("kind") != Kind.MAINS_LOSS) & pl.col("zone").is_not_null())
        .sort("site", "at")
        .with_columns(burst=(~near.fill_null(value=False)).cum_sum())
        .group_by("site", "burst", maintain_order=True)
        .agg(
            pl.col("at", "latitude", "longitude").first(),
            kind=pl.lit(str(Kind.INTRUSION_ALARM)),
            points=pl.struct("area", "zone").n_unique(),
        )
        .filter(pl.col("points") >= settings.storm_points)
    )
    return pl.concat([conform(lost, OUTAGE), conform(bursts, OUTAGE)])


def said_zones(store: Store | None) -> pl.DataFrame:
    """List the time zones that a person named with exports that are in the store.

    Parameters
    ----------
    store : Store or None
        None for a dry run without a store.

    Returns
    -------
    polars.DataFrame
        Columns of ``SAID_ZONES``; of two words about one site the first counts.
    """
    found = [empty(SAID_ZONES)]
    for export, sites in store.takings() if store is not None else ():
        zone = export.notes.get(ZONE_SAID)
        if zone:
            said = pl.DataFrame({"site": sites}).with_columns(time_zone=pl.lit(zone))
            found.append(conform(said, SAID_ZONES))
    return pl.concat(found).unique("site", keep="first", maintain_order=True)


def _said_clocks(store: Store) -> pl.DataFrame:
    """List the rules that a person said panels keep their clocks by; the last word counts."""
    told = {
        site: export.answers["clock"]
        for export, sites in store.takings()
        if "clock" in export.answers and export.answers.get("witness") != Witness.RECEIVER
        for site in sites
    }
    return pl.DataFrame(list(told.items()), schema=SAID_CLOCKS, orient="row")


def joined_in(context: Context, role: Role, frame: pl.DataFrame) -> Context:
    """Return the context with rows added; rows with the same key are replaced.

    Parameters
    ----------
    context : Context
        What was known.
    role : Role
        Which table the rows belong to.
    frame : polars.DataFrame
        New rows in the shape of that table.

    Returns
    -------
    Context
        The same but for that table.
    """
    name, schema, key = TABLES[role]
    tables = {other: getattr(context, other) for other, _, _ in TABLES.values()}
    kept = tables[name].join(frame, on=list(key), how="anti", nulls_equal=True)
    tables[name] = conform(pl.concat([kept, conform(frame, schema)]), schema)
    return replace(context, **tables)
