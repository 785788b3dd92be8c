"""People who come in and do not disarm in time."""

import polars as pl

from eventlab.analysis.armed_on_people import inside
from eventlab.analysis.found import asof, begun, seconds
from eventlab.analysis.kept import kept
from eventlab.analysis.overruns import acts, tell
from eventlab.context import Context
from eventlab.ground import Ground
from eventlab.schema import TRIPS, Kind, Pattern, Phase, Use
from eventlab.settings import Settings

_ON_ROUTE = (Use.ENTRY, Use.FOLLOWER, Use.KEY)


def find(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Find places and people with repeated alarms at entry.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Entry delays of the sites.
    settings : Settings
        ``entry_overrun_s`` [s], ``entry_overrun_min`` within ``overrun_days``.

    Returns
    -------
    polars.DataFrame
        FOUND columns: per site (or area, where there are several) and per person. ``rate`` is the
        share of entries, where the log tells all openings.
    """
    cases = overruns(ground, context, settings)
    return tell(
        cases.filter(~pl.col("aside")),
        acts(ground, Kind.DISARM),
        ground,
        settings,
        pattern=Pattern.ENTRY_OVERRUN,
        least=settings.entry_overrun_min,
        noun="entries",
    )


@kept
def overruns(ground: Ground, context: Context, settings: Settings) -> pl.DataFrame:
    """Return the episodes that are late entries.

    An episode is one where it began on the entry route, or at one of the first points after it,
    and was disarmed within ``entry_overrun_s``. A later disarm is an attendance and says nothing
    about cause. Points of unknown use count as on the way in where most of their episodes end
    with such a disarm. What begins soon after arming is somebody leaving, and whoever is inside
    when a timer arms is not coming in.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Entry delays of the sites.
    settings : Settings
        ``entry_overrun_s``, ``exit_unsettled_s``, ``entry_delay_s`` [s].

    Returns
    -------
    polars.DataFrame
        ``site``, ``episode``, ``area``, ``person``, ``at``, ``local``, ``over_s``, ``off_route``,
        ``aside``.
    """
    known = (
        ground.points.filter(pl.col("zone").is_not_null())
        .group_by("site", first_zone="zone")
        .agg(pl.col("use").drop_nulls().first(), pl.col("entry_route").any())
    )
    episodes = (
        ground.episodes.lazy()
        .filter(~pl.col("life_safety"))
        .select(
            *("site", "episode", "area", "since", "armed_at", "disarmed_at", "disarmed_by"),
            *("first_zone", "first_occurrence", "kinds", "aside"),
        )
        .collect()
        .join(known, on=["site", "first_zone"], how="left", nulls_equal=True)
        .with_columns(
            over_s=seconds(pl.col("disarmed_at") - pl.col("since")),
            armed_s=seconds(pl.col("since") - pl.col("armed_at")),
        )
        .with_columns(
            quick=pl.col("over_s").is_between(0, settings.entry_overrun_s).fill_null(value=False)
            & (pl.col("armed_s") > settings.exit_unsettled_s).fill_null(value=True)
        )
    )
    habit = pl.col("quick").mean().over("site", "first_zone")
    often = pl.len().over("site", "first_zone")
    entry_kind = pl.col("kinds").list.contains(str(Kind.ENTRY_EXIT_ALARM))
    on_route = (
        pl.col("entry_route").fill_null(value=False)
        | pl.col("use").is_in(list(_ON_ROUTE)).fill_null(value=False)
        | entry_kind
    )
    learned = pl.col("use").is_null() & (habit >= 0.5) & (often >= 3)
    stayed = inside(ground, settings).filter("timed").select("site", since="at")
    episodes = episodes.join(stayed, on=["site", "since"], how="anti", maintain_order="left")
    episodes = episodes.with_columns(on_route=on_route, learned=learned)
    after = _after_route(episodes, ground, context, settings)
    late = episodes.join(after, on=["site", "episode"], how="left").filter(
        pl.col("quick")
        & (pl.col("on_route") | pl.col("learned") | pl.col("after").fill_null(value=False))
    )
    return (
        late.join(begun(late, ground), on=["site", "first_occurrence"], how="left")
        .select(
            "site",
            "episode",
            "area",
            "local",
            "over_s",
            "aside",
            at="since",
            person="disarmed_by",
            off_route=~pl.col("on_route"),
        )
        .sort("site", "at")
    )


def _after_route(
    episodes: pl.DataFrame, ground: Ground, context: Context, settings: Settings
) -> pl.DataFrame:
    """Say which episodes began shortly after something on the entry route opened or alarmed."""
    route = ground.points.filter("entry_route").select("site", "zone", "within")
    opened = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in([Kind.ACTIVATION, *TRIPS]) & (pl.col("phase") == Phase.BEGIN))
        .select("site", "zone", "within", opened="placed")
        .join(
            route.lazy(),
            on=["site", "zone", "within"],
            how="semi",
            nulls_equal=True,
            maintain_order="left",
        )
        .select("site", "opened")
        .collect()
    )
    delays = context.sites.select("site", "entry_delay_s").unique("site", keep="first")
    delay = pl.col("entry_delay_s").fill_null(settings.entry_delay_s)
    return (
        asof(episodes.select("site", "episode", "since"), opened, "since", "opened")
        .join(delays, on="site", how="left")
        .select(
            "site",
            "episode",
            after=seconds(pl.col("since") - pl.col("opened")) <= delay + settings.entry_overrun_s,
        )
    )
