"""``eventlab teach``: what wordings mean that were not understood."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from eventlab.cli.options import STORE, counted, form_option

if TYPE_CHECKING:
    import polars as pl

    from eventlab.lab import Learned, Lesson

_SHOWN = 40
"""Wordings that the text lists."""


@click.command()
@click.argument("wording", required=False)
@STORE
@click.option(
    "--as", "means", metavar="KIND[:PHASE]", help="What it means, as mains-loss or mains-loss:end."
)
@click.option(
    "--ignore", is_flag=True, help="It tells nothing that matters (the same as log-state)."
)
@click.option("--site", metavar="ID", help="It means that at this site alone.")
@click.option(
    "--number",
    type=click.Choice(("point", "area", "user", "none")),
    help="What a number in it counts; the usual of the kind where left out.",
)
@click.option(
    "--no-life-safety",
    is_flag=True,
    help="A word of life safety in it was looked into, and it is surely no call for help.",
)
@click.option("--forget", is_flag=True, help="Take back what was taught of it.")
@click.option(
    "--export",
    "to",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write what was taught to this file (CSV).",
)
@click.option(
    "--import",
    "source",
    type=click.Path(dir_okay=False, exists=True, path_type=Path),
    metavar="FILE",
    help="Teach what such a file holds.",
)
@form_option("text", "json")
def teach(
    wording: str | None,
    store: str,
    means: str | None,
    site: str | None,
    number: str | None,
    to: Path | None,
    source: Path | None,
    *,
    ignore: bool,
    no_life_safety: bool,
    forget: bool,
    form: str,
) -> None:
    """List wordings that were not understood, or say what one of them means.

    Numbers in a wording are places: "Bobbin lane 4 swapped" teaches it for every number. What was
    taught is kept in the store; rows with the wording are read again from their originals, and
    read so from then on. It never stands against what is understood without it.
    """
    from eventlab.lab import Lab
    from eventlab.lab import Lesson as Said

    if (means or ignore or forget) and wording is None:
        raise click.UsageError("say which wording")
    if wording is not None and sum((means is not None, ignore, forget)) != 1:
        raise click.UsageError("say one of --as KIND[:PHASE], --ignore, --forget")
    if (to or source) and (wording is not None or (to and source)):
        raise click.UsageError("--export and --import go alone")
    lab = Lab(store)
    if wording is not None and forget:
        return _told(lab.forget(wording, site=site), "forgotten", form)
    if wording is not None:
        kind, _, phase = (means or "log-state").partition(":")
        lesson = Said(wording, kind, phase or None, site, number, no_life_safety)
        return _told(lab.teach(lesson), "taught", form, lab.taught())
    if source is not None:
        return _told(lab.teach(*_lessons(source, no_life_safety=no_life_safety)), "taught", form)
    if to is not None:
        taught = lab.taught()
        _write(taught, to)
        click.echo(f"{counted(taught.height, 'wording')} written to {to}")
        return None
    return _listed(lab.strangers(), lab.taught(), form)


def _told(done: "Learned", what: str, form: str, taught: "pl.DataFrame | None" = None) -> None:
    if form == "json":
        _json({"wordings": done.forms, **{k: v for k, v in vars(done).items() if k != "forms"}})
        return
    named = ", ".join(f"“{one}”" for one in done.forms[:3])
    if len(done.forms) > 3:
        named += f" and {len(done.forms) - 3} more"
    click.echo(f"{named}: {what}.")
    if taught is not None and any("#" in one for one in done.forms):
        row = taught.filter(taught["form"].is_in(list(done.forms))).sort("at").row(-1, named=True)
        counts = {"none": "nothing that is kept"}.get(row["number"], f"the {row['number']}")
        click.echo(f"A number in it counts {counts} (--number says otherwise).")
    changed = [
        f"{counted(many, 'row')} now {how}"
        for many, how in ((done.read, "read"), (done.unread, "not understood"))
        if many
    ]
    if done.exports:
        of = f"{counted(done.exports, 'export')} of {counted(done.sites, 'site')} read again"
        click.echo("; ".join([of, *changed]) + ".")
    else:
        click.echo("No stored row has this wording; it is read so when it comes.")


def _listed(strangers: "pl.DataFrame", taught: "pl.DataFrame", form: str) -> None:
    if form == "json":
        _json(
            {
                "not_understood": strangers.to_dicts(),
                "taught": taught.drop("form").to_dicts(),
            }
        )
        return
    from eventlab.report import certainty

    if strangers.is_empty():
        click.echo("Every wording that came in is understood.")
    else:
        click.echo(f"{counted(strangers.height, 'wording')} not understood:\n")
    for row in strangers.head(_SHOWN).iter_rows(named=True):
        at = ", ".join(row["sites"][:4]) + (" …" if len(row["sites"]) > 4 else "")
        click.echo(f"  {counted(row['rows'], 'row')} × “{_short(row['wording'])}” (site {at})")
        if row["life_safety"]:
            click.echo("      may speak of life safety: have a person decide")
        if row["kind"] is not None:
            sure = certainty(row["probability"])
            click.echo(f"      perhaps {row['kind']}:{row['phase']}, {sure}")
    if strangers.height > _SHOWN:
        click.echo(f"  … and {strangers.height - _SHOWN} more (--format json lists all)")
    if strangers.height:
        click.echo('\nSay what one means:  eventlab teach --store DIR "WORDING" --as KIND[:PHASE]')
    if taught.height:
        click.echo(f"\n{counted(taught.height, 'wording')} taught:\n")
    for row in taught.iter_rows(named=True):
        where = f"site {row['site']}" if row["site"] else "all sites"
        number = "" if row["number"] == "none" else f", a number counts the {row['number']}"
        click.echo(
            f"  “{_short(row['wording'])}” is {row['kind']}:{row['phase']} "
            f"({where}, since {row['at']:%Y-%m-%d}{number})"
        )


def _json(told: object) -> None:
    import orjson

    options = orjson.OPT_UTC_Z | orjson.OPT_OMIT_MICROSECONDS
    click.echo(orjson.dumps(told, option=options).decode())


def _write(taught: "pl.DataFrame", to: Path) -> None:
    from eventlab.report import to_csv

    columns = ("wording", "kind", "phase", "number", "site")
    to.write_text(to_csv(taught.select(columns)), encoding="utf-8")


def _lessons(source: Path, *, no_life_safety: bool) -> "list[Lesson]":
    import csv

    from eventlab.errors import WrongContext
    from eventlab.lab import Lesson as Said

    with source.open(encoding="utf-8-sig", newline="") as lines:
        rows = list(csv.DictReader(lines))
    if not rows or not {"wording", "kind"} <= set(rows[0]):
        raise WrongContext(
            "it holds no taught wordings",
            where=source.name,
            do="Columns are: wording, kind, phase, number, site.",
        )
    return [
        Said(
            # A sign before a wording keeps a spreadsheet from working it out.
            (row["wording"] or "").removeprefix("'"),
            row["kind"] or "",
            row.get("phase") or None,
            row.get("site") or None,
            row.get("number") or None,
            no_life_safety,
        )
        for row in rows
    ]


def _short(text: str) -> str:
    line = " ".join(text.split())
    return f"{line[:77]}…" if len(line) > 78 else line
