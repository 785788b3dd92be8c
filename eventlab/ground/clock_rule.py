"""By which rule a clock runs: with the changes of its zone, or the same all year."""

from datetime import timedelta

import polars as pl

from eventlab.ground.words import ClockRule
from eventlab.meaning.clock import to_wall, transitions
from eventlab.schema import Kind, Mode, Schema, Timing, conform
from eventlab.settings import Settings

KEY = ("site", "witness")
HOUR_MIN = 60.0
_DAY_STARTS_H = 4
"""A closing at one in the morning belongs to the day before (common practice)."""

_NOT_PEOPLE = (Mode.TIMED, Mode.REMOTE, Mode.KEY)
_LONGEST_YEARS = timedelta(days=400)

JUDGED: Schema = {
    "site": pl.String(),
    "witness": pl.String(),
    "rule": pl.String(),
    "changes": pl.Int64(),
    "moved": pl.Float64(),
    "basis": pl.String(),
}


CHANGE: Schema = {
    "time_zone": pl.String(),
    "at": pl.Datetime("us", "UTC"),
    "step": pl.Float64(),
    "standard_s": pl.Int32(),
}
"""A clock change: by how many minutes, and the smaller of the two offsets from UTC [s]."""


def by_routine(events: pl.DataFrame, zones: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Judge by the hours at which people open and close whether a clock follows its zone.

    People keep civil time. By a clock that is not put forward in spring they seem to come an hour
    earlier from that day on, and an hour later again from the change in autumn. Compared are the
    first opening and the last closing of each day, weekday by weekday, in the three weeks before
    and after each change. A routine that moves by itself there decides nothing.

    Parameters
    ----------
    events : polars.DataFrame
        EVENT rows.
    zones : polars.DataFrame
        ``site``, ``time_zone``.
    settings : Settings
        ``rule_days``, ``rule_near_min``, ``rule_pairs``.

    Returns
    -------
    polars.DataFrame
        ``JUDGED``: one row for each site and witness of which openings tell something; ``rule``
        is null where they do not decide.
    """
    turns = _turns(events, zones)
    if turns.is_empty():
        return pl.DataFrame(schema=JUDGED)
    days = _days(events, zones, turns, settings)
    if days.is_empty():
        return pl.DataFrame(schema=JUDGED)
    moves = _moves(days, turns, settings)
    if moves.is_empty():
        return pl.DataFrame(schema=JUDGED)
    return _decided(moves)


def _turns(events: pl.DataFrame, zones: pl.DataFrame) -> pl.DataFrame:
    """Give the changes by an hour that lie in the time of these events."""
    first, last = events["at"].min(), events["at"].max()
    if first is None:
        return pl.DataFrame(schema=CHANGE)
    turns = changes_of(zones["time_zone"], first, last)
    return turns.filter(pl.col("step").abs() == HOUR_MIN).with_columns(turn=pl.col("at").dt.date())


def _days(
    events: pl.DataFrame, zones: pl.DataFrame, turns: pl.DataFrame, settings: Settings
) -> pl.DataFrame:
    """Give first opening and last closing of each day near a change, in minutes as told."""
    reach = int(settings.rule_days) + 1
    near = pl.concat(
        [turns.select(pl.col("turn").dt.offset_by(f"{step}d")) for step in range(-reach, reach + 1)]
    )["turn"].unique()
    people = ~pl.col("mode").is_in(list(_NOT_PEOPLE)).fill_null(value=False)
    acts = (
        events.lazy()
        .filter(
            pl.col("kind").is_in([Kind.ARM, Kind.DISARM])
            & people
            & (pl.col("timing") != Timing.SHIFTED)
            & pl.col("at").is_not_null()
            & pl.col("wall").dt.date().is_in(near.implode())
        )
        .select(*KEY, "wall", "at", act=pl.col("kind") == Kind.DISARM)
        .join(zones.lazy().select("site", "time_zone").drop_nulls(), on="site")
        .collect()
    )
    acts = as_by_zone(acts)
    day = (pl.col("wall") - pl.duration(hours=_DAY_STARTS_H)).dt.date()
    minute = (pl.col("wall") - day.cast(pl.Datetime("us"))).dt.total_seconds() / 60
    return (
        acts.with_columns(pl.col("witness").cast(pl.String), day=day, minute=minute)
        .group_by(*KEY, "time_zone", "act", "day")
        .agg(
            minute=pl.when(pl.col("act").first())
            .then(pl.col("minute").min())
            .otherwise(pl.col("minute").max())
        )
        .sort(*KEY, "act", "day")
    )


def as_by_zone(rows: pl.DataFrame, at: str = "at") -> pl.DataFrame:
    """Keep the rows whose wall time was read by the rule of their zone.

    Parameters
    ----------
    rows : polars.DataFrame
        ``wall``, ``time_zone`` and the moment.
    at : str
        Column of the moment.

    Returns
    -------
    polars.DataFrame
        Without those whose text told its own shift from UTC, or that were read in another zone.
    """
    if rows.is_empty():
        return rows
    return (
        to_wall(rows, at, "time_zone", "read").filter(pl.col("read") == pl.col("wall")).drop("read")
    )


def changes_of(zones: pl.Series, since: object, until: object) -> pl.DataFrame:
    """Give the clock changes of zones in a stretch of time, columns of ``CHANGE``."""
    found = [
        transitions(str(zone), since, until).select(  # type: ignore[arg-type]  # datetimes
            time_zone="zone",
            at="at",
            step=(pl.col("after_s") - pl.col("before_s")) / 60,
            standard_s=pl.min_horizontal("before_s", "after_s"),
        )
        for zone in zones.drop_nulls().unique().sort()
    ]
    return conform(pl.concat(found), CHANGE) if found else pl.DataFrame(schema=CHANGE)


def _moves(days: pl.DataFrame, turns: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Measure by how much openings and closings move at each change, in parts of its size."""
    span = timedelta(days=settings.rule_days)
    near = (
        days.join(turns.select("time_zone", "turn", "step"), on="time_zone")
        .with_columns(gap=(pl.col("day") - pl.col("turn")).dt.total_days())
        .filter((pl.col("day") - pl.col("turn")).abs() <= span)
        .filter(pl.col("gap") != 0)
        .with_columns(after=pl.col("gap") > 0, weekday=pl.col("day").dt.weekday())
    )
    unit = [*KEY, "act", "turn", "step"]
    usual = (
        near.filter(~pl.col("after"))
        .group_by(*unit, "weekday")
        .agg(usual=pl.col("minute").median(), before=pl.len())
    )
    far = settings.rule_days / 2
    moved = near.join(usual, on=[*unit, "weekday"]).with_columns(
        move=(pl.col("minute") - pl.col("usual")) / -pl.col("step")
    )
    early, late = (
        ~pl.col("after") & (pl.col("gap") < -far),
        ~pl.col("after") & (pl.col("gap") >= -far),
    )
    soon, later = pl.col("after") & (pl.col("gap") <= far), pl.col("after") & (pl.col("gap") > far)
    return (
        moved.group_by(unit)
        .agg(
            move=pl.col("move").filter("after").median(),
            pairs=pl.col("after").sum(),
            spread=(pl.col("move").filter("after") - pl.col("move").filter("after").median())
            .abs()
            .median(),
            # Before and after, the routine itself stands still.
            still=pl.max_horizontal(
                (pl.col("move").filter(late).median() - pl.col("move").filter(early).median())
                .abs()
                .fill_null(0.0),
                (pl.col("move").filter(later).median() - pl.col("move").filter(soon).median())
                .abs()
                .fill_null(0.0),
            ),
            sides=pl.min_horizontal(early.sum(), late.sum(), soon.sum(), later.sum()),
        )
        .with_columns(
            good=(pl.col("pairs") >= settings.rule_pairs)
            & (pl.col("sides") >= 2)
            & (pl.col("still") <= settings.rule_near_min / HOUR_MIN)
            & (pl.col("spread") <= settings.rule_near_min / HOUR_MIN),
            near=pl.lit(settings.rule_near_min / HOUR_MIN),
        )
    )


def _decided(moves: pl.DataFrame) -> pl.DataFrame:
    """Decide site by site: every change must say the same, openings and closings alike."""
    close = pl.col("near")
    stays = pl.col("good") & (pl.col("move").abs() <= close)
    jumps = pl.col("good") & ((pl.col("move") - 1).abs() <= close)
    turned = moves.group_by(*KEY, "turn", "step").agg(
        ends=pl.len(),
        stays=stays.sum(),
        jumps=jumps.sum(),
        move=pl.col("move").filter("good").median(),
        tight=(jumps & ((pl.col("move") - 1).abs() <= close / 2)).sum(),
        pairs=pl.col("pairs").min(),
    )
    both = 2
    whole = turned.with_columns(
        follows=(pl.col("stays") >= 1) & (pl.col("jumps") == 0),
        not_follows=(pl.col("jumps") == both) & (pl.col("stays") == 0),
        sharp=(pl.col("tight") == both) & (pl.col("pairs") >= 12),
    )
    gathered = whole.group_by(KEY).agg(
        follows=pl.col("follows").sum(),
        not_follows=pl.col("not_follows").sum(),
        ways=pl.col("step").filter("not_follows").sign().n_unique(),
        sharp=(pl.col("sharp") & pl.col("not_follows")).any(),
        moved=pl.col("move").filter(pl.col("follows") | pl.col("not_follows")).median() * HOUR_MIN,
    )
    # One change alone may be a new timetable that began that very day.
    rule = (
        pl.when((pl.col("follows") > 0) & (pl.col("not_follows") == 0))
        .then(pl.lit(ClockRule.ZONE.value))
        .when((pl.col("follows") == 0) & (pl.col("ways") == both))
        .then(pl.lit(ClockRule.STANDARD.value))
        .when((pl.col("follows") == 0) & (pl.col("not_follows") == 1) & pl.col("sharp"))
        .then(pl.lit(ClockRule.STANDARD.value))
    )
    count = pl.when(rule == ClockRule.ZONE.value).then("follows").otherwise("not_follows")
    judged = gathered.select(
        *KEY, "moved", rule=rule, changes=count, basis=pl.lit("openings and closings")
    )
    return conform(judged, JUDGED).sort(KEY)
