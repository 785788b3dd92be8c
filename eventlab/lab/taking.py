"""Taking files: recognised, read, kept."""

from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import polars as pl

from eventlab.context import Context
from eventlab.errors import InputError, OtherAnswers
from eventlab.intake import Sheet
from eventlab.lab.answers import checked
from eventlab.lab.bulk import take_bulk
from eventlab.lab.doubled import asked, noted
from eventlab.lab.finding_files import Found, find_files, recognise_all
from eventlab.lab.identity import settled
from eventlab.lab.layouts import layouts
from eventlab.lab.reading import Said, read_with_memory, result_of
from eventlab.lab.rebuilding import rebuild, refresh, stored_sites, touched
from eventlab.lab.result import FileResult, refused
from eventlab.lab.taking_context import take_context
from eventlab.lab.working import said_zones, taught_in
from eventlab.meaning import READER, Roles
from eventlab.schema import Role
from eventlab.store import Export, Store

Progress = Callable[[str, int, int], None]
"""Told before each file: its name, how many are done, how many there are."""


def take(
    store: Store | None,
    paths: Iterable[str | Path],
    *,
    context: Context,
    memory: Store | None = None,
    site: str | None = None,
    time_zone: str | None = None,
    answers: Mapping[str, str] | None = None,
    progress: Progress | None = None,
) -> list[FileResult]:
    """Take files and folders into a store, context before logs.

    Parameters
    ----------
    store : Store or None
        Where to; with None everything is read and nothing is kept.
    paths : iterable of str or Path
        Files and folders.
    context : Context
        What is known of sites before.
    memory : Store, optional
        Where answers of before are, when nothing is to be kept.
    site, time_zone : str, optional
        What a person says of all logs among them.
    answers : mapping, optional
        Answers to questions by key.
    progress : callable, optional
        Told before each file.

    Returns
    -------
    list of FileResult
        One for each file, in the order of taking.

    Raises
    ------
    InputError
        Where a path does not exist.
    UsageError
        Where an answer or a time zone cannot be.
    StoreError
        Where the store cannot keep them.
    """
    files = recognise_all(find_files(paths))
    results = []
    before = context
    memory = memory if store is None else store
    known = layouts(memory) if memory is not None else {}
    said = Said(site, time_zone, checked(answers, time_zone), said_zones(memory), layouts=known)
    for number, found in enumerate(files):
        if progress is not None:
            progress(found.piece.name, number, len(files))
        if found.role is Role.LOG and store is not None:
            _bring_up(store, before, context)
            before = context
        result, context = _take_one(store, found, context, said, memory)
        said = replace(said, zones=pl.concat([said.zones, result.said_zones]).unique("site"))
        results.append(result)
    said = replace(said, beside=_beside(results))
    for number, found in enumerate(files):
        if said.beside and any(one.key == "dates" for one in results[number].questions):
            # Another file of this intake that looks the same may decide.
            results[number], context = _take_one(store, found, context, said, memory)
    if store is not None:
        _bring_up(store, before, context)
    if progress is not None:
        progress("", len(files), len(files))
    return results


def _beside(results: list[FileResult]) -> dict[str, frozenset[str]]:
    """Tell by look how the dates of the files of an intake are read."""
    found: dict[str, frozenset[str]] = {}
    for result in results:
        if result.dates_told is not None:
            look, order = result.dates_told
            found[look] = found.get(look, frozenset()) | {order}
    return found


def _bring_up(store: Store, before: Context, after: Context) -> None:
    """Read stored sites again whose list or schedule has changed."""
    if before is after:
        return
    changed = set(touched(before, after))
    again = [site for site in stored_sites(store) if site in changed] if changed else []
    if again:
        rebuild(store, after, again)


def _take_one(
    store: Store | None,
    found: Found,
    context: Context,
    said: Said,
    memory: Store | None,
) -> tuple[FileResult, Context]:
    blank = FileResult(path=found.piece.shown, role=found.role, error=found.error)
    if found.role is None:
        return blank, context
    try:
        original = found.original()
        if found.role is Role.LOG and found.sheet is None and isinstance(original, Path):
            large = take_bulk(store, blank, original, context, said, memory=memory)
            if large is not None:
                return large, context
        sheet = found.opened()
        if found.role is not Role.LOG:
            return take_context(store, blank, sheet, original, context, said.answers)
        return take_log(
            store, blank, sheet, original, context, said, roles=found.roles, memory=memory
        ), context
    except InputError as error:
        return replace(blank, error=str(error)), context
    except OSError as error:
        if error.filename is not None and Path(error.filename) != found.path:
            raise
        told = f"{found.piece.name}: the file cannot be read ({error.strerror})"
        return replace(blank, error=told), context


def take_log(
    store: Store | None,
    blank: FileResult,
    sheet: Sheet,
    original: Path | bytes,
    context: Context,
    said: Said,
    *,
    roles: Roles | None = None,
    memory: Store | None = None,
) -> FileResult:
    """Take one log: its original first, then its events in one commit.

    What was settled when the same bytes were taken before holds, unless something else is said
    now: then the store refuses and names the way out.

    Parameters
    ----------
    store : Store or None
        Where to; with None it is read and nothing is kept.
    blank : FileResult
        What is known of the file before.
    sheet : Sheet
        The file.
    original : Path or bytes
        Its bytes.
    context : Context
        Site list and zone schedules.
    said : Said
        What a person said of it.
    roles : Roles, optional
        Its columns, where they were found before.
    memory : Store, optional
        Where answers of before are, when nothing is to be kept.

    Returns
    -------
    FileResult
        Taken, or with its questions.
    """
    before = store.export(sheet.sha256) if store is not None else None
    if before is not None:
        said = said.after(before)
    with ThreadPoolExecutor(max_workers=1) as aside:
        keeping = (
            aside.submit(store.keep, original, sha256=sheet.sha256, name=sheet.name)
            if store is not None and sheet.rows > 0
            else None
        )
        reading, recalled, notes = read_with_memory(store or memory, sheet, context, said, roles)
        if keeping is not None:
            keeping.result()
    open_ = asked(reading.events, sheet.name, said.answers)
    reading = replace(reading, questions=(*reading.questions, *open_))
    result = replace(result_of(blank, sheet, reading), notes=notes)
    if store is None or reading.questions or sheet.rows == 0:
        return result
    export = Export(
        sha256=sheet.sha256,
        name=sheet.name,
        reading=READER,
        rows=sheet.rows - reading.heads,
        lines=sheet.lines,
        **settled(reading, recalled=recalled),
    )
    export = noted(export, reading.events, said.answers)
    refresh(store, context, reading.sites)
    try:
        taken = store.take(reading.events, export)
    except OtherAnswers as error:
        return refused(result, error)
    if taken.rough:
        rebuild(store, context, taken.rough)
    taught = taught_in(store)
    if not taught.equals(context.taught):
        # Somebody taught something while this file was read.
        refresh(store, replace(context, taught=taught), reading.sites)
    return replace(
        result,
        said_zones=reading.said_zones,
        read=taken.read,
        repeated=taken.repeated,
        unread=taken.unread,
        events=taken.events,
        doubtful=taken.doubtful,
        seam=taken.seam,
        already=taken.already,
    )
