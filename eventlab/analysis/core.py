"""The alarms that a real intrusion could be made of, and what takes an alarm out of them."""

import polars as pl

from eventlab.analysis.found import asof, days, seconds
from eventlab.analysis.kept import kept
from eventlab.ground import Ground, Reason, State, intervals
from eventlab.schema import Kind, Mode, Phase, Timing, Use
from eventlab.settings import Settings

POINT = ("site", "zone", "within")
_ALARMS = (Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM)
_WORK = (Reason.ON_TEST, Reason.WALK_TEST, Reason.ON_SITE_WORK)
_NOT_PEOPLE = (Mode.TIMED, Mode.REMOTE)
_OUTER = r"door|window|shutter|gate|hatch|roof.?light|skylight|contact|reed"


@kept
def trips(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the intrusion alarms that nothing ordinary accounts for.

    Left out are life-safety points, what was raised during tests and service, while the area
    reads unarmed (where arming can be relied on), and what somebody disarmed so soon that it was
    an entry or an exit. Doubtful times stay: row order places them.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``entry_overrun_s``, ``exit_unsettled_s``, ``exit_again_s``, ``episode_gap_s``,
        ``warm_up_s`` [s], ``test_left_h`` [h].

    Returns
    -------
    polars.DataFrame
        Sorted by site and time: ``site``, ``occurrence``, ``at``, ``local``, ``night``, ``area``,
        ``zone``, ``within``, ``point`` (text, null where the log names none), ``use``, ``name``,
        ``outer`` (a door, window or other opening of the outer skin), ``outside`` (a detector
        outside the premises), ``warm`` (a detector that warms up after a restart),
        ``witnesses``, ``disarmed_at``, ``timing``, ``grain``.
    """
    rows = (
        ground.occurrences.lazy()
        .filter(
            pl.col("kind").is_in(list(_ALARMS))
            & (pl.col("phase") == Phase.BEGIN)
            & ~pl.col("life_safety")
        )
        .select(
            *("site", "occurrence", "placed", "local", "night", "area", "zone", "within"),
            *("witnesses", "timing", "grain", "state", "source", "row"),
        )
        .collect()
    )
    rows = judged(rows, ground, settings).filter(~pl.col("service"))
    rows = _leaving(_disarmed(rows, ground, settings), ground, settings)
    rows = rows.filter(~pl.col("excused") & ~pl.col("leaving"))
    rows = rows.join(uses(ground), on=list(POINT), how="left", nulls_equal=True)
    rows = rows.drop("known")
    return (
        _warming(rows, ground, settings)
        .with_columns(
            point=pl.concat_str("zone", pl.lit(" in "), "within").fill_null(pl.col("zone")),
            outer=pl.col("outer").fill_null(value=False),
            outside=(pl.col("use") == Use.OUTDOOR).fill_null(value=False),
        )
        .select(
            *("site", "occurrence", "at", "local", "night", "area", "zone", "within", "point"),
            *("use", "name", "outer", "outside", "warm", "witnesses", "disarmed_at", "timing"),
            pl.col("grain").fill_null(1),
        )
        .sort("site", "at", "occurrence")
    )


@kept
def awake(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the rows of `trips` but those of detectors that warm up after a restart.

    Parameters
    ----------
    ground, settings
        As for `trips`.

    Returns
    -------
    polars.DataFrame
        Columns of `trips`.
    """
    return trips(ground, settings).filter(~pl.col("warm"))


def judged(rows: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Say of rows whether they belong to service work, and drop those of unarmed time.

    A test that was left on is service work for its first hours only; a visit that was only
    inferred is none while the area was armed.

    Parameters
    ----------
    rows : polars.DataFrame
        Occurrences.
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``test_left_h`` [h].

    Returns
    -------
    polars.DataFrame
        The rows with ``at`` (never null: the best place in time) and ``service``.
    """
    unsure = ground.sites.filter(~pl.col("arming_reliable").fill_null(value=True)).select(
        "site", unsure=pl.lit(value=True)
    )
    rows = (
        rows.with_columns(at="placed")
        .join(unsure, on="site", how="left")
        .filter((pl.col("state") != State.UNARMED) | pl.col("unsure").fill_null(value=False))
        .drop("unsure")
    )
    work, visits = _service(ground, settings)
    on = _inside(rows, work)
    visited = _inside(rows, visits) & (rows["state"] != State.ARMED)
    return rows.with_columns(service=on | visited)


_Spans = dict[tuple[str, ...], pl.DataFrame]


@kept
def _service(ground: Ground, settings: Settings) -> tuple[_Spans, _Spans]:
    """Return the times of work and of inferred visits, those of sites and those of areas."""
    longest = pl.col("since") + days(settings.test_left_h / 24)
    work = ground.aside.filter(pl.col("reason").is_in(list(_WORK))).with_columns(
        until=pl.min_horizontal("until", longest)
    )
    visits = ground.aside.filter(pl.col("reason") == Reason.VISIT)
    return _united(work), _united(visits)


def _united(spans: pl.DataFrame) -> _Spans:
    whole = pl.col("area").is_null()
    parts = {("site",): spans.filter(whole), ("site", "area"): spans.filter(~whole)}
    return {by: intervals.unite(part, by) for by, part in parts.items() if part.height}


def _inside(rows: pl.DataFrame, spans: _Spans) -> pl.Series:
    """Tell which rows lie in a span of their site, or of their area."""
    inside = pl.repeat(value=False, n=rows.height, eager=True)
    for by, united in spans.items():
        joined = asof(rows.select("at", *by), united, "at", "since", by=by)
        hit = joined.select((pl.col("at") <= pl.col("until")).fill_null(value=False))
        inside |= hit.to_series()
    return inside


def _disarmed(rows: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Find the next disarm of each row's area, and excuse runs that one followed at once."""
    disarms = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.DISARM)
        .select("site", "area", "mode", disarmed="placed")
        .collect()
    )
    by_area = disarms.filter(pl.col("area").is_not_null())
    by_site = disarms.filter(pl.col("area").is_null())
    own = asof(rows, by_area, "at", "disarmed", by=["site", "area"], strategy="forward")
    whole = asof(rows, by_site, "at", "disarmed", strategy="forward")
    anyone = asof(rows, disarms, "at", "disarmed", strategy="forward")
    first = (whole["disarmed"] < own["disarmed"]).fill_null(value=True) & whole[
        "disarmed"
    ].is_not_null()
    pick = pl.select(
        at=pl.when(rows["area"].is_null())
        .then(anyone["disarmed"])
        .when(first)
        .then(whole["disarmed"])
        .otherwise(own["disarmed"]),
        mode=pl.when(rows["area"].is_null())
        .then(anyone["mode"])
        .when(first)
        .then(whole["mode"])
        .otherwise(own["mode"]),
    )
    told = rows.with_columns(disarmed_at=pick["at"], disarm_mode=pick["mode"]).sort(
        "site", "area", "at", "occurrence"
    )
    gap = seconds(pl.col("at") - pl.col("at").shift(1).over("site", "area"))
    same = (
        (gap <= settings.episode_gap_s)
        & pl.col("disarmed_at").eq_missing(pl.col("disarmed_at").shift(1).over("site", "area"))
    ).fill_null(value=False)
    told = told.with_columns(run=(~same).cum_sum())
    after = seconds(pl.col("disarmed_at") - pl.col("at").min().over("run"))
    person = ~pl.col("disarm_mode").is_in(list(_NOT_PEOPLE)).fill_null(value=False)
    return told.with_columns(
        excused=((after <= settings.entry_overrun_s) & person).fill_null(value=False)
    ).drop("run", "disarm_mode")


