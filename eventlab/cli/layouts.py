"""``eventlab layouts``: what exports looked like, and the answers that are remembered for them."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from eventlab.cli.options import STORE, counted, form_option

if TYPE_CHECKING:
    from eventlab.lab import Layout

_KEY = 8
"""Characters of a key that are shown."""


@click.command()
@STORE
@click.option("--remove", "key", metavar="KEY", help="Forget the answers for this layout.")
@click.option(
    "--export",
    "to",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write all of them to this file.",
)
@click.option(
    "--import",
    "source",
    type=click.Path(dir_okay=False, exists=True, path_type=Path),
    metavar="FILE",
    help="Take those of another store.",
)
@form_option("text", "json")
def layouts(
    store: str, key: str | None, to: Path | None, source: Path | None, *, form: str
) -> None:
    """List what exports looked like, what their columns are, and what was answered for them.

    An export that looks the same is read with the same answers. What was already taken is not
    changed by removing a layout; a wrong answer is corrected with eventlab retake.
    """
    from eventlab.lab import Lab

    if sum(one is not None for one in (key, to, source)) > 1:
        raise click.UsageError("--remove, --export and --import go alone")
    lab = Lab(store, create=source is not None)
    if key is not None:
        gone = lab.remove_layout(key)
        click.echo(f"“{gone.name}”: its answers are forgotten; such exports are asked about again.")
        return
    if to is not None:
        click.echo(f"{counted(lab.write_layouts(to), 'layout')} written to {to}")
        return
    if source is not None:
        click.echo(f"{counted(lab.read_layouts(source), 'layout')} taken from {source}")
        return
    found = lab.layouts()
    if form == "json":
        import orjson

        click.echo(orjson.dumps([one.as_dict() for one in found]).decode())
        return
    click.echo(counted(len(found), "layout"))
    for one in found:
        click.echo("\n".join(_lines(one)))


def _lines(one: "Layout") -> list[str]:
    exports = counted(len(one.exports), "export") if one.exports else "from another store"
    of = f" of {counted(len(one.sites), 'site')}" if one.sites else ""
    said = ", ".join(f"{key.replace('-', ' ')} {value}" for key, value in one.answers.items())
    return [
        "",
        f"  {one.key[:_KEY]}  like “{one.name}” of {one.day}; {exports}{of}",
        *([f"      {one.columns}"] if one.columns else []),
        f"      answers: {said or 'none were needed'}",
    ]
