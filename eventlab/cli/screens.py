"""``eventlab dashboard`` and ``eventlab demo``: the screens."""

import tempfile
from importlib.metadata import entry_points
from pathlib import Path
from typing import TYPE_CHECKING

import click

from eventlab.cli.options import STORE

if TYPE_CHECKING:
    from eventlab.lab import Lab

PORT = click.option("--port", type=int, default=8050, show_default=True, help="On 127.0.0.1.")


@click.command()
@STORE
@PORT
def dashboard(store: str, port: int) -> None:
    """Show a store in a browser on this machine; nothing leaves it."""
    from eventlab.lab import Lab

    _serve(Lab(store), port)


@click.command()
@click.option("--store", metavar="DIR", help="Keep the store here; a temporary folder if left out.")
@click.option("--no-serve", is_flag=True, help="Stop after telling the findings.")
@PORT
def demo(store: str | None, port: int, *, no_serve: bool) -> int:
    """Take the sample logs of invented sites, tell what troubles them, show the screens."""
    if store is not None:
        return _demo(store, port, no_serve=no_serve)
    with tempfile.TemporaryDirectory(prefix="eventlab-") as folder:
        return _demo(str(Path(folder) / "store"), port, no_serve=no_serve)


def _demo(store: str, port: int, *, no_serve: bool) -> int:
    from eventlab.cli.intake import status
    from eventlab.lab import Lab
    from eventlab.report import as_text

    lab = Lab(store, create=True)
    results = lab.take([samples()])
    rows = sum(one.rows for one in results)
    click.echo(f"{len(results)} files of Tarn Valley Libraries and Museums taken, {rows} rows.\n")
    # The samples end on a fixed day: they are told as of then, whatever today is.
    lab = Lab(store, now=lab.newest())
    click.echo(as_text(lab.findings()))
    if status(results):
        for one in results:
            if one.error or one.questions:
                click.echo(f"{one.path}: {one.error or 'a question waits'}", err=True)
        return status(results)
    if not no_serve:
        _serve(lab, port)
    return 0


def samples() -> Path:
    """Return the folder of sample logs, in a clone or in an installed wheel."""
    from eventlab.errors import NotFound

    package = Path(__file__).parent.parent
    for folder in (package / "sample_logs", package.parent / "sample_logs"):
        if folder.is_dir():
            return folder
    raise NotFound("the sample logs are not installed", do="Install the package again.")


def _serve(lab: "Lab", port: int) -> None:
    from eventlab.errors import NotFound

    # The library knows no screens; whoever brings some says so in its package's entry points.
    for entry in entry_points(group="eventlab.screens"):
        click.echo(f"Screens at http://127.0.0.1:{port} (stop with Ctrl+C)")
        entry.load()(lab, port=port)
        return
    raise NotFound("no screens are installed", do="Install the package again.")
