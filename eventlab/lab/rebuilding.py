"""Sites read again from their originals, with the reader and the lists of now."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import polars as pl

from eventlab.context import Context
from eventlab.errors import QuestionsWait
from eventlab.intake import read_bytes
from eventlab.lab.identity import as_known
from eventlab.lab.lessons import unlearned
from eventlab.meaning import READER, read_log
from eventlab.store import Export, Store


@dataclass(frozen=True)
class Retaken:
    """What became of a retake: how many exports, sites and events it touched."""

    exports: int
    sites: int
    events: int


def rebuild(
    store: Store,
    context: Context,
    sites: Sequence[str],
    *,
    drop: frozenset[str] = frozenset(),
    change: Mapping[str, Export] | None = None,
) -> Retaken:
    """Read all originals of some sites again with what is known now."""
    done = store.rebuild(sites, _reader(context), drop=drop, change=change)
    return Retaken(
        exports=len(done.exports) + len(done.dropped), sites=len(done.sites), events=done.after
    )


def refresh(store: Store, context: Context, sites: Sequence[str]) -> None:
    """Read sites again whose stored rows another version of the reader made.

    Rows of two versions never stand in one site, so this comes before new rows. What was taught
    since is part of the version, where it would read a row of the site otherwise.
    """
    versions = store.readings(sites).filter(pl.col("reading").str.split("+").list.first() != READER)
    stale = {*versions["site"], *unlearned(store, context.taught, sites)}
    if stale:
        rebuild(store, context, sorted(stale))


def _reader(context: Context) -> Callable[[Export, bytes], pl.DataFrame]:
    def read(export: Export, data: bytes) -> pl.DataFrame:
        reading = read_log(read_bytes(data, name=export.name), as_known(context, export))
        if reading.questions:
            raise QuestionsWait(
                f"a question waits: {reading.questions[0].text}",
                where=export.name,
                do=f"Answer it with eventlab retake --export {export.sha256[:12]} --answer …",
            )
        return reading.events

    return read


def touched(before: Context, after: Context) -> list[str]:
    """List the sites whose stored rows may read otherwise by a new list or schedule.

    Only time zones and the names of points change how a row is read.

    Parameters
    ----------
    before, after : Context
        What was known and what is known.

    Returns
    -------
    list of str
        Sites, also such as have no log yet.
    """
    pairs = [
        (before.sites, after.sites, ["site", "time_zone"]),
        (before.zones, after.zones, ["site", "zone", "name"]),
    ]
    sites: set[str] = set()
    for old, new, columns in pairs:
        for one, other in ((old, new), (new, old)):
            differ = one.join(other, on=columns, how="anti", nulls_equal=True)
            sites |= set(differ["site"].drop_nulls())
    return sorted(sites)


def stored_sites(store: Store) -> list[str]:
    """List the sites of all exports that were taken."""
    return store.exports()["sites"].explode().drop_nulls().unique().sort().to_list()
