"""``eventlab events | episodes | findings``: what a store can tell."""

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from eventlab.cli.options import OUTPUT, SINCE, SITE, STORE, UNTIL, form_option, moment

if TYPE_CHECKING:
    from collections.abc import Callable

    import polars as pl

    from eventlab.lab import Lab

    Writer = Callable[[Lab, pl.DataFrame], str]


def _command(name: str, told: str, as_text: "Writer") -> click.Command:
    """Make the command that asks the lab for one kind of frame."""

    @click.command(name, help=told)
    @STORE
    @SITE
    @SINCE
    @UNTIL
    @form_option("text", "csv", "json", "parquet")
    @OUTPUT
    def ask(
        store: str,
        site: str | None,
        since: str | None,
        until: str | None,
        form: str,
        output: Path | None,
    ) -> None:
        from eventlab.lab import Lab

        lab = Lab(store)
        frame = getattr(lab, name)(
            site=site, since=moment(since, "--since"), until=moment(until, "--until")
        )
        write(frame, form, output, partial(as_text, lab))

    return ask


def _text(maker: str) -> "Writer":
    """Return one of the report room's writers, loaded when it is called."""

    def write(_lab: "Lab", frame: "pl.DataFrame") -> str:
        from eventlab import report

        text: str = getattr(report, maker)(frame)
        return text

    return write


def _episodes(lab: "Lab", frame: "pl.DataFrame") -> str:
    from eventlab import report

    return report.episodes_as_text(frame, lab.how_sure().basis)


def write(
    frame: "pl.DataFrame", form: str, output: Path | None, as_text: "Callable[[pl.DataFrame], str]"
) -> None:
    """Write a frame in the form that was asked for, to a file or to the terminal."""
    from eventlab.report import to_csv, to_json

    if form == "parquet":
        if output is None:
            raise click.UsageError("Parquet is no text: name a file with -o FILE.")
        frame.write_parquet(output)
        return
    text = {"json": to_json, "csv": to_csv, "text": as_text}[form](frame)
    if output is None:
        click.echo(text, nl=not text.endswith("\n"))
    else:
        output.write_text(text if text.endswith("\n") else text + "\n", encoding="utf-8")


events = _command(
    "events", "List what the logs say happened, a line each.", _text("events_as_text")
)
episodes = _command(
    "episodes",
    "List alarms that belong together, with the probability of each cause.",
    _episodes,
)
findings = _command(
    "findings",
    "Tell what troubles the sites, how sure that is, and what to do. What leaves people or a "
    "building unprotected stands first.",
    _text("as_text"),
)
