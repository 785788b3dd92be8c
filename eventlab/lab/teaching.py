"""Wordings that a person says the meaning of: listed, taught, taken back, carried elsewhere."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import polars as pl

from eventlab.context import Context
from eventlab.errors import NotFound, UsageError
from eventlab.lab.lessons import unlearned, wordings
from eventlab.lab.rebuilding import rebuild
from eventlab.lab.suggestions import suggested
from eventlab.lab.working import TAUGHT_TABLE, taught_in
from eventlab.meaning import (
    NUMBERS,
    counted_by,
    forms,
    in_force,
    speaks_of_life,
    understand_words,
)
from eventlab.schema import LIFE_SAFETY, MOMENTS, TAUGHT, Kind, Phase, Schema, conform
from eventlab.store import Store


@dataclass(frozen=True)
class Lesson:
    """One wording and what it means.

    Parameters
    ----------
    wording : str
        An example as it stood; its numbers are places.
    kind, phase : str
        What it means; without a phase a kind that begins and ends begins.
    site : str or None
        The one site where it means that; None for all of the store.
    number : str or None
        What a number in it counts, one of ``NUMBERS``; the usual of the kind where left out.
    no_life_safety : bool
        A person looked at a word of life safety in it and says that it is no such event.
    """

    wording: str
    kind: str
    phase: str | None = None
    site: str | None = None
    number: str | None = None
    no_life_safety: bool = False


@dataclass(frozen=True)
class Learned:
    """What teaching or taking back changed.

    Parameters
    ----------
    forms : tuple of str
        The wordings, their numbers taken out.
    read, unread : int
        Rows that are now read, and rows that are now not understood, that were not before.
    exports, sites : int
        Exports that were read again, and the sites they are of.
    """

    forms: tuple[str, ...]
    read: int
    unread: int
    exports: int
    sites: int


STRANGERS: Schema = {
    "wording": pl.String(),
    "form": pl.String(),
    "problem": pl.String(),
    "sites": pl.List(pl.String()),
    "rows": pl.Int64(),
    "life_safety": pl.Boolean(),
    "kind": pl.String(),
    "phase": pl.String(),
    "probability": pl.Float64(),
}
"""A wording that is not understood, how often it stands where, and what it may mean."""


def strangers(store: Store, *, guess: bool = True) -> pl.DataFrame:
    """List wordings that are not understood, numbers taken out, and what they may mean.

    Parameters
    ----------
    store : Store
        Where the rows are.
    guess : bool
        Whether to say what they may mean, which may take seconds the first time.

    Returns
    -------
    polars.DataFrame
        Columns of ``STRANGERS``, most rows first. ``wording`` is an example; ``kind``, ``phase``
        and ``probability`` are null where nothing is worth telling; where ``life_safety`` is true
        a person must decide.
    """
    found = wordings(store).filter(pl.col("problem").is_not_null())
    told = (
        found.filter(pl.col("form").str.contains(r"\p{L}"))
        .sort("rows", "text", descending=[True, False])
        .group_by("form", maintain_order=True)
        .agg(
            wording=pl.col("text").first(),
            problem=pl.col("problem").first(),
            sites=pl.col("site").unique().sort(),
            rows=pl.col("rows").sum(),
        )
        .sort("rows", "wording", descending=[True, False])
    )
    if guess:
        asked = suggested(told["wording"], taught_in(store)).rename({"life": "life_safety"})
    else:
        asked = speaks_of_life(told["wording"]).rename({"life": "life_safety"})
    return conform(
        told.join(asked, left_on="wording", right_on="text", how="left", maintain_order="left"),
        STRANGERS,
    )


def teach(store: Store, context: Context, lessons: Sequence[Lesson], *, now: datetime) -> Learned:
    """Keep what wordings mean, and read again what is stored of them.

    Parameters
    ----------
    store : Store
        Where they are kept.
    context : Context
        What is known of sites.
    lessons : sequence of Lesson
        What is said; all of them or none.
    now : datetime
        When it was said, UTC.

    Returns
    -------
    Learned
        What changed.

    Raises
    ------
    UsageError
        Where a wording is read by the tables, speaks of life safety and is told to be ordinary, or
        where what it shall mean is no kind.
    """
    rows = [{**_checked(one), "at": now.astimezone(UTC)} for one in lessons]
    return _keep(store, context, pl.DataFrame(rows, schema_overrides=TAUGHT))


def forget(
    store: Store, context: Context, wording: str, *, site: str | None, now: datetime
) -> Learned:
    """Take back what was taught of a wording, and read again what is stored of it.

    Parameters
    ----------
    store : Store
        Where it is kept.
    context : Context
        What is known of sites.
    wording : str
        As it was taught, or any wording that differs in its numbers alone.
    site : str or None
        The site it was taught for; None for what was taught for all.
    now : datetime
        When, UTC.

    Raises
    ------
    NotFound
        Where it was not taught so.
    """
    form = _form(wording)
    held = in_force(context.taught)
    held = held.filter(pl.col("form") == form, pl.col("site").eq_missing(pl.lit(site)))
    if held.is_empty():
        told = f"site {site}" if site else "all sites"
        raise NotFound(
            f"“{wording}” was not taught for {told}", do="'eventlab teach' lists what was."
        )
    gone = {"kind": None, "phase": None, "number": None, "at": now.astimezone(UTC)}
    row = {**held.select("form", "site", "wording").row(0, named=True), **gone}
    return _keep(store, context, pl.DataFrame([row], schema_overrides=TAUGHT))


def _keep(store: Store, context: Context, rows: pl.DataFrame) -> Learned:
    rows = conform(rows, TAUGHT)
    before = _not_read(store)
    # Kept first: a taking that runs now finds it there when it is done.
    store.put(TAUGHT_TABLE, rows, key=("form", "site"))
    taught = taught_in(store)
    context = Context(**{**vars(context), "taught": taught})
    sites = unlearned(store, taught)
    done = rebuild(store, context, sites) if sites else None
    after = _not_read(store)
    told = rows["form"].unique(maintain_order=True)
    gained = (
        before.join(after, on=["site", "form"], how="full", coalesce=True, suffix="_after")
        .filter(pl.col("form").is_in(told.implode()))
        .select(change=pl.col("rows").fill_null(0) - pl.col("rows_after").fill_null(0))["change"]
    )
    return Learned(
        forms=tuple(told),
        read=int(gained.filter(gained > 0).sum()),
        unread=-int(gained.filter(gained < 0).sum()),
        exports=done.exports if done else 0,
        sites=done.sites if done else 0,
    )


def _not_read(store: Store) -> pl.DataFrame:
    found = wordings(store).filter(pl.col("problem").is_not_null())
    return found.group_by("site", "form").agg(pl.col("rows").sum())


def _form(wording: str) -> str:
    found = forms(pl.Series([wording], dtype=pl.String))
    form = str(found["form"][0])
    if not any(letter.isalpha() for letter in form):
        raise UsageError(f"“{wording}” holds no word", do="Give the wording as it stands in a log.")
    return form


def _checked(one: Lesson) -> dict[str, Any]:
    """Return a lesson as it is kept, or say what is wrong with it."""
    kinds = [str(kind) for kind in Kind if kind is not Kind.UNREAD]
    if one.kind not in kinds:
        raise UsageError(
            f"{one.kind!r} is nothing that a row can mean", do=f"Say one of: {', '.join(kinds)}."
        )
    kind = Kind(one.kind)
    phase = one.phase or str(Phase.MOMENT if kind in MOMENTS else Phase.BEGIN)
    allowed = [Phase.MOMENT] if kind in MOMENTS else [Phase.BEGIN, Phase.END]
    if phase not in allowed:
        raise UsageError(f"{kind} has no {phase!r}", do=f"Say one of: {', '.join(allowed)}.")
    number = one.number or counted_by(kind)
    if number not in NUMBERS:
        raise UsageError(
            f"a number in a wording counts no {number!r}", do=f"Say one of: {', '.join(NUMBERS)}."
        )
    form = _form(one.wording)
    wording = pl.Series([one.wording], dtype=pl.String)
    said = understand_words(wording)
    if said["kind"].is_not_null().any():
        read = said.filter(pl.col("kind").is_not_null()).row(0, named=True)
        raise UsageError(
            f"“{one.wording}” is read already: {read['kind']} ({read['phase']})",
            do="Only wordings that are not understood can be taught.",
        )
    if kind not in LIFE_SAFETY and not one.no_life_safety and speaks_of_life(wording)["life"][0]:
        raise UsageError(
            f"“{one.wording}” holds a word of life safety, and {kind} is none",
            do="Look at where it comes from; if it is surely no call for help, say so with "
            "--no-life-safety.",
        )
    return {
        "form": form,
        "site": one.site,
        "wording": one.wording,
        "kind": str(kind),
        "phase": str(phase),
        "number": number,
    }
