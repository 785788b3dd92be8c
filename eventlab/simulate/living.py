"""A building lives through its days: people, weather and faults in, two logs out."""

from dataclasses import dataclass, replace

from eventlab.schema import Kind, Phase
from eventlab.simulate.centre import history
from eventlab.simulate.clock import days as last_days
from eventlab.simulate.clock import utc
from eventlab.simulate.model import Building, Record, World
from eventlab.simulate.panel import run
from eventlab.simulate.people import routine
from eventlab.simulate.weather import Weather

LEAD_DAYS = 4
"""Days lived before the log begins, so that it does not begin with a building never armed."""


@dataclass(frozen=True)
class Lived:
    """What became of one building.

    Parameters
    ----------
    building : Building
        Which.
    world : World
        With what was told of its truth, its visits and its tests.
    panel : tuple of Record
        What its panel logged, by time.
    centre : tuple of Record
        What the monitoring centre wrote.
    """

    building: Building
    world: World
    panel: tuple[Record, ...]
    centre: tuple[Record, ...]


def live(seed: int, days: int, building: Building, weather: Weather) -> Lived:
    """Let one building live.

    Parameters
    ----------
    seed : int
        Of the simulation.
    days : int
        How many days are told.
    building : Building
        Which.
    weather : Weather
        Of the valley.

    Returns
    -------
    Lived
        Both logs; the centre's is made for every building, whoever exports it.
    """
    told = last_days(days + LEAD_DAYS)
    start = utc(told[LEAD_DAYS], 0)
    world = World(seed, told, start, weather, site=building.site)
    pushes = [*building.story(world, building), *routine(world, building)]
    log = sorted(run(building, pushes), key=lambda record: record.at)
    log = [record for record in log if not world.silent(record)]
    areas = building.areas
    # What concerns the whole system is told for the first area where there is only one.
    if len(areas) == 1:
        log = [r if r.area else replace(r, area=areas[0]) for r in log]
    centre = history(world, building, log)
    kept = [record for record in log if start <= record.at < world.end]
    heard = [record for record in centre if start <= record.at < world.end]
    return Lived(building, world, tuple(kept), tuple(heard))


def alarms(records: tuple[Record, ...]) -> int:
    """Count the intrusion alarms of a log."""
    kinds = {Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM, Kind.TAMPER_ALARM}
    return sum(r.kind in kinds and r.phase is Phase.BEGIN and not r.note for r in records)
