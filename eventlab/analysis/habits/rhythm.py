"""Which cases speak for a finding: not those that are a rhythm, other hours, or somebody's duty."""

import polars as pl

from eventlab.analysis.conditions import most_within
from eventlab.analysis.habits.compare import armed_over
from eventlab.analysis.habits.spans import Spans, centre_alone
from eventlab.analysis.habits.unusual import Usual
from eventlab.ground import Ground
from eventlab.schema import Pattern
from eventlab.settings import Settings
from eventlab.stats import binomial_tail

CLOSED_DAY = "closed-day-opening"
"""An opening on a weekday, or holiday, on which it is usually closed at that hour: a record."""

_ROW, _OF_ROW = 5, 4
"""So many of so many open days in a row are other hours, not an exception of each day."""
_APART_DAYS = 10
"""Beyond, days are no row: a gap of the log, or a shut place, lies between."""
_MONTHS = 3
_BEFORE_H = 3.0
_BESIDE = 2
"""So many late rows more than were seen are reckoned with."""
_CHANCE = 0.002
"""Of sites at which rows come late, on so few late closings may stand so close together."""

_LATE_ROWS = "told by the centre alone, whose rows are late now and then"

LATE = str(Pattern.LATE_CLOSING)


def counted(
    every: pl.DataFrame, laid: Spans, usual: Usual, ground: Ground, settings: Settings
) -> pl.DataFrame:
    """Say which cases speak for a finding, and why others do not.

    Four of five open days in a row, all late or all at an odd hour, are other hours; so are those
    beside a gap or an end of the log, with no usual one before or after them. The same week of the
    month, month after month, is a rhythm. Where only a centre tells closings, its rows may be
    late: late closings count where they are more than late rows bring.

    Parameters
    ----------
    every : polars.DataFrame
        The cases.
    laid : Spans
        Places and stretches.
    usual : Usual
        Holidays and schedule.
    ground : Ground
        Says who tells arming.
    settings : Settings
        As `compare.armed_over` needs them; ``late_closing_h``.

    Returns
    -------
    polars.DataFrame
        The cases with ``counted`` and ``why_not``.
    """
    judged = every.join(_rows(every, laid), on=["k", "what", "date"], how="left")
    judged = judged.join(_monthly(every), on=["k", "what", "date"], how="left")
    what = pl.col("what")
    odd = what == str(Pattern.ODD_HOURS_OPENING)
    act = pl.col("act").is_not_null()
    schedule = pl.col("by_schedule").fill_null(value=False)

    def true(name: str) -> pl.Expr:
        return pl.col(name).fill_null(value=False)

    why = (
        pl.when(what == CLOSED_DAY)
        .then(pl.lit("a day on which it is usually closed: a record"))
        .when(true("called_out"))
        .then(pl.lit("after an alarm or a fault: somebody was called out"))
        .when(odd & pl.col("nobody"))
        .then(pl.lit("no person opened it"))
        .when((what == str(Pattern.ARM_REFUSED)) & ~pl.col("night"))
        .then(pl.lit("armed later the same evening"))
        .when(act & ~schedule & true("row"))
        .then(pl.lit("days in a row: other hours, it seems"))
        .when(act & ~schedule & true("monthly"))
        .then(pl.lit("the same week of each month: a rhythm"))
        .when(act & ~schedule & true("last"))
        .then(pl.lit("no usual one stands before or after: these may be other hours"))
    )
    judged = judged.with_columns(why_not=why).drop("row", "last", "monthly")
    # A season of other hours is no run of late rows: only what is left is reckoned with.
    left = judged.filter(pl.col("why_not").is_null())
    late_rows = _late_rows(left, laid, usual, ground, settings)
    by_rows = (what == LATE) & true("late_rows")
    both = pl.coalesce("why_not", pl.when(by_rows).then(pl.lit(_LATE_ROWS)))
    judged = judged.join(late_rows, on="site", how="left").with_columns(why_not=both)
    return judged.with_columns(counted=pl.col("why_not").is_null()).drop("late_rows")


