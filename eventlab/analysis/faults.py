"""Lids left open, detectors that are masked, and faults that stand."""

import polars as pl

from eventlab.analysis.conditions import lasted, spells
from eventlab.analysis.core import POINT
from eventlab.analysis.found import evidence, figures, found, line, number, spoken, wall
from eventlab.analysis.lasting import gathered, shown
from eventlab.context import Context
from eventlab.ground import Ground, State, intervals
from eventlab.schema import Kind, Pattern, Phase
from eventlab.settings import Settings

_FAULTS = (Kind.SYSTEM_FAULT, Kind.SIREN_FAULT, Kind.MODULE_FAULT, Kind.SENSOR_FAULT)
_STANDS = "stands when the log ends"


def tamper_open(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find lids that were left open.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``tamper_open_h`` [h].

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per point, or one for the site's own box; life-safety points too. A
        lid that was shut the same day is a record. A tamper that was told as an alarm counts only
        where the log tells the end of such alarms.
    """
    del context
    ended = (
        ground.occurrences.lazy()
        .filter((pl.col("kind") == Kind.TAMPER_ALARM) & (pl.col("phase") == Phase.END))
        .select("site")
        .collect()
    )
    alarms = spells(ground, [Kind.TAMPER_ALARM], settings).join(ended, on="site", how="semi")
    open_ = pl.concat([spells(ground, [Kind.TAMPER], settings), alarms]).sort("site", "since")
    if open_.is_empty():
        return found(open_, Pattern.TAMPER_OPEN)
    told = gathered(
        open_,
        ground,
        settings,
        key=POINT,
        long_h=settings.tamper_open_h,
        line=line(
            pl.lit("open ") + wall(pl.col("local")),
            lasted("still open when the log ends"),
            "tamper rows",
        ),
    )
    return found(
        told.with_columns(evidence("lines"), figures(shown(settings.unsupervised_days))),
        Pattern.TAMPER_OPEN,
    )


def masked(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find detectors that were masked for long, or again and again.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``masked_h`` [h], ``masked_repeats`` within ``unsupervised_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per point; life-safety points too. ``figures`` say how many armed
        hours it did not protect, and whether it was masked while the place was open: then the first
        question is who was in the room.
    """
    del context
    masked = spells(ground, [Kind.MASKING], settings)
    if masked.is_empty():
        return found(masked, Pattern.MASKED)
    stood = _where(masked, ground)
    open_hours = pl.col("state") == State.UNARMED
    told = gathered(
        stood,
        ground,
        settings,
        key=POINT,
        long_h=settings.masked_h,
        repeats=settings.masked_repeats,
        line=line(
            pl.lit("masked ")
            + wall(pl.col("local"))
            + pl.when(open_hours).then(pl.lit(", while open")).otherwise(pl.lit("")),
            lasted("still masked when the log ends"),
            "masking rows",
        ),
        more=[
            pl.col("armed_h").sum().alias("armed_h"),
            open_hours.sum().cast(pl.Int64).alias("while_open"),
        ],
    )
    return found(
        told.with_columns(
            evidence(
                "lines",
                line(
                    "armed hours in which it did not protect",
                    number(pl.col("armed_h"), 1),
                    "masked while its area, or the site where none is told, was armed",
                    when=pl.col("armed_h") > 0,
                ),
            ),
            figures(
                {
                    **shown(settings.unsupervised_days),
                    "armed_h": pl.col("armed_h"),
                    "while_open": pl.col("while_open"),
                }
            ),
        ),
        Pattern.MASKED,
    )


def standing(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find faults of sirens, modules, detectors or the system that stand, or come back.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Not needed.
    settings : Settings
        ``fault_h`` [h], ``fault_repeats`` within ``unsupervised_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns, one row per point, or one for the system's own; life-safety points too.
    """
    del context
    stood = spells(ground, _FAULTS, settings)
    if stood.is_empty():
        return found(stood, Pattern.FAULT_STANDING)
    told = gathered(
        stood,
        ground,
        settings,
        key=POINT,
        long_h=settings.fault_h,
        repeats=settings.fault_repeats,
        line=line(
            spoken(pl.col("kind")) + " " + wall(pl.col("local")),
            lasted(_STANDS),
            "fault rows",
        ),
        more=[
            spoken(pl.col("kind")).unique(maintain_order=True).str.join(", ").alias("what"),
            (pl.col("kind") == Kind.SIREN_FAULT).any().alias("siren"),
        ],
    )
    return found(
        told.with_columns(
            evidence("lines"),
            figures(
                {
                    **shown(settings.unsupervised_days),
                    "what": pl.col("what"),
                    "siren": pl.col("siren"),
                }
            ),
        ),
        Pattern.FAULT_STANDING,
    )


def _where(stood: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Add the state in which each spell began, and the armed hours in it."""
    begun = (
        ground.occurrences.lazy()
        .filter((pl.col("kind") == Kind.MASKING) & (pl.col("phase") == Phase.BEGIN))
        .select(*POINT, "state", since="placed")
        .collect()
        .unique([*POINT, "since"])
    )
    joined = stood.join(
        begun, on=[*POINT, "since"], how="left", nulls_equal=True, maintain_order="left"
    ).with_row_index("spell")
    armed = ground.armed.filter("known").select("site", "since", "until", own="area")
    named = armed.select("site", area="own").drop_nulls().unique()
    whole = intervals.unite(armed.select("site", "since", "until"), ["site"])
    # Where no area is told, or one that is never armed under its name, the site decides.
    apart = joined.join(named, on=["site", "area"], how="semi")
    rest = joined.join(named, on=["site", "area"], how="anti")
    hours = pl.concat(
        [_overlap(apart, armed.rename({"own": "area"}), ["site", "area"]),
         _overlap(rest, whole, ["site"])]
    )  # fmt: skip
    return joined.join(hours, on="spell", how="left", maintain_order="left").with_columns(
        pl.col("armed_h").fill_null(0.0)
    )


def _overlap(spans: pl.DataFrame, armed: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    """Add up the armed hours in each spell."""
    low = pl.max_horizontal("since", "start")
    high = pl.min_horizontal("until", "stop")
    return (
        spans.select("spell", "since", "until", *by)
        .join(armed.rename({"since": "start", "until": "stop"}), on=by)
        .filter(low < high)
        .group_by("spell")
        .agg(armed_h=((high - low).dt.total_microseconds() / 3.6e9).sum())
    )
