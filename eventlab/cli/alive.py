"""``eventlab alive``: what of a site is still listening."""

from pathlib import Path

import click
import polars as pl

from eventlab.cli.asking import write
from eventlab.cli.options import OUTPUT, STORE, form_option

SHOWN = (
    *("site", "family", "zone", "within", "path", "witness", "thing", "health", "now", "says"),
    *("since", "times", "longest_h", "restore_h", "last"),
)


@click.command("alive", short_help="Say what of a site is still listening, and what is not.")
@click.argument("site")
@STORE
@form_option("text", "csv", "json")
@OUTPUT
def alive(site: str, store: str, form: str, output: Path | None) -> None:
    """Say of everything that must be alive at SITE how it stands, with the last walk test.

    The log, tests, mains, batteries, devices, paths, reports, lids, clock and points: well, not
    well, not recorded or not covered; what stands now first.
    """
    from eventlab.lab import Lab
    from eventlab.report import alive_as_text

    told = Lab(store).alive(site)

    def text(lanes: pl.DataFrame) -> str:
        return alive_as_text(lanes, f"{told.covers} {told.sentence}", told.walk)

    write(told.lanes if form == "text" else told.lanes.select(SHOWN), form, output, text)
