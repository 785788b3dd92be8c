"""All that was found out about a store at one version of it, worked out once."""

from dataclasses import dataclass
from datetime import datetime

import polars as pl

from eventlab.advice import advise
from eventlab.analysis import causes, run
from eventlab.context import Context
from eventlab.ground import Ground, lay
from eventlab.report import state
from eventlab.settings import Settings


@dataclass(frozen=True)
class Standing:
    """What stands at one version of a store.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Sites, schedules, weather, visits, outcomes.
    findings : polars.DataFrame
        Columns of ``schema.FINDING``, what leaves a place unprotected first.
    episodes : polars.DataFrame
        Episodes with the probability of each cause.
    """

    ground: Ground
    context: Context
    findings: pl.DataFrame
    episodes: pl.DataFrame


def work_out(
    events: pl.DataFrame,
    context: Context,
    settings: Settings,
    *,
    now: datetime | None = None,
    spans: pl.DataFrame | None = None,
) -> Standing:
    """Run everything over the events given.

    Parameters
    ----------
    events : polars.DataFrame
        Columns of ``schema.EVENT``, any number of sites.
    context : Context
        What is known of them.
    settings : Settings
        The settings in force.
    now : datetime, optional
        The end of what is covered; the last event of each site where left out.
    spans : polars.DataFrame, optional
        From when to when each export reaches, as ``Store.spans`` gives it.

    Returns
    -------
    Standing
        Findings and episodes with what they stand on.
    """
    ground = laid(events, context, settings, now=now, spans=spans)
    found = run(ground, context, settings)
    findings = state(advise(found, context), ground, context)
    return Standing(ground, context, findings, causes(ground, context, settings, found))


def laid(
    events: pl.DataFrame,
    context: Context,
    settings: Settings,
    *,
    now: datetime | None = None,
    spans: pl.DataFrame | None = None,
) -> Ground:
    """Lay the ground of the events given; parameters as for ``work_out``."""
    return lay(events, context, settings, now=now, spans=spans)
