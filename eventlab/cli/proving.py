"""``eventlab proof``: before and after a visit or a date."""

from datetime import datetime
from pathlib import Path

import click

from eventlab.cli.asking import write
from eventlab.cli.options import OUTPUT, STORE, form_option


@click.command("proof", short_help="Say whether something worked: before and after a date.")
@click.argument("site")
@STORE
@click.option("--at", "at", metavar="DATE", help="A date by the site's own clock: 2026-05-14.")
@click.option("--visit", type=click.IntRange(min=1), metavar="N", help="A visit on file, from 1.")
@click.option("--zone", metavar="Z", help="Only this point.")
@form_option("text", "csv", "json")
@OUTPUT
def proof(
    site: str,
    store: str,
    at: str | None,
    visit: int | None,
    zone: str | None,
    form: str,
    output: Path | None,
) -> None:
    """Compare the alarms of SITE before and after a date, a visit, or every visit on file.

    Better only where the point was seen to detect since; what would settle it is told.
    """
    if at is not None and visit is not None:
        raise click.UsageError("Give a date with --at or a visit with --visit, not both.")
    from eventlab.lab import Lab
    from eventlab.report import proof_as_text

    told = Lab(store).proof(site, at=_day(at), visit=visit, zone=zone)
    write(told.rows, form, output, proof_as_text)


def _day(text: str | None) -> datetime | None:
    if text is None:
        return None
    try:
        return datetime.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        raise click.BadParameter(
            f"{text!r} is no date; write 2026-05-14 or 2026-05-14T11:20", param_hint="--at"
        ) from None
