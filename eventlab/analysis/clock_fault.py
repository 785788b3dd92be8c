"""Clocks that are wrong: off, running away, losing the time, or kept by another rule."""

import polars as pl

from eventlab.analysis.found import days, ends, evidence, figures, found, line, number, wall
from eventlab.context import Context
from eventlab.ground import ClockSign, Ground
from eventlab.meaning.clock import to_wall
from eventlab.schema import Kind, Pattern, Subject, Timing, Witness
from eventlab.settings import Settings

_KEY = ("site", "witness")
_SAID = "a person said so"
_DAY_S = 86_400


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find clocks on which nobody should rely.

    A clock that was put right long ago, one that lost the time once with a power cut, and one of
    which a person said by which rule it runs are records.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on; its times are corrected already where that can be.
    context : Context
        Not needed.
    settings : Settings
        ``clock_off_s`` [s], ``clock_off_days`` [days], ``clock_drift_s`` [s per day],
        ``clock_resets_min``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per site: the panel's clock, or the centre's where only that is
        wrong.
    """
    del context
    seen = _judged(ground, settings)
    if seen.is_empty():
        return found(seen, Pattern.CLOCK_FAULT)
    seen = seen.sort("site", "witness", "standing", "size", descending=[False, False, True, True])
    one = (
        seen.group_by(_KEY, maintain_order=True)
        .agg(
            pl.col("sign", "offset_s", "drift_s_day", "plus_minus_s", "basis", "grain").first(),
            pl.col("local", "resets", "unknown").first(),
            standing=pl.col("standing").any(),
            since=pl.col("since").first(),
            until=pl.when(pl.col("standing").any())
            .then(pl.col("end").first())
            .otherwise(pl.col("until").max()),
            events=pl.len().cast(pl.Int64),
            put_right=pl.col("shifted").all(),
            told=_lines().head(6),
        )
        .sort("site", "standing", "witness", descending=[False, True, False])
        .unique("site", keep="first", maintain_order=True)
        .join(_touched(ground, seen), on=list(_KEY), how="left", maintain_order="left")
    )
    return found(
        one.with_columns(
            evidence(
                "told",
                line(
                    "rows whose time was put right",
                    number(pl.col("moved")),
                    "the wall time in the log stays as it is",
                    when=pl.col("moved") > 0,
                ),
                line(
                    "rows whose time is not known",
                    number(pl.col("doubted")),
                    "kept and shown, left out of every rate",
                    when=pl.col("doubted") > 0,
                ),
            ),
            figures(
                {
                    "sign": pl.col("sign"),
                    "offset_s": pl.col("offset_s"),
                    "drift_s_day": pl.col("drift_s_day"),
                    "plus_minus_s": pl.max_horizontal("plus_minus_s", pl.col("grain") / 2),
                    "resets": pl.col("resets"),
                    "unknown": pl.col("unknown"),
                    "centre": pl.col("witness") == Witness.RECEIVER,
                    "rule": pl.col("basis").str.split(": ").list.first(),
                    "put_right": pl.col("put_right"),
                    "at_least": pl.col("basis").str.starts_with("rows step back"),
                    "moved": pl.col("moved"),
                    "doubted": pl.col("doubted"),
                }
            ),
            subject_kind=pl.lit(str(Subject.SITE)),
            subject="site",
            area=pl.lit(None, dtype=pl.String),
        ),
        Pattern.CLOCK_FAULT,
    )


def _judged(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Keep the stretches that are worth a person's time, and say which still hold."""
    sign = pl.col("sign")
    lost = sign == ClockSign.RESET
    wrong = ground.clocks.filter(sign != ClockSign.AGREES)
    if wrong.is_empty():
        return wrong
    grain = (
        _told(ground, wrong)
        .group_by("site", "witness")
        .agg(grain=pl.col("grain").max().fill_null(1))
        .collect()
    )
    rows = (
        wrong.join(grain, on=list(_KEY), how="left", maintain_order="left")
        .join(ends(ground), on="site", how="left", maintain_order="left")
        .with_columns(
            resets=lost.sum().over(_KEY).cast(pl.Int64),
            unknown=(lost & ~pl.col("shifted")).sum().over(_KEY).cast(pl.Int64),
            lasted=pl.col("until") - pl.col("since"),
        )
    )
    # A clock that is compared with another one still is as it was at the last event of both.
    compared = ground.clocks.filter(pl.col("basis").str.starts_with("events that both"))
    last = compared.group_by(_KEY).agg(last=pl.col("until").max())
    rows = rows.join(last, on=list(_KEY), how="left", maintain_order="left")
    now = pl.col("until") == pl.col("last")
    far = pl.max_horizontal(
        pl.col("offset_s").abs(),
        (pl.col("offset_s") - pl.col("drift_s_day") * pl.col("lasted").dt.total_seconds() / _DAY_S)
        .abs()
        .fill_null(0.0),
    )
    long = pl.col("lasted") >= days(settings.clock_off_days)
    off = sign.is_in([ClockSign.OFF, ClockSign.SET, ClockSign.DRIFT]) & (
        far >= settings.clock_off_s
    )
    drifts = (sign == ClockSign.DRIFT) & (pl.col("drift_s_day").abs() >= settings.clock_drift_s)
    rule = (sign == ClockSign.RULE) & ~pl.col("basis").str.ends_with(_SAID)
    still_lost = lost & ~pl.col("shifted") & (pl.col("until") >= pl.col("end") - days(1))
    resets = lost & ((pl.col("resets") >= settings.clock_resets_min) | still_lost)
    return _at_home(
        rows.with_columns(
            standing=(
                rule
                | (off & now)
                | (drifts & (now | (sign == ClockSign.DRIFT)))
                | still_lost
                | (lost & (pl.col("resets") >= settings.clock_resets_min))
            ).fill_null(value=False),
            size=pl.when(rule).then(3600.0).otherwise(pl.col("offset_s").abs()).fill_null(0.0),
        ).filter(rule | (off & (now | long).fill_null(value=False)) | drifts | resets),
        ground,
    )


