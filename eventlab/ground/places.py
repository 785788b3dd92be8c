"""Which area's arming decides for a row or a point.

An area that arms and disarms is a place with a number ``k``. A site whose log names no area when
it arms is one place. Rows that name no area look at the areas of their point, else at all areas
of the site, by a rule: ``any``, ``all``, or ``agree`` where the rule is not known.
"""

from dataclasses import dataclass

import polars as pl

from eventlab.ground.words import Rule
from eventlab.schema import Kind

ACTS = (Kind.ARM, Kind.DISARM)


@dataclass(frozen=True)
class Places:
    """The places of all sites.

    Parameters
    ----------
    areas : polars.DataFrame
        ``s``, ``area`` (null: the one place of its site), ``k``.
    single : polars.Series
        By site number: its only place, null where it has several.
    """

    areas: pl.DataFrame
    single: pl.Series

    def lone(self) -> bool:
        """Tell whether every site is one place."""
        return self.single.null_count() == 0


def places(rows: pl.DataFrame) -> Places:
    """Give every area that arms a number.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.

    Returns
    -------
    Places
        Every site has at least one.
    """
    count = 0 if rows.is_empty() else int(rows["s"][-1]) + 1
    sites = pl.select(s=pl.int_range(count, dtype=pl.Int32))
    named = (
        rows.lazy()
        .filter(pl.col("kind").is_in(list(ACTS)) & pl.col("area").is_not_null())
        .select("s", "area")
        .unique()
        .collect()
    )
    areas = (
        sites.join(named, on="s", how="left")
        .sort("s", "area")
        .with_columns(k=pl.int_range(pl.len(), dtype=pl.Int32))
    )
    single = (
        areas.group_by("s", maintain_order=True)
        .agg(pl.col("k").first(), many=pl.len())
        .select(pl.when(pl.col("many") == 1).then("k"))
        .to_series()
    )
    return Places(areas, single)


def spread(acts: pl.DataFrame, known: Places) -> pl.DataFrame:
    """Give every act the places it concerns: its own area, else all of its site.

    Parameters
    ----------
    acts : polars.DataFrame
        ``s``, ``area`` and any other columns.
    known : Places
        The places.

    Returns
    -------
    polars.DataFrame
        The same with ``k``; a row for each place.
    """
    if known.lone():
        return acts.with_columns(k=known.single.gather(acts["s"]))
    own = acts.join(known.areas, on=["s", "area"], how="left", nulls_equal=False)
    told = own.filter(pl.col("k").is_not_null())
    rest = own.filter(pl.col("k").is_null()).drop("k")
    wide = rest.join(known.areas.select("s", "k"), on="s", how="left")
    return pl.concat([told, wide.select(told.columns)])


def looking_at(rows: pl.DataFrame, points: pl.DataFrame, known: Places) -> pl.DataFrame:
    """Say at which places a row looks, and by which rule.

    Parameters
    ----------
    rows : polars.DataFrame
        ``n``, ``s``, ``area``, ``zone``, ``point`` (number of the point or null).
    points : polars.DataFrame
        ``point``, ``areas`` (list), ``area_rule``.
    known : Places
        The places.

    Returns
    -------
    polars.DataFrame
        ``n``, ``k``, ``rule``: one row for each place looked at; rows of one-place sites and of
        areas that arm have one.
    """
    own = rows.join(known.areas, on=["s", "area"], how="left", nulls_equal=False)
    own = own.with_columns(k=pl.coalesce("k", known.single.gather(own["s"])))
    direct = own.filter(pl.col("k").is_not_null()).select(
        "n", "k", rule=pl.lit(Rule.ALL.value, dtype=pl.String)
    )
    rest = own.filter(pl.col("k").is_null()).drop("k")
    if rest.is_empty():
        return direct
    listed = of_points(points, known)
    by_point = rest.join(listed, on="point", how="left", nulls_equal=False)
    found = by_point.filter(pl.col("k").is_not_null()).select("n", "k", "rule")
    lost = by_point.filter(pl.col("k").is_null()).select("n", "s", "zone")
    whole = lost.join(known.areas.select("s", "k"), on="s", how="left").select(
        "n",
        "k",
        rule=pl.when(pl.col("zone").is_null())
        .then(pl.lit(Rule.ANY.value))
        .otherwise(pl.lit(Rule.AGREE.value)),
    )
    return pl.concat([direct, found, whole])


def of_points(points: pl.DataFrame, known: Places) -> pl.DataFrame:
    """Give the places of each point; one with no area that arms looks at all of its site.

    Parameters
    ----------
    points : polars.DataFrame
        ``point``, ``s``, ``areas`` (list), ``area_rule``.
    known : Places
        The places.

    Returns
    -------
    polars.DataFrame
        ``point``, ``k``, ``rule``.
    """
    listed = (
        points.select("point", "s", "areas", "area_rule")
        .explode("areas", empty_as_null=True)
        .join(known.areas, left_on=["s", "areas"], right_on=["s", "area"], how="inner")
        .select("point", "k", rule=pl.coalesce("area_rule", pl.lit(Rule.AGREE.value)))
    )
    rest = points.select("point", "s").join(listed, on="point", how="anti")
    whole = rest.join(known.areas.select("s", "k"), on="s").select(
        "point", "k", rule=pl.lit(Rule.AGREE.value)
    )
    return pl.concat([listed, whole]).unique(maintain_order=True)
