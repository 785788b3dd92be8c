"""The store as other rooms see it."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path

import polars as pl

from eventlab.errors import NoStore
from eventlab.schema import Schema
from eventlab.store import ledger, reading, rebuilding, shelf, taking, upkeep
from eventlab.store.folders import at
from eventlab.store.place import Place
from eventlab.store.table import bucket_count
from eventlab.store.values import Export, Problem, Rebuilt, Taken, Tidied

BUCKETS = 64
"""Partitions of the event table: sites share them, so that files are neither many nor huge."""


class Store:
    """Events of many sites, each row kept once; originals and small tables beside them.

    It holds no open table: every call looks at the store as it is then, and an object may be
    sent to another process. Made by ``create`` and ``open``.

    Parameters
    ----------
    place : Place
        Where it lies.
    """

    def __init__(self, place: Place) -> None:
        self.place = place

    @classmethod
    def create(
        cls,
        location: str | Path,
        *,
        buckets: int = BUCKETS,
    ) -> "Store":
        """Make a store; one that is there already is opened as it is.

        Parameters
        ----------
        location : str or Path
            Its folder, or ``s3://bucket/prefix``.
        buckets : int
            Number of partitions, fixed for ever.

        Returns
        -------
        Store
            Opened.
        """
        place = Place(at(location))
        place.create(buckets)
        return cls.open(location)

    @classmethod
    def open(
        cls,
        location: str | Path,
        *,
        create: bool = False,
    ) -> "Store":
        """Open a store.

        Parameters
        ----------
        location : str or Path
            Its folder, or ``s3://bucket/prefix``.
        create : bool
            Make it where there is none.

        Returns
        -------
        Store
            Opened.

        Raises
        ------
        NoStore
            Where there is none.
        NewerStore
            Where a newer program wrote it.
        """
        place = Place(at(location))
        try:
            place.look()
        except NoStore:
            if not create:
                raise
            place.create(BUCKETS)
        return cls(place)

    @classmethod
    def at(cls, location: str | Path) -> "Store":
        """Return what lies at a place without a look at it, so that it can be checked."""
        return cls(Place(at(location)))

    def keep(self, source: Path | bytes, *, sha256: str, name: str) -> None:
        """Keep an original byte for byte, compressed; comes before ``take``.

        It appears whole or not at all; nothing happens where it is kept already. May run in a
        thread of its own.

        Parameters
        ----------
        source : Path or bytes
            The file, or what is in it.
        sha256 : str
            Its hash.
        name : str
            Its name as given, no folder.

        Raises
        ------
        StoreError
            Where the bytes do not have that hash.
        """
        self.place.originals.keep(source, sha256=sha256, name=name)

    def original(self, sha256: str) -> bytes:
        """Return an original, checked against its hash.

        Raises
        ------
        DamagedStore
            Where it is missing or is not what it was.
        """
        return self.place.originals.read(sha256)

    def take(self, events: pl.DataFrame, export: Export) -> Taken:
        """Unite an export with what is stored, in one commit; all of it or nothing.

        Taking the same export again, with the same answers, changes nothing; so a take that was
        cut short at any instant is simply done again.

        Parameters
        ----------
        events : polars.DataFrame
            Columns of ``EVENT``, unread rows among them; every row of the file in one event or
            more. ``nth`` and ``source`` are set here.
        export : Export
            The file and how it was read.

        Returns
        -------
        Taken
            What became of its rows.

        Raises
        ------
        OtherAnswers
            Where the same bytes were taken before with other answers, site or time zone.
        StoreBusy
            Where other writers never left a turn.
        StoreError
            Where the original was not kept, where events do not account for every row, or where
            a site holds rows of another version of the reader (see ``readings``).
        """
        return taking.take(self.place, [lambda: (events, export.rows)], export)

    def take_parts(self, parts: Sequence[taking.Part], export: Export) -> Taken:
        """Take an export that is read in parts, one in memory at a time, in one commit.

        Parameters
        ----------
        parts : sequence of callable
            Each reads the rows of some sites and gives its events and how many rows they
            account for; may be called again where another writer came between.
        export : Export
            The file and how it was read; its rows are counted here.

        Returns
        -------
        Taken
            What became of its rows; raises as ``take``.

        Raises
        ------
        SitesMeet
            Where two parts tell of one site.
        """
        return taking.take(self.place, parts, export)

    def buckets(self) -> int:
        """Return the number of partitions, fixed when the store was made."""
        return bucket_count(self.place.look())

    def rebuild(
        self,
        sites: Sequence[str],
        read: Callable[[Export, bytes], pl.DataFrame],
        *,
        drop: frozenset[str] = frozenset(),
        change: Mapping[str, Export] | None = None,
    ) -> Rebuilt:
        """Read all originals of some sites again and put the result in place of their rows.

        One verb for dropping an export, changing an answer and reading with a better reader;
        one commit, all of it or nothing. Sites that an export gains or loses by it are made
        anew too, and so are all sites of a dropped or changed export.

        Parameters
        ----------
        sites : sequence of str
            Sites to make anew; may be empty where ``drop`` or ``change`` names exports.
        read : callable
            Given the export as it shall be read and its bytes, returns its events.
        drop : frozenset of str
            Hashes of exports to take out; their originals are removed after the commit.
        change : mapping of str to Export, optional
            By hash, exports that shall be read with other answers from now on.

        Returns
        -------
        Rebuilt
            What was made anew.

        Raises
        ------
        NotFound
            Where an export to drop or change is not in the store.
        DamagedStore
            Where an original is missing or damaged; nothing was changed.
        StoreBusy
            Where other writers never left a turn.
        """
        return rebuilding.rebuild(self.place, sites, read, drop=drop, change=change or {})

    def events(
        self,
        *,
        sites: Sequence[str] | None = None,
        since: date | None = None,
        until: date | None = None,
        kinds: Sequence[str] | None = None,
        columns: Sequence[str] | None = None,
    ) -> pl.LazyFrame:
        """Return events, bucket after bucket, sorted by site and ``placed`` inside.

        Say here what is wanted: filters and columns that are put on the result later cannot
        spare reading the files.

        Parameters
        ----------
        sites : sequence of str, optional
            All sites where left out; rows of unknown site have an empty name.
        since, until : date or datetime, optional
            From this instant on, and before that one; dates begin at midnight UTC.
        kinds : sequence of str, optional
            All kinds where left out.
        columns : sequence of str, optional
            Columns of ``EVENT``; all where left out.

        Returns
        -------
        polars.LazyFrame
            Types of ``EVENT``.
        """
        return reading.events(
            self.place.open(),
            sites=sites,
            since=since,
            until=until,
            kinds=kinds,
            columns=columns,
        )

    def readings(self, sites: Sequence[str]) -> pl.DataFrame:
        """Return which readings the rows of these sites have.

        Rows of two versions of the reader never stand in one site: before an export read by
        another version is taken, its sites have to be rebuilt. The version is what stands
        before a ``+``.

        Returns
        -------
        polars.DataFrame
            Columns site, reading.
        """
        return reading.readings(self.place.open(), sites)

    def exports(self) -> pl.DataFrame:
        """List the exports in the store in the order of their taking.

        Returns
        -------
        polars.DataFrame
            Columns of ``ledger.LEDGER``; ``rows == read + repeated + unread``.
        """
        return ledger.listed(self.place.originals, self.place.open())

    def spans(self) -> pl.DataFrame:
        """Say from when to when each export reaches: united events do not show where one ends.

        Returns
        -------
        polars.DataFrame
            ``site``, ``source`` (hash of the export), ``since``, ``until``: the whole export's
            first and last time, once for each of its sites.
        """
        return ledger.spans(self.place.originals, self.place.open())

    def sizes(self) -> pl.DataFrame:
        """Count the events of each site.

        Returns
        -------
        polars.DataFrame
            ``site``, ``events``, in the order in which ``events`` gives them.
        """
        return reading.sizes(self.place.open())

    def export(self, sha256: str) -> Export | None:
        """Return how an export was taken; None where it is not in the store."""
        found = ledger.find(self.place.originals, self.place.open(), sha256)
        return found.export if found else None

    def takings(self) -> list[tuple[Export, tuple[str, ...]]]:
        """List how each export was taken and the sites it has rows of, in the order of taking."""
        found = ledger.entries(self.place.originals, self.place.open())
        return [(one.export, tuple(sorted(one.sites))) for one in found]

    def waiting(self) -> list[Export]:
        """List originals that were kept but not taken: name and hash only.

        A question about them waits, or their intake was cut short.
        """
        return ledger.waiting(self.place.originals, self.place.open())

    def let_go(self, sha256: str) -> None:
        """Remove an original that was kept while a question about it waited; else do nothing."""
        originals = self.place.originals
        if originals.holds(sha256) and any(one.sha256 == sha256 for one in self.waiting()):
            originals.remove(sha256)

    def put(
        self,
        table: str,
        frame: pl.DataFrame,
        *,
        key: Sequence[str],
        replaces: Sequence[str] | None = None,
    ) -> None:
        """Put rows into a small table; rows with the same key are replaced.

        Parameters
        ----------
        table : str
            Its name; made where there is none.
        frame : polars.DataFrame
            Rows; of those with one key the last counts. Columns may be lists.
        key : sequence of str
            Columns that make two rows the same.
        replaces : sequence of str, optional
            Columns of which a new row replaces all earlier rows; the key where left out.
        """
        shelf.put(self.place, table, frame, key=key, replaces=replaces)

    def table(self, table: str, schema: Schema) -> pl.DataFrame:
        """Return a small table in the shape of a schema; no rows where there is none."""
        return shelf.get(self.place, table, schema)

    def version(self) -> str:
        """Return a text that changes whenever events or small tables change."""
        parts = {"events": self.place.look().version(), **shelf.versions(self.place)}
        return " ".join(f"{name}:{version}" for name, version in parts.items())

    def check(self) -> list[Problem]:
        """Find what is wrong: files, originals, records, counts. Reads everything."""
        return upkeep.check(self.place)

    def tidy(self) -> Tidied:
        """Join small files and remove those that nothing needs any more, after a week.

        Other writers may go on meanwhile.
        """
        return upkeep.tidy(self.place)

    def history(self) -> pl.DataFrame:
        """List what was done to the event table, newest first.

        Returns
        -------
        polars.DataFrame
            Columns of ``upkeep.HISTORY``.
        """
        return upkeep.history(self.place)
