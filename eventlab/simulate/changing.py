"""A point whose alarms become more frequent on a date: for good, or for some weeks."""

from collections.abc import Iterator

from eventlab.schema import Cause, Pattern
from eventlab.simulate.model import Building, Push, World
from eventlab.simulate.people import closed_moment
from eventlab.simulate.trifles import DAY

DRIVER = "planted"


def rate_change(world: World, building: Building) -> Iterator[Push]:
    """Let a room alarm on 6 to 30 more days: to the end of the log, or for three to thirteen weeks.

    Something new moves in it, or its detector begins to fail: nothing else tells when.
    """
    draw = world.draw("rate change")
    room = draw.pick([point for point in building.points[2:] if point.detector == "pir"])
    last = (world.end - world.start) // DAY
    stands = draw.chance(0.6)
    length = min(round(draw.between(21, 90)), last // 2)
    begins = last - length if stands else round(draw.between(last * 0.35, last - length - 20))
    after = draw.whole(6, 30)
    open_days = world.days[-last:]
    times: list[int] = []
    chosen = sorted(draw.whole(begins, begins + length - 2) for _ in range(after))
    for day in dict.fromkeys(chosen):
        for _ in range(draw.whole(1, 4)):
            at = closed_moment(draw, building, open_days[min(day, last - 2)], 12, 36)
            if at is not None:
                times.append(at)
    for at in sorted(times):
        yield Push(at, "move", zone=room.zone, cause=Cause.ENVIRONMENT, driver=DRIVER)
    if times:
        until = None if stands else max(times) + 60
        world.tell(Pattern.RATE_CHANGE, room.zone, min(times), until)
