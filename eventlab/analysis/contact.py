"""How points behave while armed: what counts as a trip, and the shortest spacing they show."""

import polars as pl

from eventlab.analysis.found import seconds
from eventlab.analysis.kept import kept
from eventlab.context import Context
from eventlab.ground import Arming, Ground, Power, Restores, State
from eventlab.schema import Kind, Phase
from eventlab.settings import Settings
from eventlab.stats import rate_ratio, spacing_floor

POINT = ("site", "zone", "within")
ALARMS = (Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM)
ALARM = "alarm"
_RESTORED = 0.3
"""Share of alarms with a restore: with memory of each, half of them are left."""
_KINDS = (*ALARMS, Kind.TAMPER_ALARM, Kind.ACTIVATION)


def trips(ground: Ground) -> pl.DataFrame:
    """Return what counts for chatter: alarms, and activations of armed time.

    Left out are life-safety points, time set aside, and what a panel without disarms in its log
    may have written again.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.

    Returns
    -------
    polars.DataFrame
        A row per trip, by point, family and time: ``site``, ``zone``, ``within``, ``area``,
        ``at``, ``local``, ``night``, ``grain``, ``family`` (``alarm`` or the kind),
        ``occurrence``.
    """
    kind = pl.col("kind")
    armed = (kind != Kind.ACTIVATION) | (pl.col("state") == State.ARMED)
    counted = (
        kind.is_in(list(_KINDS))
        & (pl.col("phase") == Phase.BEGIN)
        & pl.col("zone").is_not_null()
        & pl.col("at").is_not_null()
        & ~pl.col("aside")
        & ~pl.col("life_safety")
    )
    return (
        _restored(ground, counted & armed)
        .select(
            *POINT,
            "area",
            "at",
            "local",
            "night",
            pl.col("grain").fill_null(1),
            "occurrence",
            family=pl.when(kind.is_in(list(ALARMS)))
            .then(pl.lit(ALARM))
            .otherwise(kind.cast(pl.String)),
        )
        .sort(*POINT, "family", "at", nulls_last=True)
    )


def _restored(ground: Ground, counted: pl.Expr) -> pl.DataFrame:
    """Keep what counts, less alarms told again before they restored, where no disarm is told.

    Where disarms are recorded the ground knows what a panel writes again after one.
    """
    followed = with_power(ground, Power.ARMING, Arming.ALL)
    again = held(ground, beside=followed)
    return (
        ground.occurrences.lazy()
        .filter(counted)
        .select(*POINT, "area", "at", "local", "night", "grain", "occurrence", "kind")
        .join(again.lazy(), on=["site", "occurrence"], how="anti", maintain_order="left")
        .collect()
    )


@kept
def held(ground: Ground, *, beside: pl.DataFrame | None = None) -> pl.DataFrame:
    """Find alarms told again of points that had not restored: no new trips.

    Only where restores are told as they happen, and of points most of whose alarms have one.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    beside : polars.DataFrame, optional
        ``site``: sites that are not looked at.

    Returns
    -------
    polars.DataFrame
        ``site``, ``occurrence``.
    """
    live = with_power(ground, Power.RESTORES, Restores.LIVE)
    if beside is not None:
        live = live.join(beside, on="site", how="anti")
    point = ["site", "zone", "within", "kind"]
    begins = pl.col("phase") == Phase.BEGIN
    after = pl.col("phase").shift(1).over(point)
    rows = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in(list(ALARMS)) & pl.col("zone").is_not_null())
        .select(*point, "phase", "occurrence")
        .join(live.lazy(), on="site", how="semi", maintain_order="left")
        .collect()
    )
    told = (pl.col("phase") == Phase.END).sum().over(point) / begins.sum().over(point)
    again = begins & (after == Phase.BEGIN) & (told >= _RESTORED)
    return rows.filter(again).select("site", "occurrence")


@kept
def with_power(ground: Ground, power: Power, value: str) -> pl.DataFrame:
    """Name the sites one of whose logs has a power.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    power : Power
        Which power.
    value : str
        What it must be.

    Returns
    -------
    polars.DataFrame
        ``site``.
    """
    told = ground.powers.filter((pl.col("power") == power) & (pl.col("value") == value))
    return told.select("site").unique()


