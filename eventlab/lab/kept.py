"""A store with what is worked out from it, kept until the store changes."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import polars as pl

from eventlab.context import Context
from eventlab.errors import NoStore, NotFound
from eventlab.lab.fleet import Gathered, gather, of_ground
from eventlab.lab.learning import Learning, in_force
from eventlab.lab.portfolio import Portfolio, in_parts, parts, processes
from eventlab.lab.standing import Standing, work_out
from eventlab.settings import Settings
from eventlab.store import Store, fetch


class Kept:
    """One store with what stands for its sites, worked out once until the store changes.

    Parameters
    ----------
    location : str or Path
        The folder of the store.
    create : bool
        Make the store where there is none.
    dry : bool
        Do without a store where there is none: files can be read, nothing is kept.
    settings : Settings
        The settings in force.
    now : datetime, optional
        The time as of which is told; the clock of this machine where left out.

    Raises
    ------
    NoStore
        Where there is none and none is to be made.
    """

    def __init__(
        self,
        location: str | Path,
        *,
        create: bool = False,
        dry: bool = False,
        settings: Settings | None = None,
        now: datetime | None = None,
    ) -> None:
        self.settings = settings or Settings()
        self._now = now
        self._lock = threading.Lock()
        self._looked = threading.local()
        self._kept: tuple[str, Standing] | None = None
        self._lists: tuple[str, Context, Learning] | None = None
        self._gathered: tuple[str, Gathered] | None = None
        self._sizes: tuple[str, list[list[str]]] | None = None
        self._store: Store | None
        try:
            self._store = Store.open(location, create=create)
        except NoStore:
            if not dry:
                raise
            self._store = None
        self._dry = dry

    @property
    def store(self) -> Store:
        """The store itself.

        Raises
        ------
        NoStore
            In a dry run without one.
        """
        if self._store is None:
            raise NoStore("there is no store", do="Name one with --store.")
        return self._store

    def now(self) -> datetime:
        """Return the time as of which is told, in UTC."""
        return self._now or datetime.now(UTC)

    def version(self) -> str:
        """Return a text that changes whenever an answer may change."""
        seen: str | None = getattr(self._looked, "version", None)
        return seen or self.store.version()

    @contextmanager
    def _one_look(self) -> Iterator[None]:
        """Answer one question by one state of the store: its version is read once."""
        self._looked.version = self.version()
        try:
            yield
        finally:
            del self._looked.version

    def standing(self) -> Standing:
        """Return all that was found out about the store as it is now."""
        version = self.version()
        with self._lock:
            if self._kept is None or self._kept[0] != version:
                events = fetch(self.store.events())
                found = self._work_out(events, self._context())
                self._kept = (version, found)
            return self._kept[1]

    def found(self, site: str | None = None) -> Standing | Portfolio:
        """Return what stands for all sites, or for one without working out all others.

        Parameters
        ----------
        site : str, optional
            Which; all where left out.

        Returns
        -------
        Standing or Portfolio
            Findings and episodes; a store of many events is worked out in parts.
        """
        if site is not None:
            return self._standing_of(site)
        divided = self._divided()
        if self._fresh() or len(divided) <= 1:
            return self.standing()
        with processes(len(divided)) as executor:
            known = self._context()
            return in_parts(
                self.store, divided, known, self.settings, now=self._now, executor=executor
            )

    def _divided(self) -> list[list[str]]:
        """Divide the sites of the store, kept until it changes; see ``portfolio.parts``."""
        version = self.version()
        if self._sizes is None or self._sizes[0] != version:
            self._sizes = (version, parts(self.store))
        return self._sizes[1]

    def _fresh(self) -> bool:
        return self._kept is not None and self._kept[0] == self.version()

    def _standing_of(self, site: str) -> Standing:
        """Return what stands for one site: as it is kept, else worked out for it alone."""
        self._known(site)
        if self._fresh():
            return self.standing()
        events = fetch(self.store.events(sites=[site]))
        return self._work_out(events, self._context().only([site]))

    def _work_out(self, events: pl.DataFrame, context: Context) -> Standing:
        spans = self.store.spans()
        return work_out(events, context, self.settings, now=self._now, spans=spans)

    def _fleet(self) -> Gathered:
        """Return what all sites tell of cells and devices, kept until the store changes."""
        version = self.version()
        if self._gathered is None or self._gathered[0] != version:
            context = self._context()
            told = (
                of_ground(self.standing().ground, context, self.settings)
                if self._fresh()
                else gather(self.store, context, self.settings, now=self._now)
            )
            self._gathered = (version, told)
        return self._gathered[1]

    def _context(self) -> Context:
        """Return what is known of sites, kept until the store changes."""
        version = self.version()
        if self._lists is None or self._lists[0] != version:
            self._lists = (version, *in_force(self.store, self.settings, now=self._now))
        return self._lists[1]

    def _known(self, site: str) -> None:
        context = self._context()
        if site in context.sites["site"]:
            return
        if fetch(self.store.events(sites=[site]).head(1)).is_empty():
            listed = ", ".join(context.sites["site"].sort().head(12).to_list()) or "none yet"
            raise NotFound(f"there is no site {site!r}", do=f"Known sites: {listed}.")
