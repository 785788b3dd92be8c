"""The rows that could not be read."""

import polars as pl

from eventlab.schema import Kind
from eventlab.store import Store, fetch


def unread(store: Store, site: str | None) -> pl.DataFrame:
    """Return the rows that could not be read.

    Parameters
    ----------
    store : Store
        The store.
    site : str or None
        Only this site.

    Returns
    -------
    polars.DataFrame
        ``site``, ``source``, ``row``, ``text`` (the wording, where it stands apart), ``raw``,
        ``problem``.
    """
    found = store.events(
        sites=None if site is None else [site],
        kinds=[Kind.UNREAD],
        columns=["site", "source", "row", "text", "code", "raw", "problem"],
    )
    return fetch(found.with_columns(text=pl.coalesce("text", "code")).drop("code"))
