"""Originals read again: answered at last, answered otherwise, or taken out."""

from collections.abc import Mapping
from dataclasses import replace

import polars as pl

from eventlab.context import Context
from eventlab.errors import InputError, NotFound, QuestionsWait
from eventlab.intake import read_bytes
from eventlab.lab.answers import checked
from eventlab.lab.doubled import asked, noted
from eventlab.lab.identity import ANSWERED, as_known, settled
from eventlab.lab.layouts import layouts
from eventlab.lab.reading import Said, read_with_memory, result_of
from eventlab.lab.rebuilding import Retaken, rebuild, stored_sites
from eventlab.lab.result import FileResult
from eventlab.lab.taking import take_log
from eventlab.lab.taking_context import context_role, take_context
from eventlab.lab.working import said_zones
from eventlab.meaning import read_log
from eventlab.schema import Role
from eventlab.store import Export, Store


def waiting(store: Store, context: Context) -> list[FileResult]:
    """List the originals that wait, each with its questions.

    Parameters
    ----------
    store : Store
        Where the originals are.
    context : Context
        What is known of sites now: a new site list may have answered a question.

    Returns
    -------
    list of FileResult
        Without questions where an intake was only cut short.
    """
    found = []
    said = Said(zones=said_zones(store), layouts=layouts(store))
    for export in store.waiting():
        data = store.original(export.sha256)
        blank = FileResult(path=export.name, role=Role.LOG, sha256=export.sha256)
        try:
            sheet = read_bytes(data, name=export.name)
            role = context_role(data, sheet)
            if role is not None:
                blank = replace(blank, role=role)
                found.append(take_context(None, blank, sheet, data, context, {})[0])
                continue
            reading, _, notes = read_with_memory(store, sheet, context, said)
            open_ = asked(reading.events, export.name, {})
            reading = replace(reading, questions=(*reading.questions, *open_))
            found.append(replace(result_of(blank, sheet, reading), notes=notes))
        except InputError as error:
            found.append(replace(blank, error=str(error)))
    return found


def take_waiting(
    store: Store, context: Context, sha256: str, answers: Mapping[str, str]
) -> FileResult:
    """Take an original that waits, with the answers given.

    Parameters
    ----------
    store : Store
        Where the original is.
    context : Context
        What is known of sites.
    sha256 : str
        The original.
    answers : mapping
        Answer by question key.

    Returns
    -------
    FileResult
        Taken, or with the questions that are left.

    Raises
    ------
    NotFound
        Where no such original waits.
    """
    for export in store.waiting():
        if export.sha256 == sha256:
            data = store.original(sha256)
            given = checked(answers)
            sheet = read_bytes(data, name=export.name)
            role = context_role(data, sheet)
            if role is not None:
                blank = FileResult(path=export.name, role=role, sha256=sha256)
                return take_context(store, blank, sheet, data, context, given)[0]
            said = Said(site=given.pop("site", None), answers=given, zones=said_zones(store))
            blank = FileResult(path=export.name, role=Role.LOG, sha256=sha256)
            return take_log(store, blank, sheet, data, context, said)
    raise NotFound(f"no export {sha256[:12]} waits for an answer")


def retake(
    store: Store,
    context: Context,
    *,
    export: str | None,
    site: str | None,
    answers: Mapping[str, str],
    site_is: str | None,
    time_zone: str | None,
    drop: bool,
) -> Retaken:
    """Read exports again from their originals and put the result in place of their rows.

    Parameters
    ----------
    store : Store
        Where they are.
    context : Context
        What is known of sites now.
    export : str or None
        The first characters of the hash of the one export that is read otherwise.
    site : str or None
        The site to read again; all sites where neither is given.
    answers : mapping
        Other answers for the export.
    site_is, time_zone : str or None
        Another site or time zone for the export.
    drop : bool
        Take the export out.

    Returns
    -------
    Retaken
        What was touched.

    Raises
    ------
    NotFound
        Where there is no such export or site.
    InputError
        Where the file itself speaks against an answer.
    QuestionsWait
        Where an answer is missing; nothing was changed.
    """
    if export is None:
        return rebuild(store, context, _sites(store, site))
    sha256 = _sha256(store, export)
    if drop:
        return rebuild(store, context, [], drop=frozenset({sha256}))
    now = store.export(sha256)
    if now is None:
        raise NotFound(f"export {sha256[:12]} was never taken", do="Answer its questions first.")
    given = checked(answers, time_zone)
    site_is = given.pop("site", site_is)
    if time_zone is not None:
        given["time-zone"] = time_zone
    kept = {k: v for k, v in now.answers.items() if k != "first-year" or "year" not in given}
    other = replace(now, answers={**kept, **given}, site=site_is or now.site)
    found = _settle(store, context, other, given)
    _heeded(given, found)
    return rebuild(store, context, [], change={sha256: found})


def _heeded(answers: Mapping[str, str], export: Export) -> None:
    """Refuse an answer that the file itself speaks against."""
    for key, value in answers.items():
        if export.answers.get(key) != value:
            raise InputError(
                f"{key} cannot be {value}: the file itself tells {export.answers.get(key)}",
                where=export.name,
            )


def _settle(store: Store, context: Context, export: Export, given: Mapping[str, str]) -> Export:
    """Find out what the export rests on when it is read with these answers."""
    sheet = read_bytes(store.original(export.sha256), name=export.name)
    reading = read_log(sheet, as_known(context, export))
    if reading.questions:
        raise QuestionsWait(
            f"a question waits: {reading.questions[0].text}",
            where=export.name,
            do="Answer it with --answer KEY=VALUE.",
        )
    answered = {*given, *export.notes.get(ANSWERED, "").split()}
    others = {key: value for key, value in export.answers.items() if key not in answered}
    found = replace(export, **settled(reading, recalled=others))
    return noted(found, reading.events, export.answers)


def _sites(store: Store, site: str | None) -> list[str]:
    every = stored_sites(store)
    if site is None:
        return every
    if site not in every:
        raise NotFound(f"no export of site {site!r} was taken")
    return [site]


def _sha256(store: Store, start: str) -> str:
    found = store.exports().filter(pl.col("sha256").str.starts_with(start.lower()))["sha256"]
    if found.len() != 1:
        what = "no export starts" if found.is_empty() else f"{found.len()} exports start"
        raise NotFound(f"{what} with {start}", do="The page of logs lists them.")
    return str(found[0])
