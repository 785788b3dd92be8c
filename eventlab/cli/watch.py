"""``eventlab watch``: take what is dropped into a folder."""

import signal
import time
from pathlib import Path

import click

from eventlab.cli.intake import told
from eventlab.cli.options import ANSWERS, SITE_OF_LOGS, STORE, TIME_ZONE, answers_of, form_option
from eventlab.lab import FileResult, Lab, Watch


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
@STORE
@SITE_OF_LOGS
@TIME_ZONE
@ANSWERS
@click.option(
    "--settle",
    type=click.FloatRange(min=0),
    default=5.0,
    show_default=True,
    metavar="S",
    help="Seconds that a file must not have changed before it is taken.",
)
@click.option(
    "--every",
    type=click.FloatRange(min=0.05),
    default=2.0,
    show_default=True,
    metavar="S",
    help="Seconds between two looks.",
)
@form_option("text", "json")
def watch(
    folder: Path,
    store: str,
    site: str | None,
    time_zone: str | None,
    answered: tuple[str, ...],
    settle: float,
    every: float,
    form: str,
) -> None:
    """Take what is dropped into a folder, each file once, until stopped (Ctrl-C).

    A file that is still being written is left alone until it stands still. A file that leaves
    something open waits in the store; answer it with 'eventlab intake FILE --answer KEY=VALUE' or
    on the screen.
    """
    said = {"site": site, "time_zone": time_zone, "answers": answers_of(answered)}
    looking = Watch(Lab(store, create=True), folder, settle_s=settle, said=said)
    stop = _Stop()
    for sign in (signal.SIGINT, signal.SIGTERM):
        signal.signal(sign, lambda *_: stop.set())
    click.echo(f"Watching {folder}. Ctrl-C stops.", err=True)
    looking.run(every_s=every, stop=stop, tell=_as_json if form == "json" else _as_text)
    click.echo("Stopped.", err=True)


class _Stop:
    """A wish to stop that a signal may set at any instant.

    A `threading.Event` may not be set by a signal's handler: where the signal comes while the same
    thread holds the lock of the event, inside its wait, both would wait for ever.
    """

    _STEP_S = 0.2

    def __init__(self) -> None:
        self._told = False

    def set(self) -> None:
        self._told = True

    def is_set(self) -> bool:
        return self._told

    def wait(self, seconds: float) -> None:
        until = time.monotonic() + seconds
        while not self._told and (left := until - time.monotonic()) > 0:
            time.sleep(min(left, self._STEP_S))


def _as_text(results: list[FileResult]) -> None:
    fresh = [one for one in results if not one.already]
    if fresh:
        click.echo("\n".join(line for one in fresh for line in told(one)))


def _as_json(results: list[FileResult]) -> None:
    """One object a line, as it happens."""
    import orjson

    for one in results:
        click.echo(orjson.dumps(dict(one.as_dict())).decode())
