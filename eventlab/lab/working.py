"""What is known of sites while files are taken: the store's context and what has just come."""

from collections.abc import Mapping

import polars as pl

from eventlab.context import Context
from eventlab.schema import OUTCOME, SITE, VISIT, WEATHER, ZONE, Role, Schema, conform
from eventlab.store import Store

TABLES: Mapping[Role, tuple[str, Schema, tuple[str, ...]]] = {
    Role.SITES: ("sites", SITE, ("site",)),
    Role.ZONES: ("zones", ZONE, ("site", "zone")),
    Role.WEATHER: ("weather", WEATHER, ("site", "station", "at")),
    Role.VISITS: ("visits", VISIT, ("site", "at", "work")),
    Role.OUTCOMES: ("outcomes", OUTCOME, ("site", "at")),
}
"""The small tables of the store: name, shape, and what makes a row the same row."""


def load(store: Store | None) -> Context:
    """Read the context that a store keeps.

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
    return Context(**{name: store.table(name, schema) for name, schema, _ in TABLES.values()})


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
    return Context(**tables)


def remember(store: Store, context: Context, zones: pl.DataFrame) -> None:
    """Keep the time zones that only a person's word tells, beside what the site list says.

    Parameters
    ----------
    store : Store
        Where to.
    context : Context
        What is known of the sites.
    zones : polars.DataFrame
        ``site`` and ``time_zone``.
    """
    if zones.is_empty():
        return
    told = zones.join(context.sites.drop("time_zone"), on="site", how="left")
    name, schema, key = TABLES[Role.SITES]
    store.put(name, conform(told, schema), key=key)
