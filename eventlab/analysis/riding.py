"""What goes with the alarms of a point: how long they last, and what they ride on."""

import polars as pl

from eventlab.analysis.contact import ALARMS, POINT, with_power
from eventlab.analysis.found import asof, evidence, line, number, seconds, told_s
from eventlab.ground import Ground, Power, Restores
from eventlab.schema import EVIDENCE, Kind, Phase
from eventlab.settings import Settings

_KEY = ["site", "zone", "in"]
_RIDES: dict[str, tuple[str, tuple[Kind, ...], bool]] = {
    "on_tamper": ("a tamper of the same point", (Kind.TAMPER, Kind.TAMPER_ALARM), True),
    "on_battery": ("a low battery of the same point", (Kind.DEVICE_BATTERY_LOW,), True),
    "on_radio": ("a lost signal of the same point", (Kind.SUPERVISION_LOSS,), True),
    "on_fault": ("a fault of the same point", (Kind.SENSOR_FAULT, Kind.MASKING), True),
    "on_mains": ("the mains going or coming back", (Kind.MAINS_LOSS,), False),
}
_NOTHING = {
    "behaviour": pl.lit(None, EVIDENCE),
    "fleeting": pl.lit(None, pl.Float64),
    "rides": pl.lit(None, pl.String),
    "rides_n": pl.lit(None, pl.Int64),
    "rides_of": pl.lit(None, pl.Int64),
}


def beside(points: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Say what goes with the alarms of some points: how long they last, what they ride on.

    How long alarms last is told only where restores come as they happen. An alarm rides on a
    tamper, low battery, lost supervision or fault of the same point, or on the mains of its site,
    where a row of that stands within ``ride_s``.

    Parameters
    ----------
    points : polars.DataFrame
        ``site``, ``zone``, ``within``.
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``fleeting_s``, ``ride_s`` [s].

    Returns
    -------
    polars.DataFrame
        One row per point with alarms: ``behaviour`` (lines of evidence), ``fleeting`` (share or
        null), ``rides`` (on what most of its alarms ride, or null), ``rides_n``, ``rides_of``.
    """
    place = pl.col("within").fill_null("").alias("in")
    wanted = points.select(*POINT, place).unique()
    rows = (
        ground.occurrences.lazy()
        .filter((pl.col("kind") != Kind.ACTIVATION) | (pl.col("phase") != Phase.BEGIN))
        .select("site", "zone", place, "kind", "phase", "placed", "grain")
        .join(wanted.lazy().select("site"), on="site", how="semi", maintain_order="left")
        .join(wanted.lazy(), on=_KEY, how="semi", maintain_order="left")
        .collect()
    )
    begins = pl.col("phase") == Phase.BEGIN
    alarms = rows.filter(pl.col("kind").is_in(list(ALARMS)) & begins).select(
        *_KEY, "placed", "grain", nth=pl.int_range(pl.len())
    )
    if alarms.is_empty():
        return wanted.clear().select(*POINT, **_NOTHING)
    both = [*ALARMS, Kind.ACTIVATION]
    closed = rows.filter(pl.col("kind").is_in(both) & ~begins).select(*_KEY, closed="placed")
    later = alarms.select(*_KEY, again="placed")
    timed = asof(alarms, closed, "placed", "closed", by=_KEY, strategy="forward")
    timed = asof(timed, later, "placed", "again", by=_KEY, strategy="forward", strict=True)
    lasts = pl.when((pl.col("closed") <= pl.col("again")).fill_null(value=True)).then(
        seconds(pl.col("closed") - pl.col("placed"))
    )
    timed = timed.with_columns(lasts=lasts, **_ridden(timed, rows, ground, settings))
    live = with_power(ground, Power.RESTORES, Restores.LIVE).with_columns(live=pl.lit(value=True))
    late = with_power(ground, Power.RESTORES, Restores.AT_DISARM)
    late = late.with_columns(late=pl.lit(value=True))
    each = (
        timed.group_by(_KEY)
        .agg(
            alarms=pl.len(),
            told=pl.col("lasts").count(),
            brief=(pl.col("lasts") <= settings.fleeting_s).sum(),
            half=pl.col("lasts").median(),
            grain=pl.col("grain").max().fill_null(1),
            **{name: pl.col(name).sum() for name in _RIDES},
        )
        .join(live, on="site", how="left")
        .join(late, on="site", how="left")
        .with_columns(pl.col("live", "late").fill_null(value=False))
    )
    shows = pl.col("live") & (pl.col("told") > 0) & (pl.col("grain") <= settings.fleeting_s)
    lines = [
        line(
            f"alarms over within {settings.fleeting_s:.0f} s",
            number(pl.col("brief"))
            + " of "
            + number(pl.col("told"))
            + "; half last no longer than "
            + told_s(pl.col("half"), pl.col("grain")),
            "restores as this log tells them; short ones that clear alone are fleeting (ISA-18.2)",
            when=shows,
        ),
        line(
            "how long its alarms last",
            "not told",
            "restores come at the disarm in this log and say nothing about the point",
            when=~pl.col("live") & pl.col("late"),
        ),
        *(
            line(
                f"alarms within {settings.ride_s / 60:.0f} min of {told}",
                number(pl.col(name)) + " of " + number(pl.col("alarms")),
                "rows of this log; what comes with an alarm may be what makes it",
                when=pl.col(name) > 0,
            )
            for name, (told, _, _) in _RIDES.items()
        ),
    ]
    most = pl.max_horizontal(*_RIDES)
    which = pl.coalesce(
        pl.when((pl.col(name) == most) & (pl.col(name) * 2 > pl.col("alarms"))).then(pl.lit(told))
        for name, (told, _, _) in _RIDES.items()
    )
    return (
        each.with_columns(
            evidence(*lines).alias("behaviour"),
            fleeting=pl.when(shows).then(pl.col("brief") / pl.col("told")),
            rides=which,
            rides_n=most.cast(pl.Int64),
            rides_of=pl.col("alarms").cast(pl.Int64),
        )
        .join(wanted, on=_KEY, how="inner")
        .select(*POINT, *_NOTHING)
    )


def _ridden(
    alarms: pl.DataFrame, rows: pl.DataFrame, ground: Ground, settings: Settings
) -> dict[str, pl.Series]:
    """Say of each alarm whether a row of each sort stands near it."""
    told = {}
    for name, (_, kinds, own) in _RIDES.items():
        of = rows if own else ground.occurrences
        by = _KEY if own else ["site"]
        some = of.lazy().filter(pl.col("kind").is_in(list(kinds))).select(*by, near="placed")
        hit = asof(alarms, some.collect(), "placed", "near", by=by, strategy="nearest")
        apart = seconds(pl.col("near") - pl.col("placed")).abs()
        told[name] = hit.select((apart <= settings.ride_s).fill_null(value=False)).to_series()
    return told
