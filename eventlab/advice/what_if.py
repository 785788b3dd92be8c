"""What past alarms of one point would have come to, had its panel been set otherwise."""

from collections.abc import Sequence

import polars as pl

from eventlab.advice.advise import MARKS
from eventlab.advice.points import described
from eventlab.advice.replay import count_of_two, firsts, hold_off, paired
from eventlab.advice.trials import COUNT, HOLD_OFF, OUTCOME_OF, PAIR, Trial, WhatIf
from eventlab.analysis.suspected import suspected_nights
from eventlab.context import Context
from eventlab.errors import NotFound, UsageError
from eventlab.ground import Ground, Power, Restores, State
from eventlab.schema import Kind, Phase, Subject, conform, empty
from eventlab.settings import Settings

_PROVE = (
    "A log shows what would have been quiet, not what would have been missed: prove by walk test "
    "that the point still detects, and look for the cause first."
)
_AGREE = "Agree it in writing with customer, centre and insurer; licensed people set it."
_ALARMS = (Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM)


def what_if(
    ground: Ground,
    context: Context,
    settings: Settings,
    *,
    site: str,
    zone: str,
    trials: Sequence[Trial],
    area: str | None = None,
) -> WhatIf:
    """Replay the past alarms of one point under other rules.

    Never for a life-safety point, nor for a 24-hour point of which nobody tells what it is. A
    trial stops at the longest delay that the site's rule allows, is not replayed over the same
    rule already in force, nor where this log cannot show it.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        The zone schedule tells hold-off and count in force.
    settings : Settings
        ``delay_limit_s`` [s], and as the rules of possible intrusions need them.
    site, zone : str
        The point.
    trials : sequence of Trial
        What to try.
    area : str, optional
        Its area, where its number stands in several.

    Returns
    -------
    WhatIf
        Figures of each trial, or why there are none.

    Raises
    ------
    NotFound
        Where there is no such point.
    UsageError
        Where its number stands in several areas, or a trial makes no sense.
    """
    point = _point(ground, site, zone, area)
    listed = _listed(context, point)
    waited = _waited(context, point, settings)
    refused = _refused(point)
    told = _in_force(listed, point)
    cautions = _cautions(point, context)
    if refused:
        nothing = empty(OUTCOME_OF)
        return WhatIf(site, zone, _name(point), refused, (), cautions, nothing)
    for trial in trials:
        _sensible(trial, ground, site, zone)
    alarms = _alarms(ground, point)
    nights = suspected_nights(ground, context, settings, site)
    rows = []
    for trial in trials:
        why = _untried(trial, alarms, ground, listed, point, settings.delay_limit_s - waited)
        rows.append(
            {"trial": trial.rule, "seconds": trial.seconds, "other": trial.other, "told": why}
            | ({} if why else _figures(_replayed(trial, alarms, ground, point), nights))
        )
    frame = pl.DataFrame(rows, infer_schema_length=None) if rows else pl.DataFrame()
    return WhatIf(
        site, zone, _name(point), None, told, cautions,
        conform(frame.with_columns(site=pl.lit(site), zone=pl.lit(zone)), OUTCOME_OF),
    )  # fmt: skip


def _point(ground: Ground, site: str, zone: str, area: str | None) -> dict[str, object]:
    here = ground.points.filter((pl.col("site") == site) & (pl.col("zone") == zone))
    if area is not None:
        here = here.filter(pl.col("areas").list.contains(area) | (pl.col("within") == area))
    if here.is_empty():
        known = ground.points.filter(pl.col("site") == site)["zone"].drop_nulls().unique().sort()
        raise NotFound(
            f"there is no point {zone!r} at site {site!r}",
            do=f"Known points: {', '.join(known.head(20).to_list()) or 'none'}.",
        )
    if here.height > 1:
        areas = ", ".join(here["within"].drop_nulls().sort().to_list())
        raise UsageError(
            f"point {zone!r} stands in several areas of site {site!r}",
            do=f"Say which with --area: {areas}.",
        )
    return here.row(0, named=True)


def _name(point: dict[str, object]) -> str | None:
    return None if point["name"] is None else str(point["name"])


