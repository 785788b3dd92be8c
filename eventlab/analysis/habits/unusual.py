"""Closings, nights and openings out of the usual: by what the place does on comparable days.

Where a schedule tells the hours of a date, it decides alone.
"""

from dataclasses import dataclass
from datetime import timedelta

import polars as pl

from eventlab.analysis.found import hours
from eventlab.analysis.habits.compare import armed_over
from eventlab.analysis.habits.spans import Spans
from eventlab.context import Context, open_hours, public_holidays
from eventlab.ground import intervals
from eventlab.settings import Settings

_BLOCK_H = 6
"""A day is looked at in quarters: usual hours may change with each."""
_TAIL_H, _TAIL = 9.0, 0.75
"""So much before a closing is looked at, of the stretch no more than a share."""
_WHOLE = 0.95
_SPOKEN_H = 0.25
"""Less than a quarter of an hour is nothing to look into."""
_LONGEST_DAYS = 60
"""Beyond this there are no comparable days but those of the stretch itself."""
_DAY = timedelta(days=1)
_SHUT = {"window": pl.UInt32(), "length": pl.Float64(), "shut_h": pl.Float64()}


@dataclass(frozen=True)
class Usual:
    """What holds of each date beside the log.

    Parameters
    ----------
    holidays : polars.DataFrame
        ``k``, ``date``, ``holiday`` (its name).
    hours : polars.DataFrame
        ``k``, ``since_w``, ``until_w``: when the schedule has the place open, slack on either side.
    told : polars.DataFrame
        ``k``, ``date``: the dates of which the schedule tells.
    """

    holidays: pl.DataFrame
    hours: pl.DataFrame
    told: pl.DataFrame


def around(spans: Spans, context: Context, settings: Settings) -> Usual:
    """Gather public holidays and scheduled hours of the dates that the logs cover.

    Parameters
    ----------
    spans : Spans
        The places and their stretches.
    context : Context
        Site list and schedule.
    settings : Settings
        ``schedule_slack_min``.

    Returns
    -------
    Usual
        Empty frames where nothing is told.
    """
    state, places = spans.state, spans.places
    nothing = pl.DataFrame(schema={"k": pl.Int64, "date": pl.Date, "holiday": pl.String})
    if state.is_empty():
        walls = state.select("k", "since_w", "until_w")
        return Usual(nothing, walls, nothing.select("k", "date"))
    reach = state.select(first=pl.col("since_w").min(), last=pl.col("until_w").max())
    first, last = reach["first"][0].date(), reach["last"][0].date()
    named = public_holidays(context.sites, first, last)
    holidays = places.select("k", "site").join(named, on="site").select("k", "date", "holiday")
    listed = places.join(context.schedule.select("site").unique(), on="site", how="semi")
    if listed.is_empty():
        walls = state.select("k", "since_w", "until_w").clear()
        return Usual(holidays.sort("k", "date"), walls, nothing.select("k", "date"))
    days = (
        state.join(listed.select("k"), on="k", how="semi")
        .group_by("k")
        .agg(first=pl.col("since_w").min().dt.date(), last=pl.col("until_w").max().dt.date())
        .with_columns(date=pl.date_ranges(pl.col("first") - _DAY, "last"))
        .explode("date")
        .select("k", "date")
        .join(holidays, on=["k", "date"], how="left")
        .with_columns(pl.col("holiday").is_not_null())
    )
    meant, told = open_hours(context.schedule, listed.select("k", "site", "area"), days)
    slack = pl.duration(minutes=settings.schedule_slack_min)
    midnight = pl.col("date").cast(pl.Datetime("us"))
    wide = meant.select(
        "k",
        since=midnight + _hours(pl.col("opens")) - slack,
        until=midnight + _hours(pl.col("closes")) + slack,
    )
    open_at = intervals.unite(wide, ["k"]).rename({"since": "since_w", "until": "until_w"})
    return Usual(holidays.sort("k", "date"), open_at, told)


def _hours(value: pl.Expr) -> pl.Expr:
    return pl.duration(microseconds=(value * 3.6e9).round(0).cast(pl.Int64))


