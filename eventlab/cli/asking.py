"""``eventlab events | episodes | findings``: what a store can tell."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from eventlab.cli.options import OUTPUT, SINCE, SITE, STORE, UNTIL, form_option, moment

if TYPE_CHECKING:
    from collections.abc import Callable

    import polars as pl


def _command(name: str, told: str, as_text: "Callable[[pl.DataFrame], str]") -> click.Command:
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

        frame = getattr(Lab(store), name)(
            site=site, since=moment(since, "--since"), until=moment(until, "--until")
        )
        _write(frame, form, output, as_text)

    return ask


def _as_table(frame: "pl.DataFrame") -> str:
    """Write a frame as aligned columns, leaving out those that say nothing."""
    import polars as pl

    if frame.is_empty():
        return "nothing found"
    told = [name for name in frame.columns if frame[name].null_count() < frame.height]
    with pl.Config(
        tbl_rows=-1,
        tbl_cols=-1,
        tbl_hide_dataframe_shape=True,
        tbl_hide_column_data_types=True,
        tbl_width_chars=240,
        tbl_formatting="ASCII_BORDERS_ONLY_CONDENSED",
    ):
        return str(frame.select(told))


def _findings_text(frame: "pl.DataFrame") -> str:
    from eventlab.report import as_text

    return as_text(frame)


def _write(
    frame: "pl.DataFrame", form: str, output: Path | None, as_text: "Callable[[pl.DataFrame], str]"
) -> None:
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


events = _command("events", "List what the logs say happened, a line each.", _as_table)
episodes = _command(
    "episodes", "List alarms that belong together, with the probability of each cause.", _as_table
)
findings = _command(
    "findings",
    "Tell what troubles the sites, how sure that is, and what to do. What leaves people or a "
    "building unprotected stands first.",
    _findings_text,
)