def _listed(context: Context, point: dict[str, object]) -> dict[str, object]:
    rows = context.zones.filter(
        (pl.col("site") == point["site"]) & (pl.col("zone") == point["zone"])
    )
    within = point["within"]
    if within is not None:
        rows = rows.filter(pl.col("area").list.contains(str(within)))
    return rows.row(-1, named=True) if rows.height else {}


def _waited(context: Context, point: dict[str, object], settings: Settings) -> float:
    """Say how late an alarm of the point comes already: the entry time, on the way in."""
    if not point["entry_route"]:
        return 0.0
    told = context.sites.filter(pl.col("site") == point["site"])["entry_delay_s"].drop_nulls()
    return float(told[0]) if len(told) else settings.entry_delay_s


def _refused(point: dict[str, object]) -> str | None:
    if point["life_safety"]:
        return (
            "It is a life-safety point, or a 24-hour point of which nobody tells what it is: "
            "nothing of it is ever held off, counted or paired. Have it examined by a licensed "
            "person, and treat every call from it as real until then."
        )
    return None


def _in_force(listed: dict[str, object], point: dict[str, object]) -> tuple[str, ...]:
    """Say what holds already: its alarms have passed that before they came into the log."""
    held, count = listed.get("hold_off_s"), listed.get("count")
    limit, basis = point["trip_limit"], point["limit_basis"]
    lines = [
        f"Hold-off: {held:g} s, as listed" if held else "Hold-off: unknown",
        f"Count: {count} trips, as listed" if count else "Count: unknown",
        "Pairing with a second detector: unknown",
    ]
    if limit is not None and (basis != "possible" or limit == 1):
        seen = {"listed": "as listed", "seen": "as this log shows"}.get(
            str(basis), "which this log does not rule out"
        )
        lines.append(
            f"Out after {limit} {'alarm' if limit == 1 else 'alarms'} of an armed period, {seen}: "
            "how many more there would have been, with or without a trial, is not known"
        )
    return tuple(lines)


def _cautions(point: dict[str, object], context: Context) -> tuple[str, ...]:
    found = pl.DataFrame(
        {
            "site": [point["site"]],
            "area": [point["area"]],
            "subject_kind": [str(Subject.ZONE)],
            "subject": [point["zone"]],
            "figures": ["{}"],
        },
        schema_overrides={"area": pl.String},
    )
    outer = bool(described(found, context)["perimeter"][0]) and not point["life_safety"]
    return (
        *((MARKS,) if outer else ()),
        _PROVE,
        _AGREE,
    )


def _sensible(trial: Trial, ground: Ground, site: str, zone: str) -> None:
    if not 0 < trial.seconds < float("inf"):
        raise UsageError(f"{trial.seconds:g} s is no time to try", do="Give more than 0 seconds.")
    if trial.rule != PAIR:
        return
    known = ground.points.filter((pl.col("site") == site) & (pl.col("zone") == trial.other))
    if trial.other == zone or known.is_empty():
        raise UsageError(
            f"point {trial.other!r} is no second detector for point {zone!r}",
            do="Name another point of the same site that looks into the same space.",
        )


def _alarms(ground: Ground, point: dict[str, object]) -> pl.DataFrame:
    """Return its past alarms with their armed period and when each was over."""
    site = pl.col("site") == point["site"]
    reliable = bool(ground.sites.filter(site)["arming_reliable"].fill_null(value=False)[0])
    rows = ground.occurrences.filter(site)
    unarmed = (pl.col("state") == State.UNARMED) & pl.lit(reliable)
    own = (pl.col("zone") == point["zone"]) & pl.col("within").eq_missing(pl.lit(point["within"]))
    alarms = rows.filter(
        own
        & pl.col("kind").is_in(list(_ALARMS))
        & (pl.col("phase") == Phase.BEGIN)
        & pl.col("trip")
        & ~unarmed
    ).select("at", "night", "grain", "area")
    area = pl.col("area").is_null() | pl.lit(point["area"] is None)
    disarms = rows.filter(
        (pl.col("kind") == Kind.DISARM)
        & (area | (pl.col("area") == pl.lit(point["area"], pl.String)))
    ).select(disarmed="placed")
    closed = rows.filter(
        own & pl.col("kind").is_in([*_ALARMS, Kind.ACTIVATION]) & (pl.col("phase") == Phase.END)
    ).select(closed="placed")
    timed = alarms.sort("at")
    for other, name in ((disarms, "disarmed"), (closed, "closed")):
        timed = timed.join_asof(
            other.sort(name), left_on="at", right_on=name, strategy="forward",
            check_sortedness=False, coalesce=False,
        )  # fmt: skip
    period = pl.col("disarmed") if reliable else pl.col("night").cast(pl.Datetime("us", "UTC"))
    return timed.with_columns(
        period=period.dt.epoch("us").fill_null(-1),
        until=pl.min_horizontal("closed", "disarmed"),
    )