def _at_home(rows: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    zones = ground.sites.select("site", zone=pl.col("time_zone").fill_null("UTC"))
    zoned = rows.join(zones, on="site", how="left", maintain_order="left")
    return to_wall(zoned, "since", "zone", "local")


def _lines() -> pl.Expr:
    """Tell each stretch with what was measured and against what."""
    sign = pl.col("sign")
    rounded = pl.max_horizontal("plus_minus_s", pl.col("grain") / 2).fill_null(0.0)
    way = pl.when(pl.col("offset_s") >= 0).then(pl.lit(" s fast")).otherwise(pl.lit(" s slow"))
    size = number(pl.col("offset_s").abs()) + way + " (± " + number(rounded.ceil()) + " s)"
    rate = number(pl.col("drift_s_day"), 1) + " s a day"
    figure = (
        pl.when(sign == ClockSign.RULE)
        .then(number(pl.col("pairs")) + " rows told by it")
        .when((sign == ClockSign.RESET) & ~pl.col("shifted"))
        .then(pl.lit("not known by how much"))
        .when(sign == ClockSign.DRIFT)
        .then(size + ", " + rate)
        .otherwise(size)
    )
    what = (
        pl.when(sign == ClockSign.RULE)
        .then(pl.lit("the clock does not follow its zone, from "))
        .when(sign == ClockSign.RESET)
        .then(pl.lit("the clock started anew after "))
        .otherwise(pl.lit("the clock was wrong from "))
    ) + wall(pl.col("local"))
    return pl.struct(what=what, figure=figure, basis=pl.col("basis"))


def _told(ground: Ground, asked: pl.DataFrame) -> pl.LazyFrame:
    """Give the rows of the sites that are asked for."""
    return (
        ground.events.lazy()
        .join(asked.lazy().select("site"), on="site", how="semi")
        .with_columns(pl.col("witness").cast(pl.String))
    )


def _touched(ground: Ground, asked: pl.DataFrame) -> pl.DataFrame:
    """Count the rows of each log whose time was put right, or is not known."""
    timing = pl.col("timing")
    return (
        _told(ground, asked)
        .filter(pl.col("kind") != Kind.UNREAD)
        .group_by("site", "witness")
        .agg(
            moved=(timing == Timing.SHIFTED).sum().cast(pl.Int64),
            doubted=(timing == Timing.DOUBTFUL).sum().cast(pl.Int64),
        )
        .collect()
    )
