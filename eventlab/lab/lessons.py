"""Which stored rows do not stand as what was taught would have them read."""

from collections.abc import Sequence

import polars as pl

from eventlab.meaning import BESIDE_LIFE, GENERIC, forms, in_force, matched
from eventlab.schema import Kind
from eventlab.store import Store, fetch

_MARK = r"\+(t[0-9a-f]+)$"


def wordings(store: Store, sites: Sequence[str] | None = None) -> pl.DataFrame:
    """List the wordings of rows that were not understood, and of rows read as they were taught.

    Parameters
    ----------
    store : Store
        Where the rows are.
    sites : sequence of str, optional
        Only these sites.

    Returns
    -------
    polars.DataFrame
        ``site``, ``text``, ``form``, ``problem`` (null where it is read), ``mark`` (of what was
        taught; null where it is not read), ``rows``. Rows whose time or site cannot be read are no
        matter of their wording.
    """
    columns = ["site", "kind", "source", "row", "wall", "text", "problem", "reading"]
    rows = store.events(sites=sites, columns=columns)
    unread = pl.col("kind") == Kind.UNREAD
    told = rows.filter(
        (unread | pl.col("reading").str.contains(_MARK)) & pl.col("text").is_not_null(),
        pl.col("wall").is_not_null(),
        pl.col("site") != "",
    ).with_columns(mark=pl.when(~unread).then(pl.col("reading").str.extract(_MARK)))
    found = fetch(
        told.unique(["site", "source", "row"])
        .group_by("site", "text", "problem", "mark")
        .agg(rows=pl.len().cast(pl.Int64))
    )
    return found.join(forms(found["text"]), on="text", how="left")


def unlearned(store: Store, taught: pl.DataFrame, sites: Sequence[str] | None = None) -> list[str]:
    """List the sites with rows that what was taught, or taken back, would have read otherwise.

    Parameters
    ----------
    store : Store
        Where the rows are.
    taught : polars.DataFrame
        Columns of ``schema.TAUGHT``.
    sites : sequence of str, optional
        Only these sites.

    Returns
    -------
    list of str
        Empty where nothing was ever taught, without looking at any row.
    """
    if taught.is_empty():
        return []
    held = in_force(taught)
    found = matched(wordings(store, sites).rename({"mark": "read_by"}), held)
    ordinary = held.filter(pl.col("kind").is_in([str(kind) for kind in GENERIC]))["mark"]
    beside = (pl.col("problem") == BESIDE_LIFE).fill_null(value=False)
    stands = (
        pl.when(beside)
        .then(pl.col("mark").is_in(ordinary.implode()).fill_null(value=False))
        .otherwise(pl.col("read_by").eq_missing(pl.col("mark")))
    )
    return found.filter(~stands)["site"].unique().sort().to_list()
