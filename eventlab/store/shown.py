"""What one export shows: its rows in store order, each with its number among its equals."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl
from polars.datatypes import DataType, DataTypeClass

from eventlab.errors import StoreError
from eventlab.intake.distinct import numbered
from eventlab.schema import EVENT, STORED, Kind, Timing, conform
from eventlab.store.segments import Positions, in_order
from eventlab.store.table import BUCKET, bucket_of
from eventlab.store.values import DOUBLED, Export, Taken

_THREADS = 2
_SECOND = 1_000_000
_ROWS_FOR_TEXT = 16
"""Rows that must stand against each distinct text in a file."""

Flags = npt.NDArray[np.bool_]

KEY = ("site", "witness", "time", "by_wall", "behind", "kind", "phase", "area", "zone", "person")
"""Columns that make two rows of different exports the same row; ``nth`` goes with them."""


def key(*, unread: bool) -> list[pl.Expr]:
    """Return the union key as expressions over event columns, as text and whole numbers.

    The time is ``at``, and where that is null ``wall`` with the place: the second of the nearest
    sure row before it. A clock that begins anew after each loss of power says the same each time,
    and two such rows are one only behind the same row. Of an unread row only the site, the wall
    time and its text count; the text stands in the place of the area, which it cannot have.

    Parameters
    ----------
    unread : bool
        False where the rows are known to hold no unread ones; saves work, changes nothing.
    """
    at, wall = pl.col("at").to_physical(), pl.col("wall").to_physical()
    text = {name: pl.col(name).cast(pl.String) for name in ("witness", "kind", "phase")}
    behind = pl.col("placed").to_physical() // _SECOND
    if not unread:
        return [
            pl.col("site"),
            text["witness"],
            pl.coalesce(at, wall).alias("time"),
            pl.col("at").is_null().alias("by_wall"),
            pl.when(pl.col("at").is_null()).then(behind).alias("behind"),
            text["kind"],
            text["phase"],
            pl.col("area", "zone", "person"),
        ]
    is_unread = pl.col("kind") == Kind.UNREAD
    return [
        pl.col("site"),
        pl.when(~is_unread).then(text["witness"]).alias("witness"),
        pl.when(is_unread).then(wall).otherwise(pl.coalesce(at, wall)).alias("time"),
        (pl.col("at").is_null() | is_unread).alias("by_wall"),
        pl.when(pl.col("at").is_null() & ~is_unread).then(behind).alias("behind"),
        text["kind"],
        pl.when(~is_unread).then(text["phase"]).alias("phase"),
        pl.when(is_unread).then("raw").otherwise("area").alias("area"),
        *(pl.when(~is_unread).then(name).alias(name) for name in ("zone", "person")),
    ]


KEY_SOURCES = (
    *("site", "witness", "at", "placed", "wall", "kind"),
    *("phase", "area", "zone", "person", "raw"),
)
"""Event columns that ``key`` reads."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What one export shows.

    Parameters
    ----------
    events : polars.DataFrame
        Its events in file order, columns of ``EVENT``.
    sites : tuple of str
        Its sites by bucket, then name; an empty name is "site not known".
    code : array of uint32
        By position: number of the row's site in ``sites``.
    order : array of uint32
        Positions in store order: bucket, site, time.
    bounds : dict
        Bucket to the slice of ``order`` it takes.
    nth : array of int32
        By position: 1, 2, … among the rows of one part of the file with the same key.
    again : array of bool
        By position: shown before by another part of the file.
    unread : bool
        True where unread rows are among them.
    """

    events: pl.DataFrame
    sites: tuple[str, ...]
    code: npt.NDArray[np.uint32]
    order: Positions
    bounds: dict[int, slice]
    nth: npt.NDArray[np.int32]
    again: Flags
    unread: bool

    def keys(self, positions: Positions) -> pl.DataFrame:
        """Return the union key and ``nth`` of the rows at these positions."""
        at = pl.Series(positions)
        return (
            self.events.select(pl.col(name).gather(at) for name in KEY_SOURCES)
            .select(*key(unread=self.unread))
            .with_columns(nth=pl.Series(self.nth[positions]))
        )

    def stored(self, fresh: Flags, source: str) -> Iterator[pl.DataFrame]:
        """Yield the fresh rows as the table holds them, bucket by bucket, in store order.

        Text of few distinct values is an enum, which is written faster and read back as text.
        """
        lasting = {**_lasting(self.events), "source": source}
        moving = self.events.select(n for n in STORED if n not in {*lasting, "site", "nth"})
        if fresh.all():
            order, bounds = self.order, self.bounds
        else:
            kept = fresh[self.order]
            order, before = self.order[kept], np.r_[0, np.cumsum(kept)]
            bounds = {b: slice(before[p.start], before[p.stop]) for b, p in self.bounds.items()}
        rows = _few(moving, len(bounds)).select(pl.all().gather(pl.Series(order)))
        nth = self.nth[order]
        for bucket, part in bounds.items():
            if part.stop == part.start:
                continue
            own = {name: _literal(value, STORED[name]) for name, value in lasting.items()}
            own["site"] = pl.lit(self._sites(order[part]))
            own["nth"] = pl.lit(pl.Series(nth[part]))
            yield rows[part].select(
                *(own.get(name, pl.col(name)).alias(name) for name in STORED),
                pl.lit(bucket, pl.Int32).alias(BUCKET),
            )

    def _sites(self, positions: Positions) -> pl.Series:
        """Return the sites of rows in store order, as an enum of these sites."""
        code = self.code[positions]
        first, last = int(code[0]), int(code[-1])
        sites = self.sites[first : last + 1]
        return pl.Series(sites, dtype=pl.Enum(sites)).gather(code - first)

    def rows(self, positions: Positions, source: str) -> pl.DataFrame:
        """Return the rows at these positions with the stored types."""
        at = pl.Series(positions)
        mine = {
            "source": pl.lit(source),
            "nth": pl.lit(pl.Series(self.nth[positions])),
        }
        return self.events.select(
            pl.col(name).gather(at) for name in STORED if name not in mine
        ).select(
            mine[name].alias(name) if name in mine else pl.col(name).cast(dtype)
            for name, dtype in STORED.items()
        )

    def counts(self, fresh: Flags, seam: int) -> Taken:
        """Count rows and events, given which events are new in the store."""
        row = self.events["row"].to_numpy()
        unread = (self.events["kind"] == Kind.UNREAD).to_numpy()
        doubtful = (self.events["timing"] == Timing.DOUBTFUL).fill_null(value=False).to_numpy()
        starts = np.flatnonzero(np.r_[True, row[1:] != row[:-1]]) if len(row) else row
        told = fresh & ~unread

        def rows_with(flags: Flags) -> Flags:
            if len(starts) == len(row):
                return flags  # one event a row
            return np.logical_or.reduceat(flags, starts)

        # A row that tells two things, one of them not understood, counts once: as unread.
        left = rows_with(fresh & unread)
        read = rows_with(told) & ~left
        rows = len(starts)
        return Taken(
            rows=rows,
            read=int(read.sum()),
            events=int(told.sum()),
            repeated=rows - int(read.sum()) - int(left.sum()),
            unread=int(left.sum()),
            doubtful=int(rows_with(told & doubtful).sum()),
            seam=seam,
        )


def show(events: pl.DataFrame, export: Export, buckets: int) -> Shown:
    """Order and number what one export shows.

    Parameters
    ----------
    events : polars.DataFrame
        Columns of ``EVENT``; every row of the file in one event or more.
    export : Export
        The export they were read from.
    buckets : int
        Number of buckets of the store.

    Returns
    -------
    Shown
        Ordered and numbered.

    Raises
    ------
    StoreError
        Where the events do not account for every row of the file.
    """
    events = _whole(events)
    _account(events, export)
    named = events["site"].unique().to_list()
    sites = sorted(named, key=lambda site: (bucket_of(site, buckets), site))
    code = events["site"].cast(pl.Enum(sites)).to_physical().to_numpy().astype(np.uint32)
    placed = events["placed"].to_physical().to_numpy()
    order = in_order(code, placed, (events["kind"] == Kind.CLOCK_SET).to_numpy())
    shown = Shown(
        events=events,
        sites=tuple(sites),
        code=code,
        order=order.positions,
        bounds=_bounds(sites, code[order.positions], buckets),
        nth=np.ones(events.height, dtype=np.int32),
        again=np.zeros(events.height, dtype=np.bool_),
        unread=bool((events["kind"] == Kind.UNREAD).any()),
    )
    # Rows with the same key have the same place, so they stand side by side in store order;
    # except where ``at`` is null and the place is only an estimate.
    loose = events.select(pl.col("at").is_null() | (pl.col("kind") == Kind.UNREAD)).to_series()
    alike = loose.to_numpy().copy()
    alike[order.tied] = True
    twice = export.answers.get(DOUBLED) == "yes"
    _number(shown, np.flatnonzero(alike).astype(np.uint32), order.segment, twice=twice)
    return shown


def _whole(events: pl.DataFrame) -> pl.DataFrame:
    """Bring the frame into shape; one that is in shape is not copied."""
    if events.schema != pl.Schema(EVENT):
        events = conform(events, EVENT)
    if not events["row"].is_sorted():
        events = events.sort("row", "piece", maintain_order=True)
    if events["site"].null_count():
        events = events.with_columns(pl.col("site").fill_null(""))
    if (events["at"].is_not_null() & events["at"].ne_missing(events["placed"])).any():
        events = events.with_columns(placed=pl.coalesce("at", "placed"))
    if events["placed"].null_count():
        near = pl.col("placed").forward_fill().backward_fill()
        first = pl.lit(0).cast(EVENT["placed"])
        events = events.with_columns(near.fill_null(first))
    return events.rechunk() if max(events.n_chunks("all"), default=1) > 1 else events


def _lasting(events: pl.DataFrame) -> dict[str, object]:
    """Return the columns that hold one value throughout, null too, with this value."""
    found: dict[str, object] = {}
    for column in events.select(pl.exclude("site", "nth", "source")):
        if not len(column):
            continue
        ends = column[0], column[-1], column[len(column) // 2]
        if ends[0] is None:
            same = column.null_count() == len(column)
        else:
            same = ends[0] == ends[1] == ends[2] and column.null_count() == 0
            same = same and bool((column == ends[0]).all())
        if same:
            found[column.name] = ends[0]
    return found


def _literal(value: object, dtype: DataType | DataTypeClass) -> pl.Expr:
    """Return one value for all rows; a text as an enum of itself."""
    if dtype == pl.String:
        return pl.lit(value, pl.String).cast(pl.Enum([] if value is None else [str(value)]))
    return pl.lit(value, dtype)


def _few(events: pl.DataFrame, buckets: int) -> pl.DataFrame:
    """Make enums of texts where their list, which stands in each file, is short for the rows."""
    most = events.height // (_ROWS_FOR_TEXT * max(buckets, 1))
    columns = [events[name] for name, dtype in events.schema.items() if dtype == pl.String]
    with ThreadPoolExecutor(_THREADS) as beside:
        texts = list(beside.map(lambda column: numbered(column, most=most), columns))
    return events.with_columns(text for text in texts if text is not None)


def _account(events: pl.DataFrame, export: Export) -> None:
    row = events["row"].to_numpy()
    rows = int((row[1:] != row[:-1]).sum()) + 1 if len(row) else 0
    if rows != export.rows:
        raise StoreError(
            f"the reading accounts for {rows} of {export.rows} rows; nothing was taken",
            where=export.name,
        )


def _bounds(sites: list[str], code: npt.NDArray[np.uint32], buckets: int) -> dict[int, slice]:
    if not sites:
        return {}
    bucket = np.array([bucket_of(site, buckets) for site in sites])[code]
    starts = np.flatnonzero(np.r_[True, bucket[1:] != bucket[:-1]])
    ends = np.r_[starts[1:], len(bucket)]
    return {
        int(bucket[start]): slice(int(start), int(end))
        for start, end in zip(starts, ends, strict=True)
    }


def _number(
    shown: Shown, positions: Positions, segment: npt.NDArray[np.int64] | None, *, twice: bool
) -> None:
    """Give the rows at these positions, in file order, their numbers among their equals.

    Hashes only tell which rows need a closer look; equality is decided on the key itself.
    """
    if not len(positions):
        return
    keys = shown.keys(positions).drop("nth")
    look = keys.hash_rows().is_duplicated()
    positions, keys = positions[look.to_numpy()], keys.filter(look)
    among = list(KEY)
    if segment is not None:
        keys = keys.with_columns(segment=pl.Series(segment[positions]))
        among.append("segment")
    nth = keys.select(pl.int_range(1, pl.len() + 1, dtype=pl.Int32).over(among)).to_series()
    if twice:
        nth = (nth + 1) // 2
    shown.nth[positions] = nth.to_numpy()
    if segment is not None or twice:
        before = keys.with_columns(nth=nth).select(pl.int_range(pl.len()).over(*KEY, "nth") > 0)
        shown.again[positions] = before.to_series().to_numpy()
