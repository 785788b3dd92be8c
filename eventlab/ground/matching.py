"""Rows that tell the same event over another path or by another witness."""

from datetime import timedelta

import polars as pl

from eventlab.schema import KIND, PHASE, Kind, Phase
from eventlab.settings import Settings

PATH_IS_SUBJECT = (Kind.COMMS_FAIL, Kind.TEST_REPORT)
"""Kinds that speak of the path itself: two paths are two events."""

NAMED = ("zone", "area", "person", "subject_path")
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
    heard = voices.filter(pl.col("s").is_duplicated())["s"]
    by_path = rows.lazy().filter(pl.col("path").is_not_null() & ~subject).select("s").unique()
    several = pl.concat([heard, by_path.collect()["s"]]).unique()
    if several.is_empty():
        return none
    told = _on_several_channels(rows.filter(pl.col("s").is_in(several.implode())))
    told = told.sort("placed", "n")
    leads = told.filter(pl.col("channel") == 1)
    pairs = [none]
    channels = told.select(pl.col("channel").max().cast(pl.Int64)).item()
    for channel in range(2, (channels or 1) + 1):
        late = told.filter(pl.col("channel") == channel)
        found = _pair(_near(leads, late, settings), _near(late, leads, settings), settings)
        pairs.append(found)
        leads = pl.concat([leads, late.join(found, on="n", how="anti")]).sort("placed", "n")
    return pl.concat(pairs)


def _on_several_channels(rows: pl.DataFrame) -> pl.DataFrame:
    """Give each row its channel, the panel's first; keep what more than one channel tells of.

    What only one channel of a site ever tells of (movement by day, as a rule) needs no partner.
    One log's ``zone restored`` is the other's ``alarm restored``.
    """
    subject = pl.col("kind").is_in(list(PATH_IS_SUBJECT))
    alarm = pl.col("kind").is_in([Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM])
    names = pl.Enum(rows["path"].unique().drop_nulls().sort())
    carrier = pl.when(~subject).then(pl.col("path").cast(names).to_physical())
    rooms = len(names.categories) + 1
    site = pl.col("s").cast(pl.Int64)
    voice = site * 2 + pl.col("witness").to_physical()
    kind = pl.col("kind").to_physical().cast(pl.Int64)
    first = KIND.categories.index_of(Kind.INTRUSION_ALARM.value)
    restore = (pl.col("kind") == Kind.ACTIVATION) & (pl.col("phase") == Phase.END)
    told = pl.when(alarm | restore).then(first).otherwise(kind)
    family = (site * len(KIND.categories) + told) * len(PHASE.categories) + pl.col(
        "phase"
    ).to_physical()
    keyed = rows.select(
        "s",
        key=voice * rooms + (carrier.cast(pl.Int64) + 1).fill_null(0),
        family=family,
    )
    channels = (
        keyed.select("s", "key")
        .unique()
        .sort("key")
        .select("key", channel=pl.int_range(1, pl.len() + 1).over("s"))
    )
    numbered = keyed.join(channels, on="key", how="left", maintain_order="left")
    both = (
        numbered.lazy()
        .group_by("family")
        .agg(first=pl.col("channel").min(), last=pl.col("channel").max())
        .filter(pl.col("first") != pl.col("last"))
        .select("family")
        .collect()
    )
    wanted = numbered["family"].is_in(both["family"].implode())
    return (
        rows.select("n", "s", "placed", "zone", "area", "person", "kind", "path")
        .with_columns(numbered["family"], numbered["channel"])
        .filter(wanted)
        .with_columns(subject_path=pl.when(subject).then("path"))
        .drop("kind", "path")
    )


def _near(rows: pl.DataFrame, others: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Keep the rows that have any of the others of their family within reach."""
    hit = rows.select("placed", "family").join_asof(
        others.select("placed", "family", near=pl.lit(value=True)),
        on="placed",
        by="family",
        strategy="nearest",
        tolerance=timedelta(seconds=settings.same_occurrence_s),
        check_sortedness=False,
    )
    return rows.filter(hit["near"].is_not_null())


def _pair(leads: pl.DataFrame, late: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Pair nearest first: exact names, then the same point, then whatever does not contradict."""
    fixed = ["family"]
    pairs = []
    for names in (list(NAMED), ["zone"], []):
        for _ in range(ROUNDS):
            if late.is_empty() or leads.is_empty():
                break
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
    left = late.sort("placed", "n").with_columns(key, mine="placed")
    right = leads.sort("placed", "n").with_columns(key, into="n", theirs="placed")
    right = right.drop("n", "channel")
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
