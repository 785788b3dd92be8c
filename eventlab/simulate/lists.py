"""Zone schedules that do not match: points left out, points that are not there, new numbers."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from eventlab.schema import Pattern, Use
from eventlab.simulate.model import Building, Point, Push, Record, World
from eventlab.simulate.trifles import DAY

_SHIFT = 100


@dataclass(frozen=True)
class Amiss:
    """How the zone schedule of a building differs from what its log tells.

    Parameters
    ----------
    unlisted : tuple of str
        Points that the schedule leaves out.
    ghosts : tuple of Point
        Points that the schedule lists and nobody ever fitted.
    renumbered : int or None
        From when on a new panel numbers every point higher by a hundred, seconds since 1970 UTC.
    """

    unlisted: tuple[str, ...] = ()
    ghosts: tuple[Point, ...] = ()
    renumbered: int | None = None

    def number(self, record: Record) -> str | None:
        """Return the number under which the log tells a record's point."""
        moved = self.renumbered is not None and record.at >= self.renumbered
        plain = record.zone is not None and record.zone.isdigit()
        return str(int(record.zone) + _SHIFT) if moved and plain and record.zone else record.zone

    def shows(self, record: Record) -> bool:
        """Say whether a record is one that the schedule does not explain."""
        moved = self.renumbered is not None and record.at >= self.renumbered
        return record.zone is not None and (moved or record.zone in self.unlisted)

    def listed(self, points: tuple[Point, ...]) -> tuple[Point, ...]:
        """Return the points as the schedule has them."""
        return (*(p for p in points if p.zone not in self.unlisted), *self.ghosts)


def list_mismatch(world: World, building: Building) -> Iterator[Push]:
    """Leave points out of the schedule, list one that is not there, or number anew from a day."""
    draw = world.draw("list mismatch")
    ways = ["unlisted", "renumbered"] + (["ghost"] if building.panel.activations else [])
    way = draw.pick(ways)
    since = world.start
    if way == "unlisted":
        some = [point.zone for point in building.points[2:]]
        left = tuple(some.pop(draw.whole(0, len(some) - 1)) for _ in range(draw.whole(2, 3)))
        world.amiss = Amiss(unlisted=left)
    elif way == "ghost":
        number = str(len(building.points) + 7)
        ghost = replace(building.points[-1], zone=number, name="Annex", use=Use.INTERIOR)
        world.amiss = Amiss(ghosts=(ghost,))
    else:
        since = round(draw.between(world.start + 40 * DAY, world.end - 40 * DAY))
        world.amiss = Amiss(renumbered=since)
    world.tell(Pattern.LIST_MISMATCH, world.site, since, kind="site")
    yield from ()
