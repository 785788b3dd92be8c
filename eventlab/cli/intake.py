"""``eventlab intake``: take files into a store."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

import click

from eventlab.cli.options import (
    ANSWERS,
    SITE_OF_LOGS,
    STORE,
    TIME_ZONE,
    answers_of,
    counted,
    form_option,
)
from eventlab.lab import FileResult, Lab, Progress, find_files
from eventlab.meaning.clock_anew import LEFT_OUT


@click.command()
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@STORE
@SITE_OF_LOGS
@TIME_ZONE
@ANSWERS
@click.option("--dry-run", is_flag=True, help="Read and tell, but keep nothing.")
@form_option("text", "json")
def intake(
    paths: tuple[str, ...],
    store: str,
    site: str | None,
    time_zone: str | None,
    answered: tuple[str, ...],
    *,
    dry_run: bool,
    form: str,
) -> int:
    """Take exported logs and context files into a store.

    What each file is, is recognised by its content: event log, site list, zone schedule,
    weather, visits, outcomes, schedule of opening hours. Nothing of a file is taken while a
    question about it waits.
    """
    answers = answers_of(answered)
    files = find_files(paths)
    lab = Lab(store, create=not dry_run, dry=dry_run)
    with _progress() as tell:
        results = lab.take(files, site=site, time_zone=time_zone, answers=answers, progress=tell)
    if form == "json":
        import orjson

        click.echo(orjson.dumps({"files": [dict(one.as_dict()) for one in results]}).decode())
    else:
        click.echo("\n".join(_lines(results, dry_run=dry_run)))
    return status(results)


def status(results: list[FileResult]) -> int:
    """Return the exit status: 3 where a question waits, 1 where a file failed, else 0."""
    if any(one.questions for one in results):
        return 3
    return 1 if any(one.error for one in results) else 0


@contextmanager
def _progress() -> Iterator[Progress | None]:
    """Show a bar on a terminal, nothing in a pipe."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1, file=sys.stderr, show_eta=False) as bar:

        def tell(name: str, done: int, whole: int) -> None:
            bar.length = whole
            bar.label = name[:40] or "done"
            bar.update(done - bar.pos)

        yield tell


def _lines(results: list[FileResult], *, dry_run: bool) -> Iterator[str]:
    for one in results:
        yield from told(one)
    questions = sum(len(one.questions) for one in results)
    failed = sum(one.error is not None for one in results)
    kept = "read, nothing kept" if dry_run else "taken"
    taken = sum(1 for one in results if one.error is None and not one.questions)
    yield ""
    yield (
        f"{taken} of {counted(len(results), 'file')} {kept}"
        + (f"; {counted(questions, 'question')} to answer" if questions else "")
        + (f"; {failed} failed" if failed else "")
    )


def told(one: FileResult) -> Iterator[str]:
    """Tell what became of one file, line by line."""
    if one.error is not None:
        yield f"{one.path}: NOT TAKEN. {one.error}"
        return
    yield f"{one.path}: {_what(one)}"
    if one.questions:
        for question in one.questions:
            yield f"  QUESTION {question.key}: {question.text}"
            for reason in question.evidence:
                yield f"    ({reason})"
            for choice in question.choices:
                yield f"    --answer {question.key}={choice.value}   {choice.text}"
            if not question.choices:
                yield f"    --answer {question.key}=…"
        yield "  Nothing of this file is taken until it is answered."
        return
    if one.rows:
        yield (
            f"  {counted(one.rows, 'row')}: {one.read} read, {one.repeated} stored before, "
            f"{one.unread} not understood; {one.events} events new"
            + (f"; {one.doubtful} with a doubtful time" if one.doubtful else "")
            + (f"; {one.seam} in a seam second" if one.seam else "")
        )
        for remark in one.evidence:
            if remark.endswith(LEFT_OUT):
                yield f"    {remark}"
    else:
        yield "  no rows: the headings stand alone"
    for note in one.notes:
        yield f"  {note}"
    shown = one.not_understood.head(10)
    for text, problem, count in shown.iter_rows():
        yield f"    {count} × {_short(text)}: {problem}"
    if one.not_understood.height > shown.height:
        yield f"    … and {one.not_understood.height - shown.height} more"


def _what(one: FileResult) -> str:
    words = {
        "log": "event log",
        "sites": "site list",
        "zones": "zone schedule",
        "weather": "weather",
        "visits": "visits",
        "outcomes": "outcomes",
        "schedule": "schedule of opening hours",
        "users": "list of users",
    }
    named = words.get(str(one.role), "unknown")
    of = f" of {one.site}" if one.site else ""
    return f"{named}{of}" + (", taken before" if one.already else "")


def _short(text: str | None) -> str:
    line = " ".join((text or "").split())
    return f"“{line[:77]}…”" if len(line) > 78 else f"“{line}”"