def _leaving(rows: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Mark alarms just after arming that somebody came back to."""
    acts = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.ARM)
        .select("site", place=pl.col("area").fill_null(""), again="placed")
        .collect()
    )
    arms = acts.select("site", armed="again")
    near = asof(rows, arms, "at", "armed").with_columns(place=pl.col("area").fill_null(""))
    near = asof(near, acts, "at", "again", by=["site", "place"], strategy="forward", strict=True)
    fresh = seconds(pl.col("at") - pl.col("armed")) <= settings.exit_unsettled_s
    back = seconds(pl.min_horizontal("disarmed_at", "again") - pl.col("at"))
    return near.with_columns(
        leaving=(fresh & (back <= settings.exit_again_s)).fill_null(value=False)
    ).drop("armed", "place", "again")


def uses(ground: Ground) -> pl.DataFrame:
    """Say of each point what it is for, and whether it is an opening of the outer skin.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.

    Returns
    -------
    polars.DataFrame
        ``site, zone, within, use, name, outer``, ``known`` (anything tells what it is).
    """
    words = pl.concat_str(["name", "detector"], separator=" ", ignore_nulls=True)
    listed = pl.col("use").is_in([Use.PERIMETER, Use.ENTRY]) | pl.col("entry_route")
    read = pl.col("use").is_null() & words.str.to_lowercase().str.contains(_OUTER)
    return (
        ground.points.filter(pl.col("zone").is_not_null())
        .select(
            *POINT,
            "use",
            "name",
            outer=listed.fill_null(value=False) | read.fill_null(value=False),
            known=pl.col("use").is_not_null() | words.str.strip_chars().str.len_chars().gt(0),
        )
        .with_columns(pl.col("known").fill_null(value=False))
    )


def _warming(rows: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Mark alarms within the warm-up after a restart, by the panel's own clock where it was lost.

    Rows after a reset clock stand close together by order; their wall times still tell how long
    after the restart each came.
    """
    key = ["site", "source", "row"]
    begun = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.SYSTEM_RESTART)
        .select(*key, "placed", "timing")
        .collect()
    )
    if begun.is_empty():
        return rows.with_columns(warm=pl.lit(value=False))
    doubtful = [frame.filter(pl.col("timing") == Timing.DOUBTFUL).select(key)
                for frame in (begun, rows)]  # fmt: skip
    walls = (
        ground.events.lazy()
        .select(*key, "wall")
        .filter(pl.col("row").is_in(pl.concat(doubtful)["row"].implode()))
        .unique(["source", "row"])
        .collect()
    )
    restarts = begun.join(walls, on=key, how="left").select(
        "site", restarted="placed", began="wall", file="source", how="timing"
    )
    near = asof(rows, restarts, "at", "restarted")
    near = near.join(walls, on=["site", "source", "row"], how="left", maintain_order="left")
    lost = (
        (pl.col("timing") == Timing.DOUBTFUL)
        & (pl.col("how") == Timing.DOUBTFUL)
        & (pl.col("file") == pl.col("source"))
    )
    by_wall = seconds(pl.col("wall") - pl.col("began"))
    by_place = seconds(pl.col("at") - pl.col("restarted"))
    after = pl.when(lost & (by_wall >= 0)).then(by_wall).otherwise(by_place)
    return near.with_columns(warm=(after <= settings.warm_up_s).fill_null(value=False)).drop(
        "restarted", "began", "file", "how", "wall"
    )
