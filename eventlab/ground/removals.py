"""What takes a single point out of its area's armed time: bypass, shutdown, its last trip."""

import polars as pl

from eventlab.ground.places import Places, spread
from eventlab.ground.words import State
from eventlab.schema import TRIPS, Kind, Phase
from eventlab.settings import Settings

COUNTED = tuple(k for k in TRIPS if k != Kind.TAMPER_ALARM)
"""Alarms that need an armed area; a tamper is an alarm at any time."""

REMOVED = ("point", "since", "until", "reason")


def limits(told: pl.DataFrame, points: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Find after how many trips of an armed period each point is out.

    Listed in the zone schedule; or seen, where many armed periods end at one number of trips and
    none above it; or possible, where no period ever shows a second trip, so that a limit of one
    cannot be ruled out.

    Parameters
    ----------
    told : polars.DataFrame
        Occurrences: ``point``, ``period``, ``kind``, ``phase``, ``state``.
    points : polars.DataFrame
        ``point``, ``listed_limit``.
    settings : Settings
        ``ceiling_max``, ``ceiling_periods``.

    Returns
    -------
    polars.DataFrame
        ``point``, ``trip_limit`` (Int64 or null), ``limit_basis`` (``listed``, ``seen``,
        ``possible`` or null).
    """
    counts = (
        _trips(told)
        .group_by("point", "period")
        .agg(trips=pl.len().cast(pl.Int64))
        .with_columns(most=pl.col("trips").max().over("point"))
        .group_by("point")
        .agg(
            pl.col("most").first(),
            at=(pl.col("trips") == pl.col("most")).sum(),
            below=(pl.col("trips") == pl.col("most") - 1).sum(),
        )
    )
    most = pl.col("most")
    piled = (
        (most >= 2)
        & (most <= settings.ceiling_max)
        & (pl.col("at") >= settings.ceiling_periods)
        & (pl.col("at") >= pl.col("below"))
    )
    seen = pl.when(piled | (most == 1)).then(most)
    return (
        points.select("point", "listed_limit")
        .join(counts, on="point", how="left")
        .select(
            "point",
            trip_limit=pl.coalesce("listed_limit", seen),
            limit_basis=pl.when(pl.col("listed_limit").is_not_null())
            .then(pl.lit("listed"))
            .when(piled)
            .then(pl.lit("seen"))
            .when(most == 1)
            .then(pl.lit("possible")),
        )
        .sort("point")
    )


def removals(
    told: pl.DataFrame,
    line: pl.DataFrame,
    limit: pl.DataFrame,
    tells_ends: pl.Series,
    last: pl.Series,
    known: Places,
) -> pl.DataFrame:
    """Lay out when each point could raise no alarm though its area was armed.

    A bypass lasts to its end; to the next disarm where the log never tells ends, or where the
    point is seen at work in an armed period before its end is told. A shutdown lasts to its end
    or the next disarm; a point is out from its last permitted trip to the end of the armed period.

    Parameters
    ----------
    told : polars.DataFrame
        Occurrences: ``n``, ``s``, ``placed``, ``kind``, ``phase``, ``area``, ``point``, ``k``,
        ``period``, ``state``.
    line : polars.DataFrame
        As ``state.timeline`` gives it.
    limit : polars.DataFrame
        As ``limits`` gives it.
    tells_ends : polars.Series
        By site number: whether bypass ends are recorded.
    last : polars.Series
        By site number: when the log ends.
    known : Places
        The places.

    Returns
    -------
    polars.DataFrame
        ``point``, ``since``, ``until``, ``reason``; may overlap.
    """
    kind, phase = pl.col("kind"), pl.col("phase")
    of_point = told.filter(
        kind.is_in([Kind.BYPASS, Kind.SHUTDOWN, Kind.ACTIVATION, *COUNTED])
        & pl.col("point").is_not_null()
    )
    disarms = told.filter(kind == Kind.DISARM).select("n", "s", "placed", "area")
    out = of_point.filter(kind.is_in([Kind.BYPASS, Kind.SHUTDOWN]))
    begun = out.filter(phase == Phase.BEGIN).select("n", "s", "placed", "kind", "point", "k")
    ended = out.filter(phase == Phase.END).select("n", "placed", "kind", "point")
    work = of_point.filter(
        kind.is_in([*COUNTED, Kind.ACTIVATION])
        & (phase == Phase.BEGIN)
        & (pl.col("state") == State.ARMED)
    ).select("n", "placed", "point")
    at_place = spread(disarms, known).select("n", "placed", "k")
    line_up = begun.with_columns(
        _next(begun, ended, ["point", "kind"], "end"),
        _next(begun, at_place, ["k"], "disarm_here"),
        _next(begun, disarms, ["s"], "disarm_any"),
        _next(begun, work, ["point"], "worked"),
        tells=tells_ends.gather(begun["s"]),
        last=last.gather(begun["s"]),
    ).with_columns(
        disarm=pl.when(pl.col("k").is_null()).then("disarm_any").otherwise("disarm_here")
    )
    lifted = ~pl.col("tells") | (
        pl.col("worked") < pl.coalesce("end", pl.col("worked") + pl.duration(days=1))
    ).fill_null(value=False)
    until = (
        pl.when(kind == Kind.SHUTDOWN)
        .then(pl.min_horizontal("end", "disarm"))
        .when(lifted)
        .then(pl.min_horizontal("end", "disarm"))
        .otherwise("end")
    )
    shut = line_up.select(
        "point",
        since="placed",
        until=pl.coalesce(until, "last"),
        reason=kind.cast(pl.String),
    )
    return pl.concat([shut, _tripped_out(told, line, limit)])


def at_risk(
    trips: pl.DataFrame,
    owned: pl.DataFrame,
    spans: pl.DataFrame,
    watched: pl.DataFrame,
    removed: pl.DataFrame,
) -> pl.DataFrame:
    """Find the trips that happened while their point was at risk.

    A tamper is at risk whenever the site is watched. An interval holds both its ends here: the
    last permitted trip is the end of one.

    Parameters
    ----------
    trips : polars.DataFrame
        ``n``, ``s``, ``placed``, ``point``, ``kind``.
    owned, spans : polars.DataFrame
        As ``exposure.bases`` gives them.
    watched : polars.DataFrame
        ``s``, ``since``, ``until``.
    removed : polars.DataFrame
        ``point``, ``since``, ``until``; apart.

    Returns
    -------
    polars.DataFrame
        ``n`` of the trips at risk.
    """
    tamper = pl.col("kind") == Kind.TAMPER_ALARM
    lids = _held(trips.filter(tamper), watched, "s")
    own = trips.filter(~tamper).join(owned.select("point", "base"), on="point")
    inside = _held(own, spans, "base")
    gone = removed.select("point", out="since", back="until").sort("out")
    free = (
        inside.sort("placed")
        .join_asof(
            gone,
            left_on="placed",
            right_on="out",
            by="point",
            allow_exact_matches=False,
            check_sortedness=False,
        )
        .filter((pl.col("placed") >= pl.col("back")).fill_null(value=True))
    )
    return pl.concat([lids.select("n"), free.select("n")])


def _held(rows: pl.DataFrame, spans: pl.DataFrame, by: str) -> pl.DataFrame:
    """Keep the rows that lie in an interval of their group."""
    return (
        rows.sort("placed")
        .join_asof(
            spans.select(by, start="since", stop="until").sort("start"),
            left_on="placed",
            right_on="start",
            by=by,
            check_sortedness=False,
        )
        .filter(pl.col("placed") <= pl.col("stop"))
        .drop("start", "stop")
    )


def _trips(told: pl.DataFrame) -> pl.DataFrame:
    return told.filter(
        pl.col("kind").is_in(list(COUNTED))
        & (pl.col("phase") == Phase.BEGIN)
        & (pl.col("state") == State.ARMED)
        & pl.col("point").is_not_null()
        & pl.col("period").is_not_null()
    )


def _tripped_out(told: pl.DataFrame, line: pl.DataFrame, limit: pl.DataFrame) -> pl.DataFrame:
    """Take each point out from its last permitted trip to the end of the armed period."""
    ends = line.filter(pl.col("extent") > 0).group_by("period").agg(pl.col("until").max())
    return (
        _trips(told)
        .select("n", "point", "period", since="placed")
        .join(limit.filter(pl.col("trip_limit").is_not_null()), on="point")
        .sort("n")
        .with_columns(rank=pl.int_range(1, pl.len() + 1, dtype=pl.Int64).over("point", "period"))
        .filter(pl.col("rank") == pl.col("trip_limit"))
        .join(ends, on="period")
        .select("point", "since", "until", reason=pl.lit("trip-limit"))
    )


def _next(rows: pl.DataFrame, later: pl.DataFrame, by: list[str], name: str) -> pl.Series:
    """Find when the next of some rows comes after each row."""
    left = rows.select("n", *by).with_row_index("at").sort("n")
    hit = left.join_asof(
        later.select("n", *by, found="placed").sort("n"),
        on="n",
        by=by,
        strategy="forward",
        allow_exact_matches=False,
        check_sortedness=False,
    )
    return hit.sort("at")["found"].alias(name)
