"""``eventlab retake``: exports read again."""

import click

from eventlab.cli.options import STORE, answers_of, counted


@click.command()
@STORE
@click.option("--export", metavar="HASH", help="The export (the first characters of its hash).")
@click.option("--site", metavar="ID", help="All exports of this site.")
@click.option("--site-is", metavar="ID", help="The export is the log of this site.")
@click.option("--time-zone", metavar="TZ", help="The export's times are in this zone.")
@click.option(
    "--answer", "answered", multiple=True, metavar="KEY=VALUE", help="Another answer for it."
)
@click.option("--drop", is_flag=True, help="Take the export out of the store again.")
def retake(
    store: str,
    export: str | None,
    site: str | None,
    site_is: str | None,
    time_zone: str | None,
    answered: tuple[str, ...],
    *,
    drop: bool,
) -> int:
    """Read exports again from their originals, with the present reader and lists.

    Corrects a wrong answer, takes an export out, or brings a better lexicon to what is stored.
    No trace of the earlier reading stays.
    """
    from eventlab.lab import Lab

    if export is None and (site_is or time_zone or answered or drop):
        raise click.UsageError("say which export with --export HASH")
    done = Lab(store).retake(
        export=export,
        site=site,
        answers=answers_of(answered),
        site_is=site_is,
        time_zone=time_zone,
        drop=drop,
    )
    click.echo(
        f"{counted(done.exports, 'export')} read again for {counted(done.sites, 'site')}, "
        f"which now have {counted(done.events, 'event')}"
    )
    return 0
