"""One store, opened: the face that the command line and the screens use."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path

import polars as pl

from eventlab.advice import Trial, WhatIf
from eventlab.analysis.listed_codes import ACTS
from eventlab.ground.order import WAYS, in_order
from eventlab.lab import (
    alive,
    fleet,
    layouts,
    nights,
    points,
    proving,
    retaking,
    taking,
    teaching,
    trying,
    views,
)
from eventlab.lab.hours import UsualHours, usual_hours
from eventlab.lab.kept import Kept
from eventlab.lab.layouts import Layout
from eventlab.lab.learning import HowSure, Learning, how_sure
from eventlab.lab.people import PeopleView, people_view
from eventlab.lab.portfolio import within
from eventlab.lab.rebuilding import Retaken
from eventlab.lab.result import FileResult
from eventlab.lab.unread import unread as unread_rows
from eventlab.lab.working import load
from eventlab.schema import EVENT, Kind, empty
from eventlab.store import fetch


class Lab(Kept):
    """One store with all that can be asked of it; it is opened as `kept.Kept` is."""

    # -- taking -------------------------------------------------------------------------------

    def take(
        self,
        paths: Iterable[str | Path],
        *,
        site: str | None = None,
        time_zone: str | None = None,
        answers: Mapping[str, str] | None = None,
        progress: taking.Progress | None = None,
    ) -> list[FileResult]:
        """Take files and folders; see ``taking.take``."""
        return taking.take(
            None if self._dry else self.store,
            paths,
            context=load(self._store),
            memory=self._store,
            site=site,
            time_zone=time_zone,
            answers=answers,
            progress=progress,
        )

    def waiting(self) -> list[FileResult]:
        """List the originals that were kept but not taken, with the questions they wait for."""
        return retaking.waiting(self.store, load(self._store))

    def answer(self, sha256: str, answers: Mapping[str, str]) -> FileResult:
        """Answer the questions of a waiting original and take it.

        Parameters
        ----------
        sha256 : str
            The original.
        answers : mapping
            Answer by question key (``site`` and ``time-zone`` too).

        Returns
        -------
        FileResult
            Taken, or with the questions that are left.
        """
        return retaking.take_waiting(self.store, load(self._store), sha256, answers)

    def retake(
        self,
        *,
        export: str | None = None,
        site: str | None = None,
        answers: Mapping[str, str] | None = None,
        site_is: str | None = None,
        time_zone: str | None = None,
        drop: bool = False,
    ) -> Retaken:
        """Read exports again from their originals; see ``retaking.retake``."""
        return retaking.retake(
            self.store,
            load(self._store),
            export=export,
            site=site,
            answers=answers or {},
            site_is=site_is,
            time_zone=time_zone,
            drop=drop,
        )

    def teach(self, *lessons: teaching.Lesson) -> teaching.Learned:
        """Keep what wordings mean and read their rows again; see ``teaching.teach``."""
        return teaching.teach(self.store, load(self._store), lessons, now=self.now())

    def forget(self, wording: str, *, site: str | None = None) -> teaching.Learned:
        """Take back what was taught of a wording; see ``teaching.forget``."""
        return teaching.forget(self.store, load(self._store), wording, site=site, now=self.now())

    def layouts(self) -> list[Layout]:
        """List what exports looked like and what was answered for them, the newest first."""
        return list(layouts.layouts(self.store).values())

    def remove_layout(self, key: str) -> Layout:
        """Forget what was answered for exports that look the same; see ``layouts.remove``."""
        return layouts.remove(self.store, key, now=self.now())

    def write_layouts(self, to: Path) -> int:
        """Write the layouts to a file; see ``layouts.write``."""
        return layouts.write(self.store, to)

    def read_layouts(self, source: Path) -> int:
        """Take the layouts of another store; see ``layouts.read``."""
        return layouts.read(self.store, source)

    def taught(self) -> pl.DataFrame:
        """Return what people taught and what is in force of it, columns of ``schema.TAUGHT``."""
        held = load(self._store).taught
        return held.filter(pl.col("kind").is_not_null()).sort("wording", "site", nulls_last=False)

    def strangers(self, *, guess: bool = True) -> pl.DataFrame:
        """Return wordings that are not understood; see ``teaching.strangers``."""
        return teaching.strangers(self.store, guess=guess)

    # -- asking -------------------------------------------------------------------------------

    def events(
        self,
        *,
        site: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
    ) -> pl.DataFrame:
        """Return events, unread rows among them, in order of time.

        Parameters
        ----------
        site : str, optional
            Only this site.
        since, until : datetime, optional
            From, and before, UTC.

        Returns
        -------
        polars.DataFrame
            Columns of ``schema.EVENT``.
        """
        found = fetch(
            self.store.events(sites=None if site is None else [site], since=since, until=until)
        )
        if found.is_empty():
            if site is not None:
                self._known(site)
            return empty(EVENT)
        ways = None
        if since is not None or until is not None:
            # A few rows do not tell which way their export runs: all of the sites' rows do.
            sites = found["site"].unique().to_list()
            ways = fetch(self.store.events(sites=sites, columns=list(WAYS)))
        return in_order(found, ways=ways)

    def findings(
        self,
        *,
        site: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
    ) -> pl.DataFrame:
        """Return findings, what leaves a place unprotected first.

        Parameters
        ----------
        site : str, optional
            Only this site.
        since, until : datetime, optional
            Those that hold at some time from, and before, UTC.

        Returns
        -------
        polars.DataFrame
            Columns of ``schema.FINDING``.
        """
        return within(self._of(self.found(site).findings, site), since, until)

    def episodes(
        self,
        *,
        site: str | None = None,
        since: datetime | None = None,
        until: datetime | None = None,
    ) -> pl.DataFrame:
        """Return episodes with the probability of each cause; parameters as ``findings``."""
        return within(self._of(self.found(site).episodes, site), since, until)

    def what_if(
        self, site: str, zone: str, trials: Sequence[Trial] = (), *, area: str | None = None
    ) -> WhatIf:
        """Replay the past alarms of a point; see `advice.what_if`; usual trials without any."""
        found = self.found(site)
        return trying.replay(found, self.settings, site, zone, trials or trying.usual(), area)

    # -- views --------------------------------------------------------------------------------

    def sites(self) -> pl.DataFrame:
        """Return one row a site, for the question where to go first; see ``views.overview``."""
        return views.overview(self.standing(), self.settings, self.now())

    def site(self, site: str) -> views.SiteView:
        """Return what stands above a site's page; see ``views.site_view``."""
        self._known(site)
        return views.site_view(self.standing(), site, self.settings, self.now())

    def point(self, site: str, zone: str, within: str | None = None) -> points.PointView:
        """Return what stands on the page of one point; see ``points.point_view``."""
        self._known(site)
        return points.point_view(self.standing(), self.settings, site, zone, within)

    def raster(
        self,
        site: str,
        since: datetime | None = None,
        until: datetime | None = None,
        *,
        zone: str | None = None,
        within: str | None = None,
    ) -> nights.Raster:
        """Return the nights of a site, or of one point, as frames; see ``nights.raster``."""
        self._known(site)
        point = None if zone is None else points.point_of(self.standing(), site, zone, within)
        return nights.raster(self.standing(), site, since, until, point)

    def usual_hours(self, site: str) -> UsualHours:
        """Return when a site is usually opened and closed; see ``hours.UsualHours``."""
        return usual_hours(self._standing_of(site), self._context(), self.settings, site)

    def people(self, site: str, at: date | None = None) -> PeopleView:
        """Return how a site is used, and what training on a date came to; see ``people_view``."""
        standing, around = self._standing_of(site), self._context()
        return people_view(standing, self.settings, site, at, everywhere=self._acts, around=around)

    def _acts(self) -> pl.DataFrame:
        """Return the openings and closings of all sites."""
        return fetch(self.store.events(kinds=[Kind.ARM, Kind.DISARM], columns=list(ACTS)))

    def proof(
        self,
        site: str,
        *,
        at: date | None = None,
        visit: int | None = None,
        zone: str | None = None,
    ) -> proving.Proof:
        """Say whether something worked: before and after a date or visit; see ``proving.prove``."""
        standing = self._standing_of(site)
        return proving.prove(standing, site, self.settings, at=at, visit=visit, zone=zone)

    def alive(self, site: str) -> alive.AliveView:
        """Say what of a site is still listening; see ``alive.alive_view``.

        How long cells last is learned from all sites of the store.
        """
        with self._one_look():
            self._known(site)
            whole = len(self._divided()) <= 1
            standing = self.standing() if whole else self._standing_of(site)
            return alive.alive_view(
                standing, self.settings, site, self.now(), fleet=lambda: self._fleet().lives
            )

    def fleet(self) -> fleet.FleetView:
        """Say how long cells last and which devices fail, over all sites; see ``fleet``."""
        return fleet.fleet_view(self._fleet(), self.settings)

    def how_sure(self) -> HowSure:
        """Hold the causes told to the recorded outcomes; see ``learning.how_sure``."""
        self._context()
        return how_sure(self._lists[2] if self._lists else Learning(), self.settings)

    def around(self, site: str, occurrence: int) -> pl.DataFrame:
        """Return the events from half an hour before an alarm to half an hour after it."""
        self._known(site)
        since, until = nights.around(self.standing(), site, occurrence)
        return self.events(site=site, since=since, until=until)

    def logs(self) -> pl.DataFrame:
        """Return the exports that were taken, newest first."""
        return self.store.exports().sort("taken_at", descending=True)

    def unread(self, *, site: str | None = None) -> pl.DataFrame:
        """Return the rows that could not be read; see ``unread.unread``."""
        return unread_rows(self.store, site)

    def newest(self) -> datetime | None:
        """Return the time of the newest row of all logs, in UTC; None where there is none."""
        placed = fetch(self.store.events(columns=["placed"]).select(pl.col("placed").max()))
        newest: datetime | None = placed.item()
        return newest

    @staticmethod
    def _of(frame: pl.DataFrame, site: str | None) -> pl.DataFrame:
        return frame if site is None else frame.filter(pl.col("site") == site)
