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


FLEET = ("cells", "devices", "wear")


@click.command("alive", short_help="Say what of a site is still listening, and what is not.")
@click.argument("site", required=False)
@click.option(
    "--fleet",
    type=click.Choice(FLEET),
    help="Of all sites instead: how long cells last, what the cell of each device has left, or how "
    "many faults are to be expected in a year. As text all three are told.",
)
@STORE
@form_option("text", "csv", "json")
@OUTPUT
def alive(site: str | None, fleet: str | None, store: str, form: str, output: Path | None) -> None:
    """Say of everything that must be alive at SITE how it stands, with the last walk test.

    The log, tests, mains, batteries, devices, paths, reports, lids, clock and points: well, not
    well, not recorded or not covered; what stands now first.
    """
    from eventlab.lab import Lab
    from eventlab.report import alive_as_text, fleet_as_text

    if (site is None) == (fleet is None):
        raise click.UsageError("Name a site, or ask for --fleet cells, devices or wear.")
    if fleet is not None:
        all_of = Lab(store).fleet()
        frames = {"cells": all_of.cells, "devices": all_of.devices, "wear": all_of.wear}
        write(
            frames[fleet],
            form,
            output,
            lambda _: fleet_as_text(all_of.cells, all_of.devices, all_of.wear),
        )
        return
    view = Lab(store).alive(str(site))

    def text(lanes: pl.DataFrame) -> str:
        return alive_as_text(lanes, f"{view.covers} {view.sentence}", view.walk)

    write(view.lanes if form == "text" else view.lanes.select(SHOWN), form, output, text)
