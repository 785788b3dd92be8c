"""Which lanes a site has, and when something was last told of each."""

import polars as pl

from eventlab.analysis.alive.beats import DETECTS, last_by_path
from eventlab.analysis.alive.families import FAMILIES, WIRELESS
from eventlab.analysis.alive.spells import FAMILY_OF, SUBJECT, spoke
from eventlab.context import Context
from eventlab.ground import Ground, Power
from eventlab.schema import Kind, Phase

_LINKED = r"radio|wireless|wire-?free|868|433"
_DEVICE = [family.key for family in FAMILIES if family.device]


def subjects(ground: Ground, context: Context) -> pl.DataFrame:
    """List the lanes: those that something was told of, and those that must be there anyway.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Zone schedules tell which devices are wireless.

    Returns
    -------
    polars.DataFrame
        Columns of ``SUBJECT``.
    """
    sites = ground.sites.select("site")
    kinds = list(FAMILY_OF)
    rows = ground.occurrences.filter(pl.col("kind").cast(pl.String).is_in(kinds)).with_columns(
        family=pl.col("kind").cast(pl.String).replace_strict(FAMILY_OF)
    )
    told = [
        _lanes(rows.filter(pl.col("family").is_in(_DEVICE)), "family", "zone", "within"),
        _lanes(_wireless(ground, context, rows), "family", "zone", "within"),
        _lanes(rows.filter(pl.col("family") == "path"), "family", "path"),
        _lanes(last_by_path(ground).with_columns(family=pl.lit("path")), "family", "path"),
        _lanes(_reports(ground), "family", "witness"),
        _lanes(ground.clocks.with_columns(family=pl.lit("clock")), "family", "witness"),
        _lanes(
            ground.points.filter(pl.col("zone").is_not_null()).with_columns(family=pl.lit("point")),
            *("family", "zone", "within"),
        ),
    ]
    seen = pl.concat(told).unique(SUBJECT, maintain_order=True)
    always = [one.key for one in FAMILIES if one.always and one.key != "point"]
    bare = sites.join(pl.DataFrame({"family": always}), how="cross").join(
        seen.select("site", "family"), on=["site", "family"], how="anti"
    )
    # A site whose schedule lists wired devices only has no batteries and no radio to lose.
    wired = context.zones.filter(pl.col("link").is_not_null()).select("site").unique()
    bare = bare.filter(~pl.col("family").is_in(WIRELESS)).vstack(
        bare.filter(pl.col("family").is_in(WIRELESS)).join(
            wired.join(_radio(context).select("site"), on="site", how="anti"),
            on="site",
            how="anti",
        )
    )
    return pl.concat([seen, _lanes(bare, "family")])


def _lanes(frame: pl.DataFrame, *own: str) -> pl.DataFrame:
    return frame.select(
        (pl.col(name) if name in ("site", *own) else pl.lit(None)).cast(pl.String).alias(name)
        for name in SUBJECT
    ).unique(maintain_order=True)


def _radio(context: Context) -> pl.DataFrame:
    return context.zones.filter(pl.col("link").str.contains(_LINKED).fill_null(value=False)).select(
        "site", "zone"
    )


def _wireless(ground: Ground, context: Context, rows: pl.DataFrame) -> pl.DataFrame:
    """List wireless devices where their site tells of any; else one lane says what is missing."""
    told = rows.filter(pl.col("family").is_in(WIRELESS)).select("site", "family").unique()
    return (
        ground.points.select("site", "zone", "within")
        .join(_radio(context), on=["site", "zone"], how="semi")
        .join(told, on="site")
    )


def _reports(ground: Ground) -> pl.DataFrame:
    return (
        ground.occurrences.filter(pl.col("kind") == Kind.TEST_REPORT)
        .select("site", witness="witnesses", family=pl.lit("reports"))
        .explode("witness")
    )


def last_told(ground: Ground) -> pl.DataFrame:
    """Say when something was last told of each lane.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.

    Returns
    -------
    polars.DataFrame
        Columns of ``SUBJECT`` and ``last``.
    """
    rows = ground.occurrences.with_columns(
        family=pl.col("kind").cast(pl.String).replace_strict(FAMILY_OF, default=None)
    )
    # A condition told again while it stands is no occurrence: the rows themselves are asked.
    again = (
        ground.events.select(
            "site",
            "zone",
            "placed",
            family=pl.col("kind").cast(pl.String).replace_strict(FAMILY_OF, default=None),
        )
        .filter(pl.col("family").is_in(_DEVICE))
        .group_by("site", "family", "zone")
        .agg(newest=pl.col("placed").max())
    )
    by_device = (
        rows.filter(pl.col("family").is_in(_DEVICE))
        .group_by("site", "family", "zone", "within")
        .agg(last=pl.col("placed").max())
        .join(again, on=["site", "family", "zone"], how="left", nulls_equal=True)
        .with_columns(last=pl.when(pl.col("within").is_null()).then("newest").otherwise("last"))
    )
    sites = ["on-test", "work", "mains"]
    detects = ground.occurrences.filter(
        pl.col("kind").is_in(list(DETECTS))
        & (pl.col("kind") != Kind.TAMPER_ALARM)
        & (pl.col("phase") != Phase.END)
    )
    reports = _reports_last(ground)
    by_path = last_by_path(ground).with_columns(family=pl.lit("path"))
    whole = ground.sites.select("site", "last", family=pl.lit("log"))
    clocks = ground.clocks.group_by("site", pl.col("witness").cast(pl.String)).agg(
        last=pl.coalesce("until", "since").max(), family=pl.lit("clock").first()
    )
    both = ground.powers.filter(pl.col("power") == Power.BOTH).select("site").unique()
    arrived = (
        detects.filter(pl.col("witnesses").list.len() > 1)
        .group_by("site")
        .agg(last=pl.col("placed").max(), family=pl.lit("arrival").first())
        .join(both, on="site", how="semi")
    )
    parts = [
        by_device,
        rows.filter(pl.col("family").is_in(sites))
        .group_by("site", "family")
        .agg(last=pl.col("placed").max()),
        detects.group_by("site", "zone", "within").agg(
            last=pl.col("placed").max(), family=pl.lit("point").first()
        ),
        reports,
        by_path,
        spoke(ground).drop("witness", "first"),
        whole,
        clocks,
        arrived,
    ]
    return pl.concat([_columns(part) for part in parts])


def _columns(part: pl.DataFrame) -> pl.DataFrame:
    names = (*SUBJECT, "last")
    return part.select(
        pl.col(name) if name in part.columns else pl.lit(None, pl.String).alias(name)
        for name in names
    )


def _reports_last(ground: Ground) -> pl.DataFrame:
    return (
        ground.occurrences.filter(pl.col("kind").is_in([Kind.TEST_REPORT, Kind.MANUAL_TEST]))
        .select("site", "placed", witness="witnesses")
        .explode("witness")
        .group_by("site", "witness")
        .agg(last=pl.col("placed").max(), family=pl.lit("reports").first())
    )
