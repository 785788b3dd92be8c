"""The cells of devices: when each was put in, and whether it was low, changed or still lasts."""

import polars as pl

from eventlab.analysis.conditions import spells
from eventlab.analysis.found import asof, ends
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import UTC, Kind, Schema
from eventlab.settings import Settings

POINT = ("site", "zone", "within")
_KEY = ("site", "zone", "key")
_DAY_US = 86_400_000_000
_CELLS = r"(?i)\b(?:batter(?:y|ies|ie|ien)|cells?|piles?|akkus?)\b"
_CHANGED = r"(?i)chang|replac|renew|swap|fitted|new |gewechselt|getauscht|ersetzt|remplac|cambi"
_EVERY = r"(?i)\b(?:all|every|alle|tou[st]e?s?|todas)\b"
"""Words of work at cells, as technicians write them (common practice)."""
ANY = "any"
"""The family of all devices together."""

LIFE: Schema = {
    "site": pl.String(),
    "zone": pl.String(),
    "within": pl.String(),
    "family": pl.String(),
    "since": UTC,
    "entry_days": pl.Float64(),
    "leaving_days": pl.Float64(),
    "failed": pl.Boolean(),
    "last": pl.Boolean(),
}
"""One cell: ``since`` it was put in, the age from which on the log watches it, the age at which it
was told low (``failed``) or the log ends, and whether it is the last one seen of its device."""


def lives(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Return the cells of which it is known when they were put in.

    A cell is put in when its device was installed, as the zone schedule tells, when a low battery
    that was told ended, or on a visit at which it was changed. Lows that come back within
    ``battery_window_days`` are one: a weak cell that comes and goes was not replaced. A cell that
    was changed before it was low did not fail: it was watched up to the visit.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        The zone schedule: when devices were installed, which are radio devices, their detector;
        visits at which cells were changed.
    settings : Settings
        ``battery_window_days``.

    Returns
    -------
    polars.DataFrame
        LIFE columns. Devices whose first cell nobody dated come in with their second one.
    """
    failures = _failures(ground, settings)
    listed = devices(ground, context)
    log = ground.coverage.group_by("site").agg(start=pl.col("since").min())
    log = log.join(ends(ground), on="site")
    begun = pl.concat(
        [
            listed.filter(pl.col("installed").is_not_null()).select(
                *POINT,
                since=pl.col("installed").cast(pl.Datetime("us")).dt.replace_time_zone("UTC"),
            ),
            failures.filter(pl.col("replaced").is_not_null()).select(*POINT, since="replaced"),
            _changed(failures, listed, context, settings),
        ]
    )
    full = (
        begun.join(log, on="site")
        .filter(pl.col("since") < pl.col("end"))
        .unique([*POINT, "since"])
        .sort(*POINT, "since", nulls_last=True)
        .with_columns(next=pl.col("since").shift(-1).over(POINT))
    )
    # Told low at the very moment it was put in, it is the end of the low before.
    lows = _keyed(failures).select(*_KEY, at="low")
    told = asof(_keyed(full), lows, "since", "at", by=_KEY, strategy="forward", strict=True)
    told = told.with_columns(low=pl.when((pl.col("at") < pl.col("next")).fill_null(value=True))
                             .then("at"))  # fmt: skip
    full = told.join(listed.select(*POINT, "family"), on=list(POINT), how="left", nulls_equal=True)
    age = [_days(pl.col(c) - pl.col("since")) for c in ("start", "low", "next", "end")]
    return (
        full.with_columns(
            pl.col("family").fill_null(ANY),
            entry_days=age[0].clip(0),
            leaving_days=pl.coalesce(age[1:]),
            failed=pl.col("low").is_not_null(),
            last=pl.col("next").is_null(),
        )
        .filter(pl.col("leaving_days") > pl.col("entry_days"))
        .select(pl.col(name).cast(kind) for name, kind in LIFE.items())
        .sort(*POINT, "since", nulls_last=True)
    )


def _failures(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Give each time that a device's battery was told low, and when that ended."""
    low = spells(ground, [Kind.DEVICE_BATTERY_LOW], settings).filter(pl.col("zone").is_not_null())
    apart = pl.col("since") - pl.col("until").shift(1).over(POINT)
    again = (apart <= pl.duration(days=settings.battery_window_days)).fill_null(value=False)
    return (
        low.sort(*POINT, "since", nulls_last=True)
        .with_columns(number=(~again).cum_sum().over(POINT))
        .group_by(*POINT, "number", maintain_order=True)
        .agg(
            low=pl.col("since").first(),
            replaced=pl.when(pl.col("ended_by").last() == "end").then(pl.col("until").last()),
        )
    )


def _changed(
    failures: pl.DataFrame, listed: pl.DataFrame, context: Context, settings: Settings
) -> pl.DataFrame:
    """Give the visits at which cells were changed though nothing told them low: ``since``.

    A visit that names no point is about all radio devices of its site only where it says so.
    """
    work = pl.col("work")
    visits = context.visits.filter(work.str.contains(_CELLS) & work.str.contains(_CHANGED))
    visits = visits.filter(pl.col("at").is_not_null()).select("site", "zones", "work", since="at")
    named = pl.col("zones").list.len().fill_null(0) > 0
    at_points = visits.filter(named).explode("zones").select("site", "since", zone="zones")
    at_all = (
        visits.filter(~named & work.str.contains(_EVERY))
        .select("site", "since")
        .join(listed.filter("radio").select("site", "zone").unique(), on="site")
        .select("site", "since", "zone")
    )
    changed = pl.concat([at_points, at_all]).join(
        listed.select(*POINT), on=["site", "zone"], how="inner"
    )
    # While a low battery stands, or just after, the visit is what ended it: told by its end.
    lows = _keyed(failures).select(*_KEY, "replaced", at="low")
    near = asof(_keyed(changed), lows, "since", "at", by=_KEY)
    slack = pl.duration(days=settings.battery_window_days)
    put_right = pl.col("replaced").is_not_null() & (pl.col("since") <= pl.col("replaced") + slack)
    return near.filter(~put_right).select(*POINT, "since")


def devices(ground: Ground, context: Context) -> pl.DataFrame:
    """Return what is known of each device.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        The zone schedule.

    Returns
    -------
    polars.DataFrame
        ``site``, ``zone``, ``within``, ``installed``, ``family`` (its detector), ``radio``.
    """
    link = context.zones.select(
        "site", "zone", radio=pl.col("link").str.contains("(?i)radio|wireless")
    )
    return (
        ground.points.select(*POINT, "installed", family=pl.col("detector").str.to_lowercase())
        .join(link.unique(["site", "zone"], keep="last"), on=["site", "zone"], how="left")
        .with_columns(pl.col("radio").fill_null(value=False))
    )


def _days(span: pl.Expr) -> pl.Expr:
    return span.dt.total_microseconds() / _DAY_US


def _keyed(frame: pl.DataFrame) -> pl.DataFrame:
    """Add the area as a key that is never null, since null joins with nothing."""
    return frame.with_columns(key=pl.col("within").fill_null(""))