def unarmed(spans: Spans, usual: Usual, settings: Settings) -> pl.DataFrame:
    """Say how long each stretch stood unarmed at hours at which the place is usually armed.

    Parameters
    ----------
    spans : Spans
        The stretches.
    usual : Usual
        Holidays and schedule.
    settings : Settings
        As `compare.armed_over` needs them.

    Returns
    -------
    polars.DataFrame
        ``open``, ``unusual_h`` [h], ``sure_h`` (of them those in which the days around it are
        armed as well), ``from_w`` (wall, from when on), ``by_schedule``.
    """
    size = 3_600_000_000 * _BLOCK_H
    one = pl.col("since_w").dt.timestamp("us") // size
    last = (pl.col("until_w").dt.timestamp("us") - 1) // size
    blocks = (
        spans.seen.filter(pl.col("since_w") < pl.col("until_w"))
        .with_columns(
            block=pl.int_ranges(one, pl.min_horizontal(last, one + _LONGEST_DAYS * 4) + 1)
        )
        .explode("block")
        .with_columns(
            start=pl.max_horizontal("since_w", pl.from_epoch(pl.col("block") * size, "us")),
            stop=pl.min_horizontal("until_w", pl.from_epoch((pl.col("block") + 1) * size, "us")),
        )
    )
    own = spans.open.select("open", own_since="since_w", own_until="until_w")
    windows = (
        blocks.select("open", "k", "start", "stop")
        .join(own, on="open", maintain_order="left")
        .with_columns(least_h=pl.lit(_SPOKEN_H))
        .with_row_index("window")
    )
    told = _scheduled(windows, usual)
    free = windows.join(told, on="window", how="anti")
    weeks = armed_over(free, spans.state, usual.holidays, settings)
    some = free.join(weeks.filter(pl.col("low") >= _SPOKEN_H), on="window", how="semi")
    near = armed_over(some, spans.state, usual.holidays, settings, days=True)
    learned = weeks.join(near.select("window", near="low"), on="window", how="left").select(
        "window",
        "low",
        sure=pl.min_horizontal("low", pl.col("near").fill_null(pl.col("low"))),
        by_schedule=pl.lit(value=False),
    )
    both = pl.concat(
        [
            learned,
            told.select("window", low="shut_h", sure="shut_h", by_schedule=pl.lit(value=True)),
        ]
    )
    spoken = pl.col("low") >= _SPOKEN_H
    # What lies between a usual closing and the end of the block is unarmed without its hours.
    begins = pl.col("stop") - _hours(pl.col("low"))
    return (
        windows.join(both, on="window")
        .group_by("open")
        .agg(
            unusual_h=pl.col("low").filter(spoken).sum(),
            sure_h=pl.col("sure").filter(spoken).sum(),
            from_w=begins.filter(spoken).min().dt.round("1s"),
            by_schedule=pl.col("by_schedule").filter(spoken).any(),
        )
        .sort("open")
    )


def _scheduled(windows: pl.DataFrame, usual: Usual) -> pl.DataFrame:
    """Say of the windows of scheduled dates for how long the place is meant to be shut."""
    if usual.told.is_empty():
        return pl.DataFrame(schema=_SHUT)
    own = windows.with_columns(date=pl.col("start").dt.date()).join(
        usual.told, on=["k", "date"], how="semi"
    )
    over = (
        own.select("window", "k", "start", "stop")
        .join(usual.hours, on="k", how="left")
        .with_columns(
            meant=hours(
                pl.min_horizontal("stop", "until_w") - pl.max_horizontal("start", "since_w")
            ).clip(0)
        )
        .group_by("window")
        .agg(
            meant=pl.col("meant").fill_null(0.0).sum(),
            length=hours(pl.col("stop") - pl.col("start")).first(),
        )
    )
    return over.select("window", "length", shut_h=pl.col("length") - pl.col("meant"))


