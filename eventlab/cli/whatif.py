"""``eventlab whatif``: what past alarms of one point would have come to under other rules."""

from pathlib import Path

import click

from eventlab.cli.options import OUTPUT, STORE, form_option

_PAIR_S = 30.0


@click.command(
    "whatif",
    help="Replay the past alarms of one point: how many a hold-off, a count of two or a second "
    "detector would have kept back, and which first alarms would have been late or lost. Never "
    "for life-safety points.",
)
@click.argument("site")
@click.option("--zone", required=True, metavar="Z", help="The point.")
@click.option("--area", metavar="A", help="Its area, where its number stands in several.")
@STORE
@click.option(
    "--hold-off", "holds", multiple=True, type=float, metavar="S",
    help="It must stay tripped for so many seconds; may be given several times.",
)  # fmt: skip
@click.option(
    "--count-within", "counts", multiple=True, type=float, metavar="S",
    help="A second trip must follow within so many seconds; may be given several times.",
)  # fmt: skip
@click.option("--with", "other", metavar="Z", help="The second detector of the same space.")
@click.option(
    "--with-within", "pairs", multiple=True, type=float, metavar="S",
    help="The second detector must trip within so many seconds; 30 where left out.",
)  # fmt: skip
@form_option("text", "csv", "json")
@OUTPUT
def whatif(
    site: str,
    zone: str,
    area: str | None,
    store: str,
    holds: tuple[float, ...],
    counts: tuple[float, ...],
    other: str | None,
    pairs: tuple[float, ...],
    form: str,
    output: Path | None,
) -> None:
    """Ask the lab and write what came of it."""
    from eventlab.lab import Lab, Trial
    from eventlab.report import to_csv, to_json, what_if_as_text

    if pairs and other is None:
        raise click.UsageError("--with-within needs --with: name the second detector.")
    asked = [Trial("hold-off", seconds) for seconds in holds]
    asked += [Trial("count-of-two", seconds) for seconds in counts]
    if other is not None:
        asked += [Trial("second-detector", seconds, other) for seconds in pairs or (_PAIR_S,)]
    told = Lab(store).what_if(site, zone, asked, area=area)
    if form == "text" or (told.refused and form == "csv"):
        text = what_if_as_text(told)
    elif form == "csv":
        text = to_csv(told.trials)
    else:
        text = to_json(told.frame())
    if output is None:
        click.echo(text, nl=not text.endswith("\n"))
    else:
        output.write_text(text if text.endswith("\n") else text + "\n", encoding="utf-8")
