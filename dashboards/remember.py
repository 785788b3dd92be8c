"""Answers of the lab, remembered until its store changes: no page works the same out twice."""

from collections import OrderedDict
from collections.abc import Callable
from datetime import UTC, date, datetime
from threading import Lock
from typing import TYPE_CHECKING, Any

import polars as pl

if TYPE_CHECKING:
    from eventlab.lab import (
        AliveView,
        FileResult,
        HowSure,
        Lab,
        Learned,
        Lesson,
        PeopleView,
        PointView,
        Proof,
        Raster,
        SiteView,
        UsualHours,
    )

KEEP = 48
"""Answers kept; the largest is one site's year of events, a few megabytes."""

FRESH_S = 300
"""Answers that hang on the present moment (how old a log is) are worked out anew after this [s]."""


class Remembered:
    """The lab as the screens ask it; holds nothing of any person's.

    Parameters
    ----------
    lab : Lab
        The open store.
    keep : int
        Answers kept.
    """

    def __init__(self, lab: "Lab", *, keep: int = KEEP) -> None:
        self._lab = lab
        self._keep = keep
        self._lock = Lock()
        self._known: OrderedDict[tuple[Any, ...], Any] = OrderedDict()

    def now(self) -> datetime:
        """Return the moment that ages are told from."""
        return self._lab.now()

    def sites(self) -> pl.DataFrame:
        """Return the list of sites."""
        return self._once(self._lab.sites)

    def site(self, site: str) -> "SiteView":
        """Return what stands above a site's page."""
        return self._once(self._lab.site, site)

    def point(self, site: str, zone: str, within: str | None) -> "PointView":
        """Return what stands on a point's page."""
        return self._once(self._lab.point, site, zone, within)

    def raster(self, site: str, **point: str | None) -> "Raster":
        """Return the nights of a site, all of them, or of one point (``zone``, ``within``)."""
        return self._once(self._lab.raster, site, **point)

    def proof(self, site: str, **asked: Any) -> "Proof":
        """Return whether something worked at a site."""
        return self._once(self._lab.proof, site, **asked)

    def people(self, site: str, at: date | None) -> "PeopleView":
        """Return how a site is used."""
        return self._once(self._lab.people, site, at)

    def usual_hours(self, site: str) -> "UsualHours":
        """Return when a site is usually opened and closed."""
        return self._once(self._lab.usual_hours, site)

    def alive(self, site: str) -> "AliveView":
        """Return what of a site is still listening."""
        return self._once(self._lab.alive, site)

    def how_sure(self) -> "HowSure":
        """Return how far the causes told are from recorded outcomes."""
        return self._once(self._lab.how_sure)

    def events(self, *, site: str) -> pl.DataFrame:
        """Return all events of a site."""
        return self._once(self._lab.events, site=site)

    def around(self, site: str, occurrence: int) -> pl.DataFrame:
        """Return the events around an alarm."""
        return self._lab.around(site, occurrence)

    def logs(self) -> pl.DataFrame:
        """Return the exports that were taken."""
        return self._once(self._lab.logs)

    def unread(self) -> pl.DataFrame:
        """Return the rows that could not be read."""
        return self._once(self._lab.unread)

    def strangers(self, *, guess: bool) -> pl.DataFrame:
        """Return the wordings that were not understood, with what they may mean if asked."""
        return self._once(self._lab.strangers, guess=guess)

    def taught(self) -> pl.DataFrame:
        """Return what people said that wordings mean."""
        return self._once(self._lab.taught)

    def teach(self, *lessons: "Lesson") -> "Learned":
        """Keep what wordings mean."""
        return self._lab.teach(*lessons)

    def forget(self, wording: str, *, site: str | None) -> "Learned":
        """Take back what a wording was said to mean."""
        return self._lab.forget(wording, site=site)

    def waiting(self) -> "list[FileResult]":
        """Return the files whose questions wait; these change without the store's version."""
        return self._lab.waiting()

    def take(self, *args: Any, **said: Any) -> "list[FileResult]":
        """Take files."""
        return self._lab.take(*args, **said)

    def answer(self, *args: Any, **said: Any) -> "FileResult":
        """Answer the questions of a file that waits."""
        return self._lab.answer(*args, **said)

    def _once(self, ask: Callable[..., Any], *args: Any, **said: Any) -> Any:
        now = int(datetime.now(UTC).timestamp() // FRESH_S)
        key = (self._lab.version(), now, ask.__name__, args, tuple(sorted(said.items())))
        with self._lock:
            if key in self._known:
                self._known.move_to_end(key)
                return self._known[key]
        answer = ask(*args, **said)
        with self._lock:
            self._known[key] = answer
            while len(self._known) > self._keep:
                self._known.popitem(last=False)
        return answer
