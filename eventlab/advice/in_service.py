"""Whether a point is in service, and was seen to detect."""

import polars as pl

from eventlab.analysis.daily import POINT
from eventlab.ground import Ground, Reason
from eventlab.schema import Kind, Phase, Timing

_DETECTS = (Kind.ACTIVATION, Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM, Kind.WALK_TEST)
_SEEN = {Kind.ACTIVATION: "movement", Kind.WALK_TEST: "walk test"}
_HELD = {Reason.ON_TEST: "on test", Reason.WALK_TEST: "walk test",
         Reason.ON_SITE_WORK: "work on the system"}  # fmt: skip


def seen_since(
    rows: pl.DataFrame, points: pl.DataFrame, days: pl.DataFrame, ground: Ground
) -> pl.DataFrame:
    """Say whether each point was seen to detect after the date; a tamper does not count.

    Of a whole site it must hold for all points that had alarmed before.

    Parameters
    ----------
    rows : polars.DataFrame
        ``row``, ``site``, ``zone`` (null: a whole site), ``at``.
    points : polars.DataFrame
        ``row``, ``site``, ``zone``, ``within``, ``at``: the points of each row.
    days : polars.DataFrame
        ``row``, ``zone``, ``side``: alarms before and after.
    ground : Ground
        What every analysis stands on.

    Returns
    -------
    polars.DataFrame
        ``row``, ``unproven`` (points not seen), ``proven_at``, ``proven_by`` (the last first sign;
        null where any is not seen).
    """
    kind = pl.col("kind")
    signs = ground.occurrences.filter(
        kind.is_in(list(_DETECTS))
        & (pl.col("phase") != Phase.END)
        & pl.col("zone").is_not_null()
        & (pl.col("timing") != Timing.DOUBTFUL)
        & pl.col("site").is_in(rows["site"].unique().implode())
    ).select(*POINT, seen="placed", by=kind.cast(pl.String))
    own = points.select("row", *POINT, "at")
    # A walk test names a point by its number, whatever area it was in.
    first = (
        own.join(signs.drop("within"), on=["site", "zone"])
        .filter(pl.col("seen") > pl.col("at"))
        .sort("seen")
        .group_by("row", "zone", maintain_order=True)
        .agg(pl.col("seen").first(), pl.col("by").first())
    )
    wanted = own.join(rows.select("row", single=pl.col("zone").is_not_null()), on="row")
    alarmed = days.filter(pl.col("side") == "before").select("row", "zone").unique()
    asked = wanted.join(
        alarmed.with_columns(alarmed=pl.lit(value=True)), on=["row", "zone"], how="left"
    ).filter(pl.col("single") | pl.col("alarmed"))
    return (
        asked.select("row", "zone")
        .unique(maintain_order=True)
        .join(first, on=["row", "zone"], how="left", maintain_order="left")
        .group_by("row")
        .agg(
            unproven=pl.col("zone").filter(pl.col("seen").is_null()).sort(),
            proven_at=pl.col("seen").max(),
            proven_by=pl.col("by").sort_by("seen").last(),
        )
        .with_columns(
            proven_by=pl.col("proven_by").replace_strict(
                {str(k): v for k, v in _SEEN.items()}, default="alarm", return_dtype=pl.String
            )
        )
        .with_columns(
            pl.when(pl.col("unproven").list.len() == 0).then(pl.col("proven_at", "proven_by"))
        )
    )


def in_force(rows: pl.DataFrame, points: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Say what keeps a point from alarming where the log ends.

    Parameters
    ----------
    rows, points, ground
        As in `seen_since`; ``points`` with ``area``.

    Returns
    -------
    polars.DataFrame
        ``row``, ``in_force``: words, by rows that have any.
    """
    ends = ground.sites.select("site", "now")
    single = points.join(
        rows.filter(pl.col("zone").is_not_null()).select("row"), on="row", how="semi"
    )
    out = (
        ground.removed.filter(pl.col("reason").is_in([str(Kind.BYPASS), str(Kind.SHUTDOWN)]))
        .join(ends, on="site")
        .filter(pl.col("until") >= pl.col("now"))
        .join(single.select("row", *POINT), on=list(POINT), nulls_equal=True)
        .select("row", what="reason")
    )
    masked = (
        ground.occurrences.filter(pl.col("kind") == Kind.MASKING)
        .group_by("site", "zone")
        .agg(pl.col("phase").sort_by("placed").last())
        .filter(pl.col("phase") == Phase.BEGIN)
        .join(single.select("row", "site", "zone"), on=["site", "zone"])
        .select("row", what=pl.lit(str(Kind.MASKING)))
    )
    held = ground.aside.filter(
        (pl.col("ended") == pl.lit(value=False)) & pl.col("reason").is_in([str(r) for r in _HELD])
    ).select("site", of="area", what=pl.col("reason").cast(pl.String).replace(_HELD))
    aside = (
        points.join(held, on="site")
        .filter(pl.col("of").is_null() | (pl.col("of") == pl.col("area")))
        .select("row", "what")
    )
    both = pl.concat([out, masked, aside]).unique()
    return both.group_by("row").agg(in_force=pl.col("what").sort().str.join(", "))
