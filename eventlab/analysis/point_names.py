"""Numbers that the log tells with the name that the zone schedule gives to another point."""

import polars as pl

from eventlab.analysis.found import count, line
from eventlab.analysis.kept import kept
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.settings import Settings

_SHORTEST = 4
"""Letters of a name below which it may stand in any wording."""
_OF_ONE = 2
"""Numbers that one name may stand beside; beside more it is the name of an area."""


@kept
@kept
def misnamed(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find points whose number is told with another point's listed name.

    Where two or more points are told by their listed names up to a date and by others from then
    on (or the other way about), the numbers changed on that date.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Zone schedules with names.
    settings : Settings
        ``list_days``.

    Returns
    -------
    polars.DataFrame
        ``site``, ``zone``, ``what``, ``rank``, ``order``, ``since``, ``until``, ``on``, ``rows``,
        ``line``: a row for each such point.
    """
    names = _names(context)
    texts = (
        ground.occurrences.lazy()
        .filter(pl.col("zone").is_not_null() & pl.col("text").is_not_null())
        .select("site", "zone", "text", "placed", "local")
        .collect()
        .join(names.select("site", "zone").unique(), on=["site", "zone"], how="semi")
    )
    told = texts.select("site", "text").unique().with_columns(said=_plain(pl.col("text")))
    match = (
        told.join(names, on="site", suffix="_named")
        .filter(pl.col("said").str.contains(pl.col("plain"), literal=True))
        .sort(pl.col("plain").str.len_chars(), descending=True)
        .unique(["site", "text"], keep="first", maintain_order=True)
        .select("site", "text", other="zone", other_name="name")
    )
    rows = texts.join(match, on=["site", "text"])
    beside = rows.group_by("site", "other").agg(numbers=pl.col("zone").n_unique())
    rows = rows.join(beside.filter(pl.col("numbers") <= _OF_ONE), on=["site", "other"], how="semi")
    rows = rows.with_columns(own=pl.col("zone") == pl.col("other"))
    wrong = rows.filter(~pl.col("own"))
    points = (
        wrong.group_by("site", "zone")
        .agg(
            other_name=pl.col("other_name").first(),
            since=pl.col("placed").min(),
            until=pl.col("placed").max(),
            local=pl.col("local").min(),
            last_local=pl.col("local").max(),
            rows=pl.len().cast(pl.Int64),
            days=pl.col("local").dt.date().n_unique(),
        )
        .filter(pl.col("days") >= settings.list_days)
        .join(
            rows.filter("own")
            .group_by("site", "zone")
            .agg(own_first=pl.col("placed").min(), own_last=pl.col("placed").max()),
            on=["site", "zone"],
            how="left",
        )
        .join(names.select("site", "zone", listed="name"), on=["site", "zone"], how="left")
    )
    after = (pl.col("own_last") < pl.col("since")).fill_null(value=False)
    before = (pl.col("own_first") > pl.col("until")).fill_null(value=False)
    points = points.with_columns(after=after, before=before)
    dated = _dated(points)
    points = points.join(dated, on="site", how="left").with_columns(
        swapped=pl.col("day").is_not_null() & (pl.col("after") | pl.col("before"))
    )
    both = pl.lit(" may belong to two points: ")
    listed, other = pl.col("listed"), pl.col("other_name")
    return points.select(
        "site",
        "zone",
        what=pl.when("swapped").then(pl.lit("renumbered")).otherwise(pl.lit("named")),
        rank=pl.when("swapped").then(1).otherwise(2),
        order=-pl.col("rows"),
        since="since",
        until="until",
        on=pl.when("swapped").then("day"),
        rows="rows",
        line=pl.when("swapped")
        .then(
            line(
                pl.lit("what is told of point ")
                + pl.col("zone")
                + both
                + pl.when("after").then(listed).otherwise(other)
                + pl.lit(" before ")
                + pl.col("day")
                + ", "
                + pl.when("after").then(other).otherwise(listed)
                + " from then on",
                count(pl.col("rows"), "time"),
                "the names in the log beside the zone schedule",
            )
        )
        .otherwise(
            line(
                pl.lit("point ") + pl.col("zone") + " is " + listed + " in the list",
                other + " in the log, " + count(pl.col("rows"), "time"),
                "the names in the log beside the zone schedule",
            )
        ),
    ).sort("site", "zone")


def _dated(points: pl.DataFrame) -> pl.DataFrame:
    """Give the day on which the names of two or more points of a site change together."""
    turned = points.filter(pl.col("after") | pl.col("before")).with_columns(
        low=pl.when("after").then("own_last").otherwise("until"),
        high=pl.when("after").then("since").otherwise("own_first"),
        first=pl.when("after").then("local"),
    )
    return (
        turned.group_by("site")
        .agg(
            low=pl.col("low").max(),
            high=pl.col("high").min(),
            many=pl.len(),
        )
        .filter((pl.col("low") < pl.col("high")) & (pl.col("many") >= _OF_ONE))
        .select("site", day=pl.col("high").dt.strftime("%-d %b %Y"))
    )


def _names(context: Context) -> pl.DataFrame:
    """Give the listed names that are those of one point of the site each."""
    plain = _plain(pl.col("name"))
    return (
        context.zones.filter(pl.col("name").is_not_null() & pl.col("zone").is_not_null())
        .select("site", "zone", "name", plain=plain)
        .filter(
            (pl.col("plain").str.strip_chars().str.len_chars() >= _SHORTEST)
            & pl.col("plain").str.contains(r"\p{L}")
        )
        .unique(["site", "plain"], keep="none")
    )


def _plain(text: pl.Expr) -> pl.Expr:
    bare = text.str.to_lowercase().str.replace_all(r"[\W_]+", " ").str.strip_chars()
    return pl.concat_str(pl.lit(" "), bare, pl.lit(" "))
