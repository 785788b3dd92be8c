"""Test reports that did not come."""

import polars as pl

from eventlab.analysis.conditions import most_within
from eventlab.analysis.found import (
    asof,
    days,
    ends,
    evidence,
    figures,
    found,
    hours,
    line,
    number,
    wall,
)
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Kind, Pattern, Subject, Witness
from eventlab.settings import Settings

_KEY = ("site", "witness")


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find sites whose test reports stopped, or were missed again and again.

    The period is learned from the reports themselves: the median of their gaps, after reports
    close together (two paths) are taken as one. A manual test counts as a report, since a timer
    that runs from the last one starts anew. Silence across a gap of the log is not judged.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``report_min`` reports, ``report_grace`` periods, ``report_missed_min`` reports,
        ``still_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site: of the witness whose reports are still missing, else of
        the one that missed most.
    """
    del context
    gaps = silences(ground, settings)
    if gaps.is_empty():
        return found(gaps, Pattern.REPORT_MISSED)
    gaps = _with_panel(gaps, _told(ground)).with_columns(
        missed=(pl.col("gap_h") / pl.col("period_h") - 0.5).floor().cast(pl.Int64).clip(1),
        near=most_within(gaps, _KEY, 30 * 86400, at="since"),
    )
    one = (
        gaps.group_by(_KEY, maintain_order=True)
        .agg(
            pl.col("period_h").first(),
            pl.col("reports").first(),
            first=pl.col("since").first(),
            until=pl.col("until").last(),
            standing=pl.col("open").any(),
            open_since=pl.col("since").filter(pl.col("open")).last(),
            open_h=pl.col("gap_h").filter(pl.col("open")).last(),
            events=pl.col("missed").sum(),
            most=pl.col("missed").max(),
            near=pl.col("near").max(),
            sent=pl.col("sent").sum().cast(pl.Int64),
            silences=line(
                pl.lit("no test report after ") + wall(pl.col("local")),
                pl.when(pl.col("open"))
                .then(number(pl.col("gap_h"), 1) + pl.lit(" h up to the end of the log"))
                .otherwise(number(pl.col("gap_h"), 1) + " h"),
                "test-report rows",
            ).tail(6),
        )
        .filter(
            pl.col("standing")
            | (pl.col("most") >= settings.report_missed_min)
            | (pl.col("near") >= settings.report_missed_min)
        )
        .sort("site", "standing", "events", descending=[False, True, True])
        .unique("site", keep="first", maintain_order=True)
        .join(ends(ground), on="site", how="left", maintain_order="left")
    )
    often = pl.col("near") >= settings.report_missed_min
    lately = often & (pl.col("end") - pl.col("until") <= days(settings.still_days))
    return found(
        one.with_columns(
            evidence(
                line(
                    "usual time between reports",
                    number(pl.col("period_h"), 1) + " h",
                    "median of the gaps in this log",
                ),
                "silences",
                line(
                    "reports that the panel did send in that time",
                    number(pl.col("sent")),
                    "the panel's own log: the path is at fault, not the panel",
                    when=pl.col("sent") > 0,
                ),
            ),
            figures(
                {
                    "period_h": pl.col("period_h"),
                    "open_h": pl.col("open_h"),
                    "missed": pl.col("events"),
                    "reports": pl.col("reports"),
                    "centre": pl.col("witness") == Witness.RECEIVER,
                    "sent": pl.col("sent"),
                }
            ),
            standing=pl.col("standing") | lately,
            since=pl.coalesce("open_since", "first"),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
        ),
        Pattern.REPORT_MISSED,
    )


def silences(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the times in which a report was due and did not come.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``report_min``, ``report_grace``.

    Returns
    -------
    polars.DataFrame
        Sorted: ``site``, ``witness``, ``since``, ``until``, ``local``, ``open``, ``gap_h``,
        ``period_h``, ``reports``.
    """
    told = _told(ground)
    gaps = _gaps(told, periods(ground, settings), ground)
    late = pl.col("gap_h") > settings.report_grace * pl.col("period_h")
    return gaps.filter(late & ~pl.col("uncovered"))


def periods(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return how often reports are due: ``site``, ``witness``, ``reports``, ``period_h`` [h]."""
    return _periods(_told(ground), settings)


def _told(ground: Ground) -> pl.DataFrame:
    """Return the reports as each witness tells them, with the export that does."""
    return (
        ground.occurrences.filter(pl.col("kind").is_in([Kind.TEST_REPORT, Kind.MANUAL_TEST]))
        .select("site", "placed", "local", "source", "kind", witness="witnesses")
        .explode("witness")
        .sort(*_KEY, "placed")
    )


def _periods(told: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Learn the period of each witness; reports closer than a quarter of it are one."""
    gap = hours(pl.col("placed") - pl.col("placed").shift(1).over(_KEY))
    regular = told.filter(pl.col("kind") == Kind.TEST_REPORT).with_columns(gap_h=gap)
    wide = pl.col("gap_h").quantile(0.75, "linear").over(_KEY)
    return (
        regular.filter(pl.col("gap_h").is_null() | (pl.col("gap_h") > wide / 4))
        .with_columns(gap_h=gap)
        .group_by(_KEY, maintain_order=True)
        .agg(reports=pl.len().cast(pl.Int64), period_h=pl.col("gap_h").median())
        .filter((pl.col("reports") >= settings.report_min) & (pl.col("period_h") > 0.1))
    )


def _gaps(told: pl.DataFrame, periods: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Return the silence after each report, the last one up to the end of its witness's log."""
    spoken = (
        ground.events.group_by("site", pl.col("witness").cast(pl.String))
        .agg(heard=pl.col("placed").max())
        .join(ends(ground), on="site", how="left")
    )
    # Where the centre's history ends long before the panel's log, only its own end counts.
    near = pl.col("end") - pl.col("heard") <= days(2)
    spoken = spoken.with_columns(end=pl.when(near).then("end").otherwise("heard"))
    after = pl.col("placed").shift(-1).over(_KEY)
    following = (
        told.join(periods, on=_KEY)
        .sort(*_KEY, "placed")
        .with_columns(next=after, next_source=pl.col("source").shift(-1).over(_KEY))
        .join(spoken, on=_KEY, how="left")
        .with_columns(open=pl.col("next").is_null())
        .with_columns(since="placed", until=pl.coalesce("next", "end"))
        .with_columns(gap_h=hours(pl.col("until") - pl.col("since")))
    )
    cover = ground.coverage.select("site", start="since", stop="until")
    short = hours(pl.col("stop") - pl.col("since")) < 1.5 * pl.col("period_h")
    return (
        asof(following, cover, "since", "start")
        .with_columns(uncovered=((pl.col("stop") < pl.col("until")) & short).fill_null(value=False))
        .sort(*_KEY, "since")
    )


def _with_panel(gaps: pl.DataFrame, told: pl.DataFrame) -> pl.DataFrame:
    """Count the reports that the panel logged while the centre missed them."""
    sent = told.filter(pl.col("witness") == Witness.PANEL).select("site", sent_at="placed")
    counted = (
        gaps.filter(pl.col("witness") == Witness.RECEIVER)
        .select("site", "witness", "since", "until")
        .join(sent, on="site")
        .filter((pl.col("sent_at") > pl.col("since")) & (pl.col("sent_at") < pl.col("until")))
        .group_by("site", "witness", "since")
        .agg(sent=pl.len().cast(pl.Int64))
    )
    return gaps.join(counted, on=["site", "witness", "since"], how="left").with_columns(
        pl.col("sent").fill_null(0)
    )
