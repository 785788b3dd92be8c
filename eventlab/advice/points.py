"""What stands at the point a finding is about: its detector, its place, its use."""

import polars as pl

from eventlab.advice.tables import table
from eventlab.context import Context
from eventlab.schema import LIFE_SAFETY_USES, Subject, Use

_OUTSIDE_EDGE = ("contact", "shock", "glass", "beam", "outdoor")


def family(text: pl.Expr) -> pl.Expr:
    """Name the family of a detector from free text; null where no word tells it."""
    words = table("detectors")
    low = text.str.to_lowercase()
    return pl.coalesce(
        pl.when(low.str.contains(row["words"])).then(pl.lit(row["family"]))
        for row in words.iter_rows(named=True)
    )


def described(found: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Say for each finding what the zone schedule tells of its point.

    Parameters
    ----------
    found : polars.DataFrame
        FOUND columns.
    context : Context
        Zone schedules and site lists.

    Returns
    -------
    polars.DataFrame
        One row per finding in its order: ``finding`` (row number), ``family`` of detector,
        ``place`` (words of name, site and trade, lower case), ``use``, ``perimeter`` (true for a
        point on the outer skin), ``life_safety``.
    """
    keys = found.with_row_index("finding").select(
        "finding",
        "site",
        "area",
        zone=pl.when(pl.col("subject_kind") == Subject.ZONE).then(pl.col("subject")),
        marked=pl.col("figures").str.json_path_match("$.life_safety") == "true",
    )
    zones = context.zones.select(
        "site", "zone", "name", "detector", "use", schedule=pl.col("area")
    ).with_row_index("line")
    sites = context.sites.select("site", site_name="name", trade="trade").unique(
        "site", keep="first", maintain_order=True
    )
    here = pl.col("schedule").list.contains(pl.col("area")).fill_null(value=False)
    joined = (
        keys.join(zones, on=["site", "zone"], how="left")
        .sort("finding", ~here, "line", nulls_last=True)
        .unique("finding", keep="first", maintain_order=True)
        .join(sites, on="site", how="left", maintain_order="left")
    )
    blank = pl.lit("")
    kind = pl.coalesce(
        family(pl.col("detector").fill_null(blank)),
        pl.when(pl.col("use") == Use.OUTDOOR).then(pl.lit("outdoor")),
        family(pl.col("name").fill_null(blank)),
    )
    place = pl.concat_str(
        ["name", "detector", "site_name", "trade"], separator=" ", ignore_nulls=True
    )
    skin = pl.col("use").is_in([Use.PERIMETER, Use.OUTDOOR]) | (
        pl.col("use").is_null() & pl.col("family").is_in(_OUTSIDE_EDGE)
    )
    return joined.with_columns(family=kind, place=place.str.to_lowercase()).select(
        "finding",
        "family",
        "place",
        "use",
        perimeter=skin.fill_null(value=False),
        life_safety=pl.col("marked").fill_null(value=False)
        | pl.col("use").is_in(list(LIFE_SAFETY_USES)).fill_null(value=False),
    )
