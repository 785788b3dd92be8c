"""``eventlab simulate``: sites whose troubles are known."""

from pathlib import Path

import click


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), metavar="DIR")
@click.option("--seed", type=int, default=1, show_default=True, help="The same seed: same files.")
@click.option("--days", type=int, default=365, show_default=True, help="How long it is told.")
@click.option(
    "--truth",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write what is really the matter to this file.",
)
def simulate(folder: Path, seed: int, days: int, truth: Path | None) -> None:
    """Make the logs of invented sites, with site list, zone schedules and weather."""
    from eventlab.simulate import simulate as make

    make(folder, seed=seed, days=days, truth=truth)
    files = sorted(p for p in folder.rglob("*") if p.is_file())
    click.echo(f"{len(files)} files written to {folder}")
