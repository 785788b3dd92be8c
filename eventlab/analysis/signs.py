"""Signs that belong to no alarm of their own: tamper, path, power, devices lost while armed."""

import polars as pl

from eventlab.analysis.conditions import spells
from eventlab.analysis.core import judged
from eventlab.analysis.found import asof, seconds
from eventlab.analysis.kept import kept
from eventlab.context import Context, great_circle_km
from eventlab.ground import Ground, State
from eventlab.schema import Kind, Phase
from eventlab.settings import Settings

TAMPER, PATH, POWER, DEVICE = "tamper", "path", "power", "device"
GROUPS = (TAMPER, PATH, POWER, DEVICE)
_GROUP = {
    Kind.TAMPER: TAMPER,
    Kind.TAMPER_ALARM: TAMPER,
    Kind.MASKING: TAMPER,
    Kind.COMMS_FAIL: PATH,
    Kind.RADIO_JAM: PATH,
    Kind.MAINS_LOSS: POWER,
    Kind.SYSTEM_RESTART: POWER,
    Kind.SUPERVISION_LOSS: DEVICE,
    Kind.MODULE_FAULT: DEVICE,
    Kind.SIREN_FAULT: DEVICE,
}


@kept
def signs(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Return the signs that nothing else explains.

    Left out are those of service work and of a system that starts, paths lost only for moments,
    kinds that the site shows on more than ``sign_usual`` of its nights, and mains lost at other
    sites near by in the same hour.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Where the sites stand.
    settings : Settings
        ``sign_usual``, ``path_silent_min_s`` [s], ``elsewhere_km``.

    Returns
    -------
    polars.DataFrame
        ``site``, ``group`` (``tamper``, ``path``, ``power``, ``device``), ``kind``, ``sign_at``,
        ``sign_local``, ``sign_night``, ``sign_area``, ``sign_zone``, ``armed`` (some area of it
        was).
    """
    begun = pl.col("phase") != Phase.END
    rows = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in(list(_GROUP)) & begun & ~pl.col("life_safety"))
        .select(
            *("site", "occurrence", "kind", "placed", "local", "night", "area", "zone"),
            *("state", "aside"),
        )
        .collect()
    )
    armed = judged(rows, ground, settings).filter(~pl.col("service"))
    quiet = rows.filter((pl.col("state") == State.UNARMED) & ~pl.col("aside"))
    both = pl.concat(
        [
            armed.select(rows.columns).with_columns(armed=pl.lit(value=True)),
            quiet.join(armed, on=["site", "occurrence"], how="anti").with_columns(
                armed=pl.lit(value=False)
            ),
        ]
    )
    told = both.select(
        "site",
        "kind",
        "armed",
        group=pl.col("kind")
        .cast(pl.String)
        .replace_strict({str(k): v for k, v in _GROUP.items()}, return_dtype=pl.String),
        sign_at="placed",
        sign_local="local",
        sign_night="night",
        sign_area="area",
        sign_zone="zone",
    )
    told = _of_restarts(_lasting_paths(told, ground, settings), ground, settings)
    told = told.filter(~_usual(told, ground, settings))
    return _elsewhere(told, rows, context, settings).sort("site", "sign_at")


def usual_share(rows: pl.DataFrame, night: str, by: list[str], ground: Ground) -> pl.Series:
    """Give each row the share of its site's covered nights on which such a row stands.

    Parameters
    ----------
    rows : polars.DataFrame
        Rows with a site, a night and the columns of ``by``.
    night : str
        Column of the night.
    by : list of str
        What makes rows alike, the site among it.
    ground : Ground
        How long the site is covered.

    Returns
    -------
    polars.Series
        Between 0 and 1; 0 where fewer than three nights show it.
    """
    nights = ground.sites.select("site", nights=(pl.col("covered_hours") / 24).ceil().clip(1))
    shown = pl.col(night).n_unique().over(by)
    return (
        rows.join(nights, on="site", how="left", maintain_order="left")
        .select(
            pl.when(shown >= 3)
            .then((shown / pl.col("nights")).clip(0, 1))
            .otherwise(0.0)
            .alias("share")
        )
        .to_series()
    )


def _usual(told: pl.DataFrame, ground: Ground, settings: Settings) -> pl.Series:
    return usual_share(told, "sign_night", ["site", "kind", "sign_zone"], ground) > (
        settings.sign_usual
    )


def _lasting_paths(told: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Leave out paths that came back within moments."""
    lost = spells(ground, [Kind.COMMS_FAIL], settings)
    brief = lost.filter(
        ~pl.col("open") & (pl.col("hours") * 3600 < settings.path_silent_min_s)
    ).select("site", "kind", sign_at="since", sign_zone="zone")
    return told.join(
        brief, on=["site", "kind", "sign_at", "sign_zone"], how="anti", nulls_equal=True
    )


def _of_restarts(told: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Leave out what a system tells while it starts; the restart itself stays."""
    restarts = (
        ground.occurrences.lazy()
        .filter(pl.col("kind") == Kind.SYSTEM_RESTART)
        .select("site", restarted="placed")
        .collect()
    )
    near = asof(told, restarts, "sign_at", "restarted")
    after = seconds(pl.col("sign_at") - pl.col("restarted"))
    start = (after <= settings.restart_quiet_s) & (pl.col("kind") != Kind.SYSTEM_RESTART)
    return near.filter(~start.fill_null(value=False)).drop("restarted")


def _elsewhere(
    told: pl.DataFrame, rows: pl.DataFrame, context: Context, settings: Settings
) -> pl.DataFrame:
    """Leave out mains losses that two other sites near by had within the hour."""
    lost_here = told.filter((pl.col("kind") == Kind.MAINS_LOSS) & pl.col("armed"))
    if lost_here.is_empty():
        return told
    places = (
        context.sites.select("site", "latitude", "longitude")
        .drop_nulls()
        .unique("site", keep="first")
    )
    here = (
        rows.filter(pl.col("kind") == Kind.MAINS_LOSS)
        .select("site", at="placed")
        .join(places, on="site")
    )
    lost = context.outages.filter(pl.col("kind") == Kind.MAINS_LOSS)
    everywhere = here if lost.is_empty() else lost
    mains = everywhere.with_columns(hour=pl.col("at").dt.truncate("1h"))
    own = lost_here.join(places, on="site")
    if own.is_empty() or mains["site"].n_unique() < 3:
        return told
    around = [
        own.with_columns(hour=pl.col("sign_at").dt.truncate("1h") + pl.duration(hours=step))
        for step in (-1, 0, 1)
    ]
    both = ("latitude", "longitude", "latitude_there", "longitude_there")
    near = great_circle_km(*(pl.col(name) for name in both)) <= settings.elsewhere_km
    shared = (
        pl.concat(around)
        .join(mains, on="hour", suffix="_there")
        .filter(
            (pl.col("site") != pl.col("site_there"))
            & (seconds(pl.col("at") - pl.col("sign_at")).abs() <= 3600)
            & near
        )
        .group_by("site", "sign_at")
        .agg(others=pl.col("site_there").n_unique())
        .filter(pl.col("others") >= 2)
        .select("site", "sign_at", kind=pl.lit(str(Kind.MAINS_LOSS)).cast(told.schema["kind"]))
    )
    return told.join(shared, on=["site", "sign_at", "kind"], how="anti")


def nearest(rows: pl.DataFrame, told: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Join each row with the nearest armed sign of each group, where one is near enough.

    Parameters
    ----------
    rows : polars.DataFrame
        Alarms with ``site`` and ``at``.
    told : polars.DataFrame
        As `signs` gives them.
    settings : Settings
        ``sign_near_s`` [s].

    Returns
    -------
    polars.DataFrame
        One row per alarm and group found: the columns of both.
    """
    found = []
    for group in GROUPS:
        some = told.filter((pl.col("group") == group) & pl.col("armed"))
        hit = asof(rows, some, "at", "sign_at", strategy="nearest")
        apart = seconds(pl.col("sign_at") - pl.col("at")).abs()
        found.append(hit.filter(apart <= settings.sign_near_s))
    return pl.concat(found)
