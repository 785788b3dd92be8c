"""Rows that tell the same event over another path or by another witness."""

from datetime import timedelta

import polars as pl

from eventlab.schema import Kind
from eventlab.settings import Settings

PATH_IS_SUBJECT = (Kind.COMMS_FAIL, Kind.TEST_REPORT)
"""Kinds that speak of the path itself: two paths are two events."""

NAMED = ("zone", "area", "person")
ROUNDS = 6
"""Rounds of nearest pairs; what is left after them has no free partner near it."""


def twins(rows: pl.DataFrame, voices: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Pair rows of different channels (witness and path) that tell one event.

    Rows pair within ``same_occurrence_s`` when site, kind and phase are equal and none of zone,
    area and person contradicts; a field one side does not say matches. Each row takes part in at
    most one pair per channel, nearest first, so that real repeats on one channel stay apart. The
    panel's row leads: a receiver's time is the time of receipt.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.
    voices : polars.DataFrame
        ``s``, ``witness``: who tells of which site.
    settings : Settings
        ``same_occurrence_s``.

    Returns
    -------
    polars.DataFrame
        ``n`` of the row that follows, ``into`` the ``n`` of the row that leads.
    """
    none = pl.DataFrame(schema={"n": pl.Int64(), "into": pl.Int64()})
    subject = pl.col("kind").is_in(list(PATH_IS_SUBJECT))
    carrier = pl.when(~subject).then("path")
    witness = pl.col("witness").to_physical()
    heard = voices.filter(pl.col("s").is_duplicated())["s"]
    by_path = rows.lazy().filter(pl.col("path").is_not_null() & ~subject).select("s").unique()
    several = pl.concat([heard, by_path.collect()["s"]]).unique()
    if several.is_empty():
        return none
    alarm = pl.col("kind").is_in([Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM])
    told = (
        rows.filter(pl.col("s").is_in(several.implode()))
        .select(
            *("n", "s", "placed", "phase", "zone", "area", "person"),
            family=pl.when(alarm)
            .then(pl.lit(Kind.INTRUSION_ALARM))
            .otherwise(pl.col("kind").cast(pl.String)),
            witness=witness,
            carrier=carrier,
            subject_path=pl.when(subject).then("path"),
        )
        .with_columns(
            channel=pl.struct("witness", pl.col("carrier").fill_null("")).rank("dense").over("s")
        )
        .drop("witness", "carrier")
    )
    leads = told.filter(pl.col("channel") == 1)
    pairs = [none]
    channels = told.select(pl.col("channel").max().cast(pl.Int64)).item()
    for channel in range(2, channels + 1):
        late = told.filter(pl.col("channel") == channel)
        found = _pair(leads, late, settings)
        pairs.append(found)
        leads = pl.concat([leads, late.join(found, on="n", how="anti")]).sort("n")
    return pl.concat(pairs)


def _pair(leads: pl.DataFrame, late: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Pair nearest first: exact names, then the same point, then whatever does not contradict."""
    fixed = ["s", "family", "phase", "subject_path"]
    pairs = []
    for names in (list(NAMED), ["zone"], []):
        for _ in range(ROUNDS):
            found = _nearest(leads, late, [*fixed, *names], settings)
            if found.is_empty():
                break
            pairs.append(found)
            leads = leads.join(found, left_on="n", right_on="into", how="anti")
            late = late.join(found, on="n", how="anti")
    return pl.concat([late.select("n", into="n").clear(), *pairs])


def _nearest(
    leads: pl.DataFrame, late: pl.DataFrame, by: list[str], settings: Settings
) -> pl.DataFrame:
    """Give every late row its nearest lead; a lead keeps the nearest of those that want it."""
    key = pl.struct(by).hash().alias("key")
    left = late.with_columns(key, mine="placed").sort("placed")
    right = leads.with_columns(key, into="n", theirs="placed").drop("n", "channel").sort("placed")
    hit = left.join_asof(
        right,
        on="placed",
        by="key",
        strategy="nearest",
        tolerance=timedelta(seconds=settings.same_occurrence_s),
        check_sortedness=False,
        suffix="_lead",
    ).filter(pl.col("into").is_not_null())
    agree = pl.all_horizontal(
        (pl.col(name) == pl.col(f"{name}_lead")).fill_null(value=True) for name in NAMED
    )
    apart = (pl.col("mine") - pl.col("theirs")).abs()
    return (
        hit.filter(agree)
        .sort(apart, "n")
        .unique("into", keep="first", maintain_order=True)
        .select("n", "into")
    )
