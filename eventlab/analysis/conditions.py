"""Conditions that stand: from the row that tells their begin to what ends them."""

from collections.abc import Sequence

import polars as pl

from eventlab.analysis.found import asof, ends, hours, number, seconds
from eventlab.analysis.kept import kept
from eventlab.ground import Ground, Power, Told
from eventlab.schema import Kind, Phase
from eventlab.settings import Settings

_KEY = ("site", "kind", "zone", "within")
_WHOLE = (
    Kind.ON_TEST,
    Kind.WALK_TEST,
    Kind.ON_SITE_WORK,
    Kind.MAINS_LOSS,
    Kind.COMMS_FAIL,
)
"""While these stand a whole site may be unprotected."""
_STANDING = frozenset(
    (
        *_WHOLE,
        *(Kind.SYSTEM_BATTERY_LOW, Kind.SYSTEM_FAULT, Kind.SIREN_FAULT, Kind.MODULE_FAULT),
        *(Kind.RADIO_JAM, Kind.SENSOR_FAULT, Kind.MASKING, Kind.SUPERVISION_LOSS),
        *(Kind.DEVICE_BATTERY_LOW, Kind.TAMPER, Kind.TAMPER_ALARM),
    )
)
"""Conditions: what begins, stands for a while and ends."""


def spells(
    ground: Ground,
    kinds: Sequence[Kind],
    settings: Settings,
    *,
    restart_closes: bool = True,
    signs: pl.DataFrame | None = None,
    within: str = "within",
) -> pl.DataFrame:
    """Pair begins and ends of conditions, per site, kind and point.

    A condition told again while it stands is one; an end without a begin is none. A restart
    closes every condition that is not told again within ``restart_closes_s``. Where a log tells
    no ends of anything, how long a condition stood is not known and nothing stands at its end;
    where that shows by alarms alone, which may have no ends though conditions do, what leaves a
    whole site or a life-safety point unprotected is told all the same. Nor is it known where a
    restart closes it beyond a gap of the log: it may have ended in the gap.

    Parameters
    ----------
    ground : Ground
        What stands under every analysis.
    kinds : sequence of Kind
        Kinds that begin and end.
    settings : Settings
        ``restart_closes_s`` [s], ``ends_untold_min``.
    restart_closes : bool, default True
        False for what a restart of the panel does not end, such as a test with the centre.
    signs : polars.DataFrame, optional
        ``site``, ``kind``, ``zone``, ``within``, ``placed``, ``local``, ``act``: ``heard`` where
        something shows it to be over though no end is told (what speaks is not lost): it is taken
        to have ended by then, and how long it lasted is not known; ``begin`` where it is told
        again after that, which is no repeat then.
    within : str, optional
        Which column of occurrences tells a condition apart from others of its kind and zone, as
        ``within`` does of points.

    Returns
    -------
    polars.DataFrame
        Sorted by site and begin: ``site``, ``kind``, ``zone``, ``within``, ``area``, ``since``,
        ``until`` (the end of the log where it still stands), ``local``, ``local_until`` (wall
        times of both; null where it still stands), ``ended_by`` (``end``, ``restart``, ``heard``
        by a sign, ``untold``, null where it still stands), ``told`` (rows that tell it),
        ``aside`` (it began in time set aside), ``life_safety``, ``hours`` (null where untold or
        ``heard``), ``open``, ``ends_told`` (this log tells ends at all).
    """
    whole = restart_closes and signs is None and within == "within"
    if whole and _STANDING.issuperset(kinds):
        told = _standing(ground, settings)
        return told.filter(pl.col("kind").is_in(list(kinds)))
    return _paired(
        ground, kinds, settings, restart_closes=restart_closes, signs=signs, within=within
    )


