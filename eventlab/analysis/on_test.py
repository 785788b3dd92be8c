"""Tests that were begun and not ended: the most dangerous quiet there is."""

import polars as pl

from eventlab.analysis.conditions import spells
from eventlab.analysis.found import evidence, figures, found, line, number, wall
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Pattern, Subject
from eventlab.settings import Settings

_PANEL = (Kind.WALK_TEST, Kind.ON_SITE_WORK)


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find sites that were left on test, in walk test or in service mode.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``test_left_h`` [h].

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site: the one that still stands, else the longest. A restart
        ends what the panel itself holds, never a test with the monitoring centre.
    """
    del context
    left = pl.concat(
        [
            spells(ground, _PANEL, settings),
            spells(ground, [Kind.ON_TEST], settings, restart_closes=False),
        ]
    ).filter(pl.col("hours") > settings.test_left_h)
    if left.is_empty():
        return found(left, Pattern.LEFT_ON_TEST)
    tells = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in([Kind.ON_TEST, *_PANEL]) & (pl.col("phase") == "end"))
        .select("site", tells_ends=pl.lit(value=True))
        .unique()
        .collect()
    )
    one = (
        left.sort("site", "open", "hours", descending=[False, True, True])
        .group_by("site", maintain_order=True)
        .agg(
            pl.all().exclude("site", "area").first(),
            events=pl.len().cast(pl.Int64),
            tests=line(
                _named(pl.col("kind")) + " since " + wall(pl.col("local")),
                pl.when(pl.col("open"))
                .then(pl.lit("not ended when the log ends, ") + number(pl.col("hours")) + " h")
                .otherwise(number(pl.col("hours")) + " h"),
                "rows that begin and end a test",
            ).head(8),
        )
        .join(tells, on="site", how="left")
        .with_columns(pl.col("tells_ends").fill_null(value=False))
    )
    return found(
        one.with_columns(
            evidence(
                "tests",
                line(
                    "ends of tests in this log",
                    "none",
                    "it may be that this log never tells them: ask the monitoring centre",
                    when=pl.col("open") & ~pl.col("tells_ends"),
                ),
            ),
            figures(
                {
                    "what": _named(pl.col("kind")),
                    "centre": pl.col("kind") == Kind.ON_TEST,
                    "hours": pl.col("hours"),
                    "times": pl.col("events"),
                    "tells_ends": pl.col("tells_ends"),
                    "told": pl.col("told"),
                    "ends_told": pl.col("ends_told"),
                }
            ),
            standing="open",
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
            area=pl.lit(None, dtype=pl.String),
        ),
        Pattern.LEFT_ON_TEST,
    )


def _named(kind: pl.Expr) -> pl.Expr:
    return (
        pl.when(kind == Kind.ON_TEST)
        .then(pl.lit("on test with the monitoring centre"))
        .when(kind == Kind.WALK_TEST)
        .then(pl.lit("in walk test"))
        .otherwise(pl.lit("in service mode"))
    )
