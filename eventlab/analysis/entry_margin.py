"""How much time people who come in have left, and by which way: beside the finding of late ones."""

import polars as pl

from eventlab.analysis import entry_overrun
from eventlab.analysis.entries import entries
from eventlab.analysis.found import line, number, told_s
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import EVIDENCE, Subject
from eventlab.settings import Settings

_KEY = ("site", "subject_kind", "subject")
_FEW = 5
"""So few timed entries show no usual time."""


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find late entries, and tell with each the usual margin in seconds and the way in.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Entry delays of the sites.
    settings : Settings
        As `entry_overrun.find` and `entries.entries` need them.

    Returns
    -------
    polars.DataFrame
        The rows of `entry_overrun.find`, with up to three more lines of evidence.
    """
    found = entry_overrun.find(ground, context, settings)
    if found.is_empty():
        return found
    lines = _lines(found.select(_KEY), entries(ground, context, settings), _names(ground))
    told = found.join(lines, on=list(_KEY), how="left", maintain_order="left")
    more = pl.col("lines").is_not_null()
    return told.with_columns(
        evidence=pl.when(more).then(pl.concat_list("evidence", "lines")).otherwise("evidence")
    ).select(found.columns)


def _names(ground: Ground) -> pl.DataFrame:
    return ground.points.select("site", door="zone", name="name").drop_nulls("door").unique(
        ["site", "door"], keep="first"
    )  # fmt: skip


def _lines(found: pl.DataFrame, came: pl.DataFrame, names: pl.DataFrame) -> pl.DataFrame:
    kind, subject = pl.col("subject_kind"), pl.col("subject")
    own = (
        found.join(came, on="site")
        .filter(
            (kind == Subject.SITE)
            | ((kind == Subject.AREA) & (pl.col("area") == subject))
            | ((kind == Subject.PERSON) & (pl.col("person") == subject))
        )
        .join(names, on=["site", "door"], how="left")
        .with_columns(
            way=pl.lit("point ")
            + pl.col("door")
            + pl.when(pl.col("name").is_not_null()).then(" (" + pl.col("name") + ")").otherwise(
                pl.lit("")
            ),
            then=pl.col("steps").list.get(1, null_on_oob=True),
        )
    )  # fmt: skip
    late_way = pl.col("way").filter("late").drop_nulls()
    counted = own.group_by(_KEY, maintain_order=True).agg(
        timed=pl.col("entry_s").count(),
        half=pl.col("entry_s").median(),
        delay=pl.col("delay_s").max(),
        listed=pl.col("delay_listed").any(),
        grain=pl.col("grain").max(),
        ways=late_way.len(),
        way=late_way.mode().sort().first(),
        many=late_way.unique_counts().max(),
        then=pl.col("then").filter("late").drop_nulls().mode().sort().first(),
    )
    left = pl.col("delay") - pl.col("half")
    margin = (
        pl.lit("half within ")
        + told_s(pl.col("half"), pl.col("grain"))
        + " of the "
        + number(pl.col("delay"))
        + " s allowed: "
        + number(left.abs())
        + pl.when(left >= 0).then(pl.lit(" s left")).otherwise(pl.lit(" s over"))
    )
    whose = (
        pl.when("listed")
        .then(pl.lit("all entries of this log, against the listed entry delay"))
        .otherwise(pl.lit("all entries of this log, against the usual delay; none is listed"))
    )
    enough = pl.col("timed") >= _FEW
    next_ = (
        pl.when(pl.col("then").is_not_null())
        .then(", then mostly point " + pl.col("then"))
        .otherwise(pl.lit(""))
    )
    return counted.with_columns(
        lines=pl.concat_list(
            line("time from the first door to the disarm", margin, whose, when=enough),
            line(
                "time that people have left",
                "not recorded",
                "this log tells alarms and disarms only, no door before them",
                when=~enough,
            ),
            line(
                "way in of late entries",
                pl.col("way")
                + " first on "
                + number(pl.col("many"))
                + " of "
                + number(pl.col("ways"))
                + next_,
                "the first points that opened or alarmed",
                when=pl.col("ways") > 0,
            ),
        )
        .list.drop_nulls()
        .cast(EVIDENCE)
    ).select(*_KEY, "lines")