def _rows(every: pl.DataFrame, laid: Spans) -> pl.DataFrame:
    """Mark the days that stand in a row, and those with no usual one before or after them."""
    days = (
        laid.open.filter(pl.col("opened") | pl.col("closed"))
        .select("k", date=pl.col("since_w").dt.date())
        .unique()
    )
    marked = every.filter(pl.col("act").is_not_null()).select("k", "what", "date").unique()
    key = ["k", "what"]
    part = [*key, "stretch"]
    out = pl.col("out")
    return (
        marked.select(key)
        .unique()
        .join(days, on="k")
        .join(marked.with_columns(out=pl.lit(value=True)), on=[*key, "date"], how="left")
        .with_columns(out.fill_null(value=False))
        .sort(*key, "date")
        .with_columns(
            stretch=(pl.col("date").diff().over(key) > pl.duration(days=_APART_DAYS))
            .fill_null(value=False)
            .cum_sum()
            .over(key)
        )
        .with_columns(
            seen=out.cast(pl.Int64).rolling_sum(_ROW, min_samples=1).over(part),
            usual_before=(~out).cum_max().over(part),
            usual_after=(~out).reverse().cum_max().reverse().over(part),
        )
        .with_columns(
            row=pl.col("seen").reverse().rolling_max(_ROW, min_samples=1).reverse().over(part)
            >= _OF_ROW,
            last=~(pl.col("usual_after") & pl.col("usual_before")),
        )
        .filter(out)
        .select(*key, "date", "row", "last")
    )


def _monthly(every: pl.DataFrame) -> pl.DataFrame:
    """Mark the days on the same weekday of the same week of the month, month after month."""
    days = every.filter(pl.col("act").is_not_null()).select("k", "what", "date").unique()
    month = pl.col("date").dt.year() * 12 + pl.col("date").dt.month()
    left = pl.col("date").dt.month_end().dt.day() - pl.col("date").dt.day()
    parts = []
    for week in ((pl.col("date").dt.day() - 1) // 7, left // 7):
        key = ["k", "what", "weekday", "week"]
        seen = days.with_columns(weekday=pl.col("date").dt.weekday(), week=week, month=month)
        months = pl.col("month").n_unique().over(key)
        reach = (pl.col("month").max() - pl.col("month").min()).over(key) + 1
        often = (months >= _MONTHS) & (2 * months >= reach)
        parts.append(seen.filter(often).select("k", "what", "date"))
    return pl.concat(parts).unique().with_columns(monthly=pl.lit(value=True))


def _late_rows(
    every: pl.DataFrame, laid: Spans, usual: Usual, ground: Ground, settings: Settings
) -> pl.DataFrame:
    """Find the sites of a centre alone at which late rows alone bring so many late closings.

    How often rows are late is seen at openings, and at closings outside the window; by that so
    many late closings stand within one of the windows of the log by chance.
    """
    late = every.filter((pl.col("what") == LATE) & pl.col("late").fill_null(value=False))
    span_s = settings.late_closing_days * 86_400
    late = late.with_columns(most=most_within(late, ["site"], span_s, at="since"))
    asked = (
        late.group_by("site")
        .agg(most=pl.col("most").max(), closings=pl.len())
        .join(centre_alone(ground), on="site", how="semi")
    )
    if asked.is_empty():
        return pl.DataFrame(schema={"site": pl.String(), "late_rows": pl.Boolean()})
    places = laid.places.join(asked, on="site")
    windows = (
        laid.open.filter("opened")
        .join(places.select("k", "site"), on="k")
        .select(
            "k",
            "site",
            start=pl.col("since_w") - pl.duration(hours=_BEFORE_H),
            stop="since_w",
            own_since="since_w",
            own_until="until_w",
            least_h=pl.lit(0.0),
        )
        .with_row_index("window")
    )
    before = armed_over(windows, laid.state, usual.holidays, settings)
    opened = windows.join(
        before.filter(pl.col("high") <= _BEFORE_H - settings.late_closing_h), on="window"
    )
    length = (pl.col("until").max() - pl.col("since").min()).dt.total_seconds()
    every_opening = (
        laid.open.join(places.select("k", "site"), on="k")
        .group_by("site")
        .agg(all=pl.col("opened").sum(), windows=(length / span_s).clip(1))
    )
    both = (
        asked.join(opened.group_by("site").agg(openings=pl.len()), on="site", how="left")
        .join(every_opening, on="site")
        .with_columns(beside=pl.col("openings").fill_null(0) + pl.col("closings") - pl.col("most"))
        .with_columns(share=(pl.col("beside") + _BESIDE) / (2 * pl.col("all") + 1))
    )
    within = (both["all"] / both["windows"]).round(0)
    chance = binomial_tail(both["most"].to_numpy(), within.to_numpy(), both["share"].to_numpy())
    return both.with_columns(late_rows=pl.Series(chance) * pl.col("windows") > _CHANCE).select(
        "site", "late_rows"
    )
