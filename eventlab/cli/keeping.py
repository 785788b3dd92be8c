"""``eventlab store``: looking after what is kept."""

import click

from eventlab.cli.options import STORE, counted


@click.group()
def store() -> None:
    """Look after a store."""


@store.command()
@STORE
def check(store: str) -> int:
    """Look for files that are missing, damaged or wait to be finished."""
    from eventlab.store import Store

    found = Store.at(store).check()
    for problem in found:
        click.echo(f"{problem.where}: {problem.what}. {problem.do}")
    problems = sum(not problem.waits for problem in found)
    if problems:
        click.echo(f"{counted(problems, 'problem')} found")
        return 1
    click.echo("The store is whole: every original, every table file, every export.")
    return 0


@store.command()
@STORE
def tidy(store: str) -> None:
    """Join small files, write a checkpoint, remove what nothing points to."""
    from eventlab.store import Store

    click.echo(str(Store.open(store).tidy()))


@store.command()
@STORE
def history(store: str) -> None:
    """List what was done to the store, newest first.

    Versions whose files are all there can still be read as they were.
    """
    from eventlab.store import Store

    for done in Store.open(store).history().iter_rows(named=True):
        rows = f" ({counted(done['rows'], 'row')})" if done["rows"] else ""
        kept = "" if done["readable"] else "; its files are gone"
        click.echo(
            f"{done['version']:>6}  {done['at']:%Y-%m-%d %H:%M:%S}Z  {done['what']}{rows}{kept}"
        )