def floors(
    trips: pl.DataFrame, ground: Ground, context: Context, settings: Settings
) -> pl.DataFrame:
    """Give the shortest spacing that each point can show, where it is known.

    Listed in the zone schedule; or the low end of the point's own spacings, where enough of them
    pile up just above an empty stretch. A detector that sleeps after each trip never shows three
    in a minute, however bad it is.

    Parameters
    ----------
    trips : polars.DataFrame
        As `trips` gives them.
    ground : Ground
        What every analysis stands on.
    context : Context
        ``hold_off_s`` of the zone schedule.
    settings : Settings
        ``floor_max_s`` [s], ``floor_min``.

    Returns
    -------
    polars.DataFrame
        ``site``, ``zone``, ``within``, ``floor_s``, ``floor_high_s`` (up to where spacings pile
        up) [s], ``floor_basis`` (``listed`` or ``seen``), ``piled``.
    """
    alarms = trips.filter(pl.col("family") == ALARM).join(
        held(ground), on=["site", "occurrence"], how="anti", maintain_order="left"
    )
    gaps = (
        alarms.with_columns(gap=seconds(pl.col("at") - pl.col("at").shift(1).over(POINT)))
        .filter(pl.col("gap").is_between(0, settings.floor_max_s * 1.5, closed="right"))
        .with_columns(series=pl.struct(POINT).rank("dense").cast(pl.Int64))
    )
    got = spacing_floor(
        gaps["gap"].to_numpy(),
        gaps["series"].to_numpy(),
        step=gaps["grain"].to_numpy(),
        least=int(settings.floor_min),
    )
    seen = (
        gaps.select(*POINT, "series")
        .unique()
        .join(
            pl.DataFrame(
                {
                    "series": got.group,
                    "floor_s": got.floor,
                    "floor_high_s": got.highest,
                    "piled": got.piled,
                },
                schema_overrides={"series": pl.Int64},
            ).filter(pl.col("floor_s").is_finite() & (pl.col("floor_s") <= settings.floor_max_s)),
            on="series",
        )
    )
    listed = (
        context.zones.filter(pl.col("hold_off_s") > 0)
        .unique(["site", "zone"], keep="last")
        .select("site", "zone", listed="hold_off_s")
    )
    points = alarms.group_by(POINT).agg(pl.col("grain").max())
    return (
        points.join(listed, on=["site", "zone"], how="left")
        .join(seen, on=list(POINT), how="left", nulls_equal=True)
        .select(
            *POINT,
            floor_s=pl.coalesce("listed", "floor_s"),
            floor_high_s=pl.when(pl.col("listed").is_not_null())
            .then(pl.max_horizontal(pl.col("listed") * 1.2, pl.col("listed") + pl.col("grain")))
            .otherwise("floor_high_s"),
            floor_basis=pl.when(pl.col("listed").is_not_null())
            .then(pl.lit("listed"))
            .otherwise(pl.lit("seen")),
            piled=pl.col("piled").fill_null(0),
        )
        .filter(pl.col("floor_s").is_not_null())
    )


def rates(ground: Ground, trips: pl.DataFrame) -> pl.DataFrame:
    """Give each point its alarms per hour at risk, and its nights against the other points'.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    trips : polars.DataFrame
        The points wanted.

    Returns
    -------
    polars.DataFrame
        ``site``, ``zone``, ``within``, ``alarms``, ``at_risk_h``, ``basis``, ``ratio``,
        ``ratio_low``, ``ratio_high``, ``rate`` [per h].
    """
    risk = (
        ground.exposure.select(*POINT, "basis", at_risk_h="hours", periods="periods")
        .join(_counts(ground), on=POINT, how="left", nulls_equal=True)
        .with_columns(pl.col("alarms", "bad").fill_null(0))
        .with_columns(pl.min_horizontal("bad", "periods").alias("bad"))
    )
    rest = risk.with_columns(
        other_bad=pl.col("bad").sum().over("site") - pl.col("bad"),
        other_periods=pl.col("periods").sum().over("site") - pl.col("periods"),
    ).join(trips.select(POINT).unique(), on=POINT, how="semi", nulls_equal=True)
    got = rate_ratio(
        rest["bad"].to_numpy(),
        rest["periods"].to_numpy(),
        rest["other_bad"].to_numpy(),
        rest["other_periods"].to_numpy(),
    )
    finite = pl.col("ratio", "ratio_low", "ratio_high")
    return rest.with_columns(
        ratio=pl.Series(got.ratio),
        ratio_low=pl.Series(got.low),
        ratio_high=pl.Series(got.high),
    ).select(
        *POINT,
        "alarms",
        "at_risk_h",
        pl.col("basis").cast(pl.String),
        pl.when(finite.is_finite()).then(finite),
        rate=pl.when(pl.col("at_risk_h") > 0).then(pl.col("alarms") / pl.col("at_risk_h")),
    )


@kept
def _counts(ground: Ground) -> pl.DataFrame:
    """Count the alarms at risk of each point, and the nights with one."""
    return (
        ground.occurrences.lazy()
        .filter(pl.col("trip") & pl.col("at_risk"))
        .group_by(POINT)
        .agg(alarms=pl.len().cast(pl.Int64), bad=pl.col("night").n_unique().cast(pl.Int64))
        .collect()
    )