def _figures(replayed: pl.DataFrame, nights: pl.DataFrame) -> dict[str, object]:
    """Count what a trial would have kept back, and what became of first alarms."""
    first = firsts(replayed)
    late = first.filter(pl.col("late_s") > 0)
    by_night = (
        replayed.join(nights, on="night", how="semi")
        .group_by("night")
        .agg(first=pl.col("at").min(), raised=pl.col("raised_at").min())
        .sort("night")
    )
    lost = by_night.filter(pl.col("raised").is_null())
    delayed = by_night.filter(pl.col("raised") > pl.col("first"))
    return {
        "alarms": replayed.height,
        "removed": replayed["raised_at"].null_count(),
        "periods": first.height,
        "first_lost": first["late_s"].null_count(),
        "first_late": late.height,
        "late_half_s": late["late_s"].median(),
        "late_most_s": late["late_s"].max(),
        "suspected": by_night.height,
        "suspected_lost": lost.height,
        "suspected_late": delayed.height,
        "suspected_nights": pl.concat([lost["night"], delayed["night"]]).sort().to_list(),
    }


def _untried(
    trial: Trial,
    alarms: pl.DataFrame,
    ground: Ground,
    listed: dict[str, object],
    point: dict[str, object],
    longest_s: float,
) -> str | None:
    """Say why a trial is not replayed; None where it is."""
    if alarms.is_empty():
        return "this log tells no alarm of it to replay"
    if trial.seconds > longest_s:
        return (
            f"an alarm of it may come no more than {max(longest_s, 0):g} s later than it does now "
            "(EN 50131-1 or CP-01, a setting, less the entry time); longer is not replayed"
        )
    if (alarms["grain"].fill_null(1) > 1).any():
        return "the clock of this log is too coarse: it cannot show what happens within seconds"
    if trial.rule == HOLD_OFF and listed.get("hold_off_s"):
        return f"a hold-off of {listed['hold_off_s']:g} s is in force; the log holds what passed it"
    count = listed.get("count")
    if trial.rule == COUNT and isinstance(count, int) and count > 1:
        return f"a count of {count} is in force; the log holds what passed it"
    if trial.rule == HOLD_OFF and _restores(ground, point) != Restores.LIVE:
        return "this log does not tell when the point restored, so not how long it was tripped"
    if trial.rule == PAIR:
        other = ground.points.filter(
            (pl.col("site") == point["site"]) & (pl.col("zone") == trial.other)
        )
        if other["life_safety"].any():
            return "the other point is a life-safety point: nothing is ever paired with it"
        if not other["seen"].any():
            return f"point {trial.other} does not show in this log, so it would have removed all"
    return None


def _restores(ground: Ground, point: dict[str, object]) -> str:
    told = ground.powers.filter(
        (pl.col("site") == point["site"]) & (pl.col("power") == Power.RESTORES)
    )
    values = told["value"].to_list()
    return Restores.LIVE if Restores.LIVE in values else Restores.NONE


def _replayed(
    trial: Trial, alarms: pl.DataFrame, ground: Ground, point: dict[str, object]
) -> pl.DataFrame:
    if trial.rule == HOLD_OFF:
        return hold_off(alarms, trial.seconds)
    if trial.rule == COUNT:
        return count_of_two(alarms, trial.seconds)
    both = [*_ALARMS, Kind.ACTIVATION]
    other = ground.occurrences.filter(
        (pl.col("site") == point["site"])
        & (pl.col("zone") == trial.other)
        & pl.col("kind").is_in(both)
        & (pl.col("phase") == Phase.BEGIN)
        & pl.col("at").is_not_null()
    )
    return paired(alarms, other, trial.seconds)
