"""Openings of the outer skin that alarmed: when they shut again, and whether they stayed open."""

import polars as pl

from eventlab.analysis.core import POINT
from eventlab.analysis.found import asof, number, seconds
from eventlab.analysis.kept import kept
from eventlab.analysis.losses import label
from eventlab.ground import Ground, Power, Restores
from eventlab.schema import Kind, Phase, Witness
from eventlab.settings import Settings

_OF_POINT = (Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM, Kind.ACTIVATION)
_LEAST_ENDS = 3
"""Fewer ends at a disarm do not show that they come then."""
_LEAST_OPEN = 5
"""Fewer openings without an end do not show that a log mostly leaves their ends out."""
STAYS_OPEN = "stays open"


def stays_open(awake: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Find openings of the outer skin that alarmed and did not close again.

    Where ends are told as they happen it shows by them; where they come with the disarm, an
    opening that was open then ends later, or in no row. Other logs cannot show it; nor does an end
    that is missing where most ends are: such a log leaves them out. Where the panel's own log is
    there, it must tell the alarm: a second path may send alarms alone.

    Parameters
    ----------
    awake : polars.DataFrame
        As `core.awake` gives them.
    ground : Ground
        What every analysis stands on.
    settings : Settings
        ``stays_open_s``, ``restore_near_s``, ``siren_min_s``, ``siren_max_s`` [s],
        ``stays_usual``.

    Returns
    -------
    polars.DataFrame
        Those rows, with the columns of `losses.ANCHOR`.
    """
    open_min = seconds(pl.col("stop") - pl.col("at")) / 60
    return (
        openings(awake, ground, settings)
        .filter("stays")
        .with_columns(
            rule=pl.lit(STAYS_OPEN),
            what=label() + " alarmed and stayed open",
            figure=pl.when("after_disarm")
            .then(pl.lit("still open when it was disarmed, ") + number(open_min) + " min later")
            .otherwise(number(open_min) + " min"),
        )
    )


@kept
def openings(awake: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    """Say of each alarm of an opening of the outer skin when it stopped, and whether it stayed.

    Parameters
    ----------
    awake, ground, settings
        As `stays_open` needs them.

    Returns
    -------
    polars.DataFrame
        The rows of openings with ``closed`` (when its next end is told), ``stop`` (until when it
        may have been open), ``live`` (ends are told as they happen), ``stays``, ``after_disarm``
        (it shows by what followed the disarm), ``open`` (still open where the log ends).
    """
    doors = awake.filter(pl.col("outer") & pl.col("point").is_not_null())
    of_point = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in(list(_OF_POINT)))
        .select(*POINT, "placed", "phase", "kind")
        .join(doors.lazy().select(POINT).unique(), on=list(POINT), how="semi", nulls_equal=True)
        .collect()
    )
    closed = of_point.filter(pl.col("phase") == Phase.END).select(*POINT, closed="placed")
    # A point that trips again has closed in between, told or not; only a siren's rhythm has not.
    again = of_point.filter(
        (pl.col("phase") == Phase.BEGIN) & (pl.col("kind") != Kind.ACTIVATION)
    ).select(*POINT, again="placed")
    key = [*POINT[:2], "in"]
    doors, closed, again = (
        frame.with_columns(pl.col("within").fill_null("").alias("in"))
        for frame in (doors, closed, again)
    )
    near = asof(doors, closed.drop("within"), "at", "closed", by=key, strategy="forward")
    near = asof(near, again.drop("within"), "at", "again", by=key, strategy="forward", strict=True)
    step = seconds(pl.col("again") - pl.col("at"))
    held = step.is_between(settings.siren_min_s, settings.siren_max_s)
    after = pl.min_horizontal("closed", pl.when(~held).then("again"))
    near = (
        near.join(ground.sites.select("site", end="last"), on="site", how="left")
        .join(_how_ends_are_told(ground), on="site", how="left", maintain_order="left")
        .with_columns(
            pl.col("live", "late").fill_null(value=False),
            open=pl.col("closed").is_null()
            & pl.col("again").is_null()
            & pl.col("disarmed_at").is_null(),
            shut=after,
            stop=pl.min_horizontal(after, "disarmed_at", "end"),
        )
    )
    near = near.with_columns(after_disarm=_open_at_disarm(near, settings))
    by_panel = pl.col("witnesses").list.contains(str(Witness.PANEL))
    own_log = ground.powers.filter(pl.col("witness") == Witness.PANEL)["site"].unique()
    heard = by_panel | ~pl.col("site").is_in(own_log.to_list())
    stayed = pl.col("live") & (seconds(pl.col("stop") - pl.col("at")) >= settings.stays_open_s)
    near = near.with_columns(stays=heard & (stayed | pl.col("after_disarm")))
    # An end that is told late shows that it was open, whatever else the log leaves out.
    untold = pl.col("stays") & ~(pl.col("closed") == pl.col("shut")).fill_null(value=False)
    usual = (untold.sum().over("site") >= _LEAST_OPEN) & (
        untold.mean().over("site") > settings.stays_usual
    )
    return near.with_columns(pl.col("stays") & ~(untold & usual))


def _how_ends_are_told(ground: Ground) -> pl.DataFrame:
    """Say of each site whether its ends are told as they happen, or with the disarm only."""
    told = ground.powers.filter(pl.col("power") == Power.RESTORES)
    live = (pl.col("value") == Restores.LIVE).any()
    late = (pl.col("value") == Restores.AT_DISARM).any()
    return told.group_by("site").agg(live=live, late=late & ~live)


def _open_at_disarm(near: pl.DataFrame, settings: Settings) -> pl.Series:
    """Tell which openings were open when they were disarmed, in logs that tell ends then.

    A missing end tells something only at a site whose alarms mostly have theirs.
    """
    soon = pl.max_horizontal(pl.lit(settings.restore_near_s), "grain")
    counted = pl.col("late") & pl.col("disarmed_at").is_not_null()
    # What trips again before the disarm had closed; a trip after it leaves the end untold.
    shut = (pl.col("shut") <= pl.col("disarmed_at")).fill_null(value=False)
    told = pl.col("closed") == pl.col("shut")
    came = told & (seconds(pl.col("closed") - pl.col("disarmed_at")) <= soon)
    came, told = came.fill_null(value=False), told.fill_null(value=False)
    ends = (counted & came).sum().over("site")
    missing = (counted & ~shut & ~told).sum().over("site")
    telling = told | ((ends >= _LEAST_ENDS) & (ends >= missing))
    past = seconds(pl.col("end") - pl.col("disarmed_at")) > soon
    late = ~shut & ~came & past
    long = seconds(pl.col("disarmed_at") - pl.col("at")) >= settings.stays_open_s
    return near.select(
        (counted & long & late & telling).fill_null(value=False).alias("after_disarm")
    ).to_series()
