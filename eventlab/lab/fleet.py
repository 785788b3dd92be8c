"""What all sites of a store together tell of cells and devices: for whoever plans rounds."""

from dataclasses import dataclass
from datetime import datetime

import polars as pl

from eventlab.analysis.battery_life import IN_SERVICE, LIFE, families, in_service, left, lives
from eventlab.analysis.wear import WATCHED, expected, watched
from eventlab.context import Context
from eventlab.ground import NEEDED, Ground
from eventlab.lab.portfolio import parts
from eventlab.lab.standing import laid
from eventlab.schema import Kind
from eventlab.settings import Settings
from eventlab.store import Store, fetch

_BESIDE = (Kind.ACTIVATION, Kind.ACCESS, Kind.HANDLING)
"""Most rows of a log, and none that tells of a cell or a fault."""


@dataclass(frozen=True)
class Gathered:
    """What was gathered, site after site.

    Parameters
    ----------
    lives : polars.DataFrame
        Columns of ``battery_life.LIFE``.
    devices : polars.DataFrame
        As `battery_life.in_service` gives them.
    watched : polars.DataFrame
        Columns of ``wear.WATCHED``.
    """

    lives: pl.DataFrame
    devices: pl.DataFrame
    watched: pl.DataFrame


@dataclass(frozen=True)
class FleetView:
    """What a fleet tells.

    Parameters
    ----------
    cells : polars.DataFrame
        How long the cells of each family last, as `battery_life.families` gives it.
    devices : polars.DataFrame
        What the cell of each device has left, as `battery_life.left` gives it; those that are low
        first, then those that are likeliest to be low soon.
    wear : polars.DataFrame
        Faults to be expected in a year by family, as `wear.expected` gives them.
    """

    cells: pl.DataFrame
    devices: pl.DataFrame
    wear: pl.DataFrame


def of_ground(ground: Ground, context: Context, settings: Settings) -> Gathered:
    """Gather what the sites of one ground tell; parameters as of every analysis."""
    return Gathered(
        lives(ground, context, settings),
        in_service(ground, context, settings),
        watched(ground, context, settings),
    )


def gather(
    store: Store, context: Context, settings: Settings, *, now: datetime | None = None
) -> Gathered:
    """Gather what all sites of a store tell, some sites after others.

    Parameters
    ----------
    store : Store
        Where the events are.
    context : Context
        What is known of all sites.
    settings : Settings
        The settings in force.
    now : datetime, optional
        As in ``standing.work_out``.

    Returns
    -------
    Gathered
        The same as of all sites at once.
    """
    spans = store.spans()
    told = [Gathered(*(pl.DataFrame(schema=schema) for schema in (LIFE, IN_SERVICE, WATCHED)))]
    kinds = [kind for kind in Kind if kind not in _BESIDE]
    for sites in parts(store):
        events = fetch(store.events(sites=sites, kinds=kinds, columns=NEEDED))
        own = context.only(sites)
        ground = laid(events, own, settings, now=now, spans=spans)
        told.append(of_ground(ground, own, settings))
    return Gathered(
        pl.concat([one.lives for one in told]),
        pl.concat([one.devices for one in told]),
        pl.concat([one.watched for one in told]),
    )


def fleet_view(told: Gathered, settings: Settings) -> FleetView:
    """Say how long cells last, which are due and which devices fail.

    Parameters
    ----------
    told : Gathered
        Of all sites.
    settings : Settings
        ``battery_fleet_min``, ``battery_ahead_days``, ``battery_overdue``.

    Returns
    -------
    FleetView
        Frames; empty ones where no device is known.
    """
    devices = left(told.devices, told.lives, settings).sort(
        ["low", "chance", "site", "zone"],
        descending=[True, True, False, False],
        nulls_last=True,
    )
    return FleetView(families(told.lives, settings), devices, expected(told.watched))
