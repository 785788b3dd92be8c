"""What a centre hears long after it happened, one row by itself: the panel's log dates it."""

from datetime import timedelta
from typing import Literal

import polars as pl

from eventlab.ground.late import NONE
from eventlab.schema import Kind, Witness
from eventlab.settings import Settings

_KINDS = (Kind.ARM, Kind.DISARM)
_NAMED = ("area", "person")


def delayed(
    rows: pl.DataFrame, pairs: pl.DataFrame, voices: pl.DataFrame, settings: Settings
) -> pl.DataFrame:
    """Find the openings and closings that a centre heard hours late.

    Where the panel's log covers a moment and does not tell the opening that the centre heard then,
    it did not happen then. If the panel tells one of the same kind, by the same person, in the
    hours before, of which the centre heard nothing, it is that one, received late. Taken as it
    stands, it would leave a place unarmed on paper that was armed all night.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.
    pairs : polars.DataFrame
        ``n``, ``into``: rows that tell one event within ``same_occurrence_s``.
    voices : polars.DataFrame
        ``s``, ``witness``: who tells of which site.
    settings : Settings
        ``late_receipt_h`` [h].

    Returns
    -------
    polars.DataFrame
        ``n`` of the receiver's row, ``into`` the ``n`` of the panel's that dates it.
    """
    both = voices.filter(pl.col("s").is_duplicated())["s"].unique()
    here = pl.col("s").is_in(both.implode()) & pl.col("at").is_not_null()
    panel = pl.col("witness") == Witness.PANEL
    acts = rows.lazy().filter(here, pl.col("kind").is_in(list(_KINDS)))
    acts = acts.select("n", "s", "placed", "witness", "kind", *_NAMED)
    heard = acts.filter(~panel).join(pairs.lazy(), on="n", how="anti").collect()
    told = acts.filter(panel).join(pairs.lazy(), left_on="n", right_on="into", how="anti").collect()
    if heard.is_empty() or told.is_empty():
        return pl.DataFrame(schema=NONE)
    heard = _covered(heard, rows.filter(panel & here).select("s", "placed", "source"))
    found = []
    for names in (_NAMED, ()):
        some = _dated(heard, told, names, timedelta(hours=settings.late_receipt_h))
        found.append(some)
        heard = heard.join(some, on="n", how="anti")
        told = told.join(some, left_on="n", right_on="into", how="anti")
    return pl.concat(found)


def _covered(heard: pl.DataFrame, own: pl.DataFrame) -> pl.DataFrame:
    """Keep what stands between two rows of one export of the panel's log."""
    near, own = heard.sort("placed"), own.sort("placed")
    ways: tuple[tuple[str, Literal["backward", "forward"]], ...]
    ways = (("before", "backward"), ("after", "forward"))
    for name, way in ways:
        near = near.join_asof(
            own.rename({"source": name}), on="placed", by="s", strategy=way, check_sortedness=False
        )
    return near.filter(pl.col("before") == pl.col("after"))


def _dated(
    heard: pl.DataFrame, told: pl.DataFrame, names: tuple[str, ...], reach: timedelta
) -> pl.DataFrame:
    """Give each row the panel's last one before it that is like it; each dates one."""
    key = pl.struct("s", "kind", *names).hash().alias("key")
    right = told.select(
        key, into="n", theirs="placed", **{f"{name}_told": name for name in _NAMED}
    ).sort("theirs")
    agree = pl.all_horizontal(
        (pl.col(name) == pl.col(f"{name}_told")).fill_null(value=True) for name in _NAMED
    )
    return (
        heard.with_columns(key)
        .sort("placed")
        .join_asof(right, left_on="placed", right_on="theirs", by="key", tolerance=reach,
                   check_sortedness=False)
        .filter(pl.col("into").is_not_null() & agree)
        .sort(pl.col("placed") - pl.col("theirs"), "n")
        .unique("into", keep="first", maintain_order=True)
        .select(pl.col(name).cast(kind) for name, kind in NONE.items())
    )  # fmt: skip