def late(spans: Spans, usual: Usual, settings: Settings) -> pl.DataFrame:
    """Find the closings that came later than the place is usually closed.

    Compared with the days on which it was open too, three quarters of the stretch before its
    closing, and at most nine hours, are looked at: over how much of it is the place usually armed
    already? A closing is late where that is ``late_closing_h`` and more against the later quarter
    of comparable days, and three times the spread of its middle half.

    Parameters
    ----------
    spans : Spans
        The stretches.
    usual : Usual
        Holidays and schedule.
    settings : Settings
        ``late_closing_h`` [h], and as `compare.armed_over` needs them.

    Returns
    -------
    polars.DataFrame
        ``open``, ``late_h`` [h, against the middle of comparable days], ``late`` (false where only
        half of comparable days were closed so much earlier), ``alike``, ``n`` (comparable days as
        late, and all; null by schedule), ``by_schedule``.

    Notes
    -----
    Three spreads beyond the quarter: what lies far out by Tukey (1977), Exploratory Data Analysis.
    """
    least = settings.late_closing_h
    length = hours(pl.col("until_w") - pl.col("since_w"))
    windows = (
        spans.open.filter(pl.col("closed") & (length >= least))
        .with_columns(back=pl.min_horizontal(pl.lit(_TAIL_H), _TAIL * length))
        .select(
            "open",
            "k",
            start=pl.col("until_w") - _hours(pl.col("back")),
            stop="until_w",
            own_since="since_w",
            own_until="until_w",
            least_h=pl.lit(least),
            # An hour that the clock skipped meanwhile makes nobody late.
            skipped=(length - hours(pl.col("until") - pl.col("since"))).clip(0),
        )
        .with_row_index("window")
    )
    told = _scheduled(windows, usual)
    free = windows.join(told, on="window", how="anti")
    learned = armed_over(free, spans.state, usual.holidays, settings, open_first=True)
    learned = learned.join(windows.select("window", "skipped"), on="window").with_columns(
        pl.col("low", "middle", "high") - pl.col("skipped")
    )
    far = pl.max_horizontal(pl.lit(least), 3 * (pl.col("high") - pl.col("low")))
    both = pl.concat(
        [
            learned.filter(pl.col("middle") >= least).select(
                "window",
                "alike",
                "n",
                late=pl.col("low") >= far,
                late_h="middle",
                by_schedule=pl.lit(value=False),
            ),
            told.filter(pl.col("shut_h") >= least).select(
                "window",
                late=pl.lit(value=True),
                late_h="shut_h",
                alike=pl.lit(None, pl.Int64),
                n=pl.lit(None, pl.Int64),
                by_schedule=pl.lit(value=True),
            ),
        ],
        how="diagonal",
    )
    return windows.select("window", "open").join(both, on="window").drop("window").sort("open")


def odd(spans: Spans, usual: Usual, settings: Settings) -> pl.DataFrame:
    """Find the openings at hours around which the place is usually armed.

    Parameters
    ----------
    spans : Spans
        The stretches.
    usual : Usual
        Holidays and schedule.
    settings : Settings
        ``odd_opening_h`` [h], ``odd_opening_share``, and as `compare.armed_over` needs them.

    Returns
    -------
    polars.DataFrame
        ``open``, ``odd_hour`` (Boolean: the place is hardly ever opened near that hour, on any
        day; else only that weekday, or holiday, is usually closed then), ``alike``, ``n``,
        ``by_schedule``.
    """
    wide = _hours(pl.lit(settings.odd_opening_h))
    full = 2 * settings.odd_opening_h * _WHOLE
    windows = (
        spans.open.filter("opened")
        .select(
            "open",
            "k",
            start=pl.col("since_w") - wide,
            stop=pl.col("since_w") + wide,
            own_since="since_w",
            own_until="until_w",
            least_h=pl.lit(full),
        )
        .with_row_index("window")
    )
    told = _scheduled(windows, usual)
    free = windows.join(told, on="window", how="anti")
    learned = armed_over(free, spans.state, usual.holidays, settings).filter(pl.col("low") >= full)
    both = pl.concat(
        [
            learned.select("window", "alike", "n", by_schedule=pl.lit(value=False)),
            told.filter(pl.col("shut_h") >= pl.col("length") * _WHOLE).select(
                "window",
                alike=pl.lit(None, pl.Int64),
                n=pl.lit(None, pl.Int64),
                by_schedule=pl.lit(value=True),
            ),
        ],
        how="diagonal",
    )
    hour = _rare_hour(windows.join(both, on="window", how="semi"), spans, settings)
    return (
        windows.select("window", "open")
        .join(both, on="window")
        .join(hour, on="window", how="left")
        .with_columns(pl.col("odd_hour").fill_null(value=False))
        .drop("window")
        .sort("open")
    )


def _rare_hour(windows: pl.DataFrame, spans: Spans, settings: Settings) -> pl.DataFrame:
    """Find the openings near whose time of day the place is hardly ever opened."""

    def clock(wall: str) -> pl.Expr:
        return hours(pl.col(wall) - pl.col(wall).dt.truncate("1d"))

    every = spans.open.filter("opened").select("k", other=clock("since_w"))
    apart = (pl.col("hour") - pl.col("other")).abs()
    near = pl.min_horizontal(apart, 24 - apart) <= settings.odd_opening_h
    return (
        windows.select("window", "k", hour=clock("own_since"))
        .join(every, on="k")
        .group_by("window")
        .agg(share=near.mean())
        .filter(pl.col("share") <= settings.odd_opening_share)
        .select("window", odd_hour=pl.lit(value=True))
    )