@kept
def _standing(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Return the spells of all conditions: each is asked for by several analyses."""
    return _paired(ground, list(_STANDING), settings, restart_closes=True)


def _paired(
    ground: Ground,
    kinds: Sequence[Kind],
    settings: Settings,
    *,
    restart_closes: bool,
    signs: pl.DataFrame | None = None,
    within: str = "within",
) -> pl.DataFrame:
    rows = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in(list(kinds)) & pl.col("phase").is_in([Phase.BEGIN, Phase.END]))
        .select(
            *("site", "kind", "zone", pl.col(within).alias("within"), "area"),
            *("placed", "local", "aside", "life_safety", "rows"),
            act=pl.col("phase").cast(pl.String),
        )
        .collect()
    )
    if restart_closes:
        rows = pl.concat([rows, _restarts(ground, rows, settings)], how="diagonal")
    if signs is not None:
        rows = pl.concat([rows, signs.cast({"kind": rows.schema["kind"]})], how="diagonal")
    begin = pl.col("act") == Phase.BEGIN
    rows = rows.sort(*_KEY, "placed", maintain_order=True, nulls_last=True).with_columns(
        first=begin & (pl.col("act").shift(1).over(_KEY).fill_null(Phase.END) != Phase.BEGIN)
    )
    after = ~begin
    paired = (
        rows.with_columns(spell=pl.col("first").cum_sum().over(_KEY))
        .filter(pl.col("spell") > 0)
        .group_by(*_KEY, "spell", maintain_order=True)
        .agg(
            pl.col("area").drop_nulls().first(),
            since=pl.col("placed").first(),
            until=pl.col("placed").filter(after).first(),
            local=pl.col("local").first(),
            local_until=pl.col("local").filter(after).first(),
            ended_by=pl.col("act").filter(after).first(),
            told=pl.col("rows").filter(begin).sum().cast(pl.Int64),
            aside=pl.col("aside").first(),
            life_safety=pl.col("life_safety").first().fill_null(value=False),
        )
    )
    paired = paired.join(_ends(ground, settings), on="site", how="left", maintain_order="left")
    whole = pl.col("kind").is_in(list(_WHOLE)) | pl.col("life_safety")
    closed = pl.col("until").is_not_null()
    # A restart says no more than when it was over at the latest.
    late = ~closed | (pl.col("ended_by") == "restart")
    mute = (pl.col("untold") & ~closed) | (pl.col("mute") & ~whole & late)
    paired = paired.with_columns(untold=mute.fill_null(value=False) | _across(paired, ground))
    stands = pl.max_horizontal("end", "since")
    return (
        paired.join(ends(ground), on="site", how="left")
        .with_columns(
            open=pl.col("until").is_null() & ~pl.col("untold"),
            until=pl.coalesce("until", pl.when("untold").then("since").otherwise(stands)),
            ended_by=pl.when("untold").then(pl.lit("untold")).otherwise("ended_by"),
        )
        .with_columns(
            hours=pl.when(~pl.col("untold") & pl.col("ended_by").ne_missing("heard")).then(
                hours(pl.col("until") - pl.col("since"))
            )
        )
        .drop("spell", "end", "untold", "mute")
        .sort("site", "since", "kind", "zone", "within", nulls_last=True)
    )


@kept
def _ends(ground: Ground, settings: Settings) -> pl.DataFrame:
    """Say of each site whether its logs tell ends at all, and whether they surely tell none.

    ``untold``: conditions began on several days, and none ended; ``mute``: no end stands in the
    log, of alarms nor of anything else.
    """
    told = ground.powers.filter(pl.col("power") == Power.ENDS)
    no, yes = (pl.col("value") == Told.NO).any(), (pl.col("value") == Told.YES).any()
    begun = (
        ground.occurrences.lazy()
        .filter(pl.col("phase") == Phase.BEGIN)
        .group_by("site")
        .agg(begun=pl.len())
        .collect()
    )
    many = (pl.col("begun") >= settings.ends_untold_min).fill_null(value=False)
    return (
        told.group_by("site")
        .agg(untold=no & ~yes, ends_told=yes)
        .join(begun, on="site", how="left")
        .with_columns(mute=~pl.col("ends_told") & (many | pl.col("untold")))
        .drop("begun")
    )


def _across(paired: pl.DataFrame, ground: Ground) -> pl.Series:
    """Say which spells are closed by a restart that stands beyond a gap of the log."""
    cover = ground.coverage.select("site", start="since", stop="until")
    hit = asof(paired.select("site", "since", "until", "ended_by"), cover, "since", "start")
    beyond = (pl.col("ended_by") == "restart") & (pl.col("stop") < pl.col("until"))
    return hit.select(beyond.fill_null(value=False)).to_series()


def lasted(shown: str | pl.Expr) -> pl.Expr:
    """Say for a line of evidence how long a spell lasted; ``shown`` where it still stands."""
    return (
        pl.when(pl.col("open"))
        .then(pl.lit(shown) if isinstance(shown, str) else shown)
        .when(pl.col("hours").is_null())
        .then(pl.lit("its end is not told"))
        .otherwise(number(pl.col("hours"), 1) + " h")
    )


def _restarts(ground: Ground, rows: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Give each series the restarts that close it: those after which it is not told again.

    The rows themselves are asked, since what repeats a standing condition is no occurrence.
    """
    series = pl.struct(pl.col("kind").cast(pl.String), pl.col("zone")).hash().alias("series")
    again = (
        ground.events.lazy()
        .filter(
            pl.col("kind").is_in(rows["kind"].unique().to_list()) & (pl.col("phase") == Phase.BEGIN)
        )
        .select("site", series, told="placed")
        .collect()
    )
    moments = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.SYSTEM_RESTART)
        .select("site", "placed", "local")
        .collect()
    )
    closing = rows.select(_KEY).unique().join(moments, on="site").with_columns(series)
    near = asof(closing, again, "placed", "told", by=["site", "series"], strategy="forward")
    later = seconds(pl.col("told") - pl.col("placed")) > settings.restart_closes_s
    return near.filter(later.fill_null(value=True)).select(
        *_KEY, "placed", "local", act=pl.lit("restart")
    )


def most_within(frame: pl.DataFrame, by: Sequence[str], span_s: float, at: str = "at") -> pl.Series:
    """Count, from each row on, the rows of the same group within a span.

    Parameters
    ----------
    frame : polars.DataFrame
        The group's columns and a time.
    by : sequence of str
        Columns that make a group.
    span_s : float
        Length of the window, its end included [s].
    at : str
        Column of the time.

    Returns
    -------
    polars.Series
        Int64, one per row.
    """
    from eventlab.stats import count_within

    if frame.is_empty():
        return pl.Series("most", [], dtype=pl.Int64)
    group = frame.select(pl.struct(by).rank("dense")).to_series()
    moments = frame[at].dt.epoch("ms")
    return pl.Series("most", count_within(moments.to_numpy(), int(span_s * 1000), group.to_numpy()))
