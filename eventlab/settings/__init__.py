"""Every number that somebody may want to change, with its unit and its reason."""

from dataclasses import dataclass, fields

from eventlab.settings.causes import CauseSettings
from eventlab.settings.ground import GroundSettings
from eventlab.settings.people import PeopleSettings
from eventlab.settings.points import PointSettings
from eventlab.settings.watch import WatchSettings


@dataclass(frozen=True)
class Settings(CauseSettings, WatchSettings, PointSettings, PeopleSettings, GroundSettings):
    """The settings of one run; ``describe`` lists them for people."""


def describe(settings: Settings | None = None) -> list[tuple[str, float, str, str]]:
    """List every setting as (name, value, unit, reason).

    Parameters
    ----------
    settings : Settings, optional
        The settings in force; the defaults where left out.

    Returns
    -------
    list of tuple
        In the order of definition.
    """
    use = settings or Settings()
    return [
        (f.name, float(getattr(use, f.name)), f.metadata["unit"], f.metadata["why"])
        for f in fields(use)
    ]
