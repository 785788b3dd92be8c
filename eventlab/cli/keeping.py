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
    """List what was done to the store, newest first."""
    import polars as pl

    from eventlab.store import Store

    with pl.Config(tbl_rows=-1, tbl_hide_dataframe_shape=True, tbl_hide_column_data_types=True):
        click.echo(str(Store.open(store).history()))
