"""When people are in: the hours of a building, and the days on which they are others."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING

from eventlab.simulate.clock import public_holiday

if TYPE_CHECKING:
    from eventlab.simulate.model import Building, Push

Hours = tuple[float, float]
Week = tuple[tuple[Hours, ...], ...]
"""By weekday from Monday: opening and closing of each shift [h after midnight]."""

_ARMING = frozenset({"arm", "disarm"})


@dataclass
class Calendar:
    """What is not as every week.

    Parameters
    ----------
    weeks : list of (date, Week)
        From which date which hours hold; the building's own before the first.
    shut : set of date
        Days on which nobody comes.
    days : dict of date to tuple of Hours
        Days with hours of their own, holidays too.
    unclosed : set of date
        Days on which people leave without arming.
    tried : set of date
        Days on which somebody tries to arm in vain before it is armed.
    holidays : bool
        Whether public holidays are as every day.
    background : str
        On which days what happens now and then falls: one of ``BACKGROUNDS``.
    area : str or None
        The only area that the daily routine opens and closes; all where None.
    """

    weeks: list[tuple[date, Week]] = field(default_factory=list)
    shut: set[date] = field(default_factory=set)
    days: dict[date, tuple[Hours, ...]] = field(default_factory=dict)
    unclosed: set[date] = field(default_factory=set)
    tried: set[date] = field(default_factory=set)
    holidays: bool = False
    background: str = "poisson"
    area: str | None = None

    def hours(self, building: "Building", day: date) -> tuple[Hours, ...]:
        """Return the shifts of a day; none where nobody comes.

        Parameters
        ----------
        building : Building
            Has the hours of an ordinary week.
        day : datetime.date
            Which day.
        """
        if day in self.days:
            return self.days[day]
        if day in self.shut or (public_holiday(day) and not self.holidays):
            return ()
        week = max((since for since, _ in self.weeks if since <= day), default=None)
        if week is not None:
            return dict(self.weeks)[week][day.weekday()]
        own = building.hours[day.weekday()]
        return () if own is None else (own,)

    def acted(self, pushes: Iterable["Push"]) -> Iterator["Push"]:
        """Let openings and closings concern the one area only."""
        for push in pushes:
            narrow = self.area is not None and push.act in _ARMING
            yield replace(push, area=self.area) if narrow else push
