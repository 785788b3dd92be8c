"""Test reports that did not come."""

import numpy as np
import polars as pl

from eventlab.analysis import schedule
from eventlab.analysis.conditions import most_within
from eventlab.analysis.found import (
    count,
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
from eventlab.analysis.log_gap import restarted
from eventlab.analysis.mains import dead
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import Pattern, Subject, Witness
from eventlab.settings import Settings
from eventlab.stats import binomial_tail

_KEY = ("site", "witness", "path")
_MONTH_H = 720.0


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find sites whose test reports stopped, or were missed again and again.

    The period is learned from the reports themselves: the median of their gaps, after reports
    close together (two paths) are taken as one. A manual test counts as a report, since a timer
    that runs from the last one starts anew. Silence across a gap of the log is not judged, and a
    report that came late is told apart from one that did not come. What a panel did not send
    since it was dead is told as that. Where the centre hears reports over several paths, one whose
    reports stop is found although others still bring them. Reports missed one by one are found
    where a line with its usual loss would hardly miss as many, in the whole log or in the worst
    thirty days of it.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``report_min`` reports, ``report_grace`` periods, ``report_missed_min`` reports,
        ``report_usual_loss``, ``report_chance``, ``report_late_s``,
        ``still_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site: of the witness whose reports are still missing, else of
        the one that missed most; of a single path only where nothing is found of all together.
    """
    del context
    told, learned, after = schedule.series(ground, settings)
    if learned.is_empty():
        return found(learned, Pattern.REPORT_MISSED)
    late = _late(after, settings)
    gaps = _silent(_alive(after, ground, settings), settings)
    if gaps.is_empty():
        return found(gaps, Pattern.REPORT_MISSED)
    gaps = _with_panel(gaps, told).with_columns(
        missed=(pl.col("gap_h") / pl.col("period_h") - 0.5).floor().cast(pl.Int64).clip(1),
        near=most_within(gaps, _KEY, 30 * 86400, at="since"),
    )
    one = (
        gaps.group_by(_KEY, maintain_order=True)
        .agg(
            pl.col("period_h").first(),
            pl.col("reports", "clock").first(),
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
        .with_columns(_often(settings))
        .filter(pl.col("standing") | (pl.col("most") >= settings.report_missed_min) | "often")
        .sort(
            *("site", pl.col("path").is_not_null(), "standing", "events"),
            descending=[False, False, True, True],
        )
        .unique("site", keep="first", maintain_order=True)
        .join(ends(ground), on="site", how="left", maintain_order="left")
        .join(late, on=list(_KEY), how="left", nulls_equal=True, maintain_order="left")
    )
    repeated = pl.col("often") | (pl.col("most") >= settings.report_missed_min)
    lately = repeated & (pl.col("near") >= settings.report_missed_min)
    lately &= pl.col("end") - pl.col("until") <= days(settings.still_days)
    return found(
        one.with_columns(
            evidence(
                line(
                    "usual time between reports",
                    number(pl.col("period_h"), 1) + " h",
                    "median of the gaps in this log",
                ),
                line(
                    "usual time of day",
                    pl.lit("about ") + pl.col("clock"),
                    "most reports of this log came near it",
                    when=pl.col("clock").is_not_null(),
                ),
                "silences",
                line(
                    "came, but late",
                    count(pl.col("late"), "report")
                    + ", at most "
                    + number(pl.col("latest_h"), 1)
                    + " h",
                    "later than due by more than is usual here; counted as heard",
                    when=pl.col("late").is_not_null(),
                ),
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
                    "clock": pl.col("clock"),
                    "late": pl.col("late").fill_null(0),
                    "path": pl.col("path"),
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
    """Return the times in which a report was due, over whichever path, and did not come.

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
    *_, after = schedule.series(ground, settings)
    return _silent(after.filter(pl.col("path").is_null()), settings)


def periods(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return how often reports are due: ``site``, ``witness``, ``reports``, ``period_h`` [h]."""
    _, learned, _ = schedule.series(ground, settings)
    return learned.filter(pl.col("path").is_null())


def _silent(after: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    late = pl.col("gap_h") > settings.report_grace * pl.col("period_h")
    return after.filter(late & ~pl.col("uncovered"))


def _often(settings: Settings) -> pl.Expr:
    """Tell where more single reports are missed than the usual loss of a line brings."""
    due = pl.col("reports") + pl.col("events")
    month = (_MONTH_H / pl.col("period_h")).round(0).clip(pl.col("near"), due)
    least = pl.col("events") >= settings.report_missed_min

    def chance(told: pl.Series) -> pl.Series:
        due, missed, month, near = (
            told.struct.field(name).to_numpy() for name in ("due", "events", "month", "near")
        )
        whole = binomial_tail(missed, due, settings.report_usual_loss)
        # As if as many months that do not overlap had been looked at.
        worst = binomial_tail(near, month, settings.report_usual_loss) * due / month
        return pl.Series(np.minimum(whole, worst))

    told = pl.struct("events", "near", due=due, month=month)
    few = told.map_batches(chance, return_dtype=pl.Float64) <= settings.report_chance
    return (few & least).alias("often")


def _alive(after: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Leave out silences of a panel that died, with its mains or without a word: told as that."""
    low, high = pl.max_horizontal("since", "start"), pl.min_horizontal("until", "stop")
    left = pl.col("gap_h") - hours(high - low)
    spare = (settings.report_grace + 1) * pl.col("period_h")
    spans = pl.concat(
        [
            dead(ground, settings),
            restarted(ground, settings).select("site", start="since", stop="until"),
        ]
    )
    explained = after.drop("start", "stop").join(spans, on="site").filter(
        (low < high) & (left <= spare)
    )  # fmt: skip
    return after.join(explained.select(*_KEY, "since"), on=[*_KEY, "since"], how="anti",
                      nulls_equal=True, maintain_order="left")  # fmt: skip


def _late(after: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Count the reports of each series that came, but late."""
    told = schedule.slots(after, settings).filter(pl.col("came") == "late")
    return told.group_by(_KEY).agg(late=pl.len().cast(pl.Int64), latest_h=pl.col("late_h").max())


def _with_panel(gaps: pl.DataFrame, told: pl.DataFrame) -> pl.DataFrame:
    """Count the reports that the panel logged while the centre missed them."""
    panel = (pl.col("witness") == Witness.PANEL) & pl.col("path").is_null()
    sent = told.filter(panel).select("site", sent_at="placed")
    counted = (
        gaps.filter((pl.col("witness") == Witness.RECEIVER) & pl.col("path").is_null())
        .select(*_KEY, "since", "until")
        .join(sent, on="site")
        .filter((pl.col("sent_at") > pl.col("since")) & (pl.col("sent_at") < pl.col("until")))
        .group_by(*_KEY, "since")
        .agg(sent=pl.len().cast(pl.Int64))
    )
    return gaps.join(counted, on=[*_KEY, "since"], how="left", nulls_equal=True).with_columns(
        pl.col("sent").fill_null(0)
    )
