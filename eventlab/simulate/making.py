"""Make the logs of all buildings and write them with what is known of them."""

from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path

from eventlab.errors import UsageError
from eventlab.schema import Kind, Phase
from eventlab.simulate.buildings import BUILDINGS
from eventlab.simulate.clock import DAY_S
from eventlab.simulate.export.styles import STYLES
from eventlab.simulate.export.table import Row, Style, write
from eventlab.simulate.living import Lived, live
from eventlab.simulate.model import Building, Record
from eventlab.simulate.tables import sites_csv, visits_csv, weather_csv, zones_csv
from eventlab.simulate.truth import Truth, make_truth
from eventlab.simulate.weather import make_weather

SEED = 1
"""The seed of the committed samples."""

_ODD_EVERY = 1000


def simulate(
    directory: Path | str,
    *,
    seed: int = SEED,
    days: int = 365,
    sites: Collection[str] | None = None,
    truth: Path | str | None = None,
) -> Truth:
    """Make the files of Tarn Valley Libraries and Museums.

    Parameters
    ----------
    directory : path
        Where ``sites.csv``, ``zones.csv``, ``weather.csv``, ``visits.csv`` and ``logs/`` are
        written; files of the same names are replaced.
    seed : int
        The same seed makes the same bytes.
    days : int
        How many days before the end are told.
    sites : collection of str, optional
        Which sites; all where left out. A site's own records do not depend on it.
    truth : path, optional
        A file for the truth, as JSON; never made unless asked for.

    Returns
    -------
    Truth
        What was put in.

    Raises
    ------
    UsageError
        Where a site is not known or no day is left.
    """
    chosen = _chosen(sites)
    if days < 1:
        raise UsageError("at least one day is needed", do="Give --days 1 or more.")
    folder = Path(directory)
    weather = make_weather(seed, days)
    lived = [live(seed, min(days, b.told_days or days), b, weather) for b in chosen]
    (folder / "logs").mkdir(parents=True, exist_ok=True)
    first = min(one.world.start for one in lived)
    (folder / "sites.csv").write_bytes(sites_csv(chosen))
    (folder / "zones.csv").write_bytes(zones_csv(chosen))
    (folder / "weather.csv").write_bytes(weather_csv(weather, first, lived[0].world.end))
    (folder / "visits.csv").write_bytes(visits_csv(lived))
    written = []
    for style in STYLES:
        of = [one for one in lived if one.building.site in style.sites]
        if of:
            rows = export_rows(style, of)
            data = write(style, rows)
            (folder / "logs" / style.file).write_bytes(data)
            text = data.decode("utf-16" if style.encoding == "utf-16" else style.encoding)
            written.append((style.file, len(text.splitlines()), len(rows)))
    known = make_truth(lived, written)
    if truth is not None:
        known.write(Path(truth))
    return known


def _chosen(sites: Collection[str] | None) -> list[Building]:
    if sites is None:
        return list(BUILDINGS)
    known = {building.site for building in BUILDINGS}
    strange = sorted(set(sites) - known)
    if strange or not sites:
        raise UsageError(
            f"no such site: {', '.join(strange) or 'none named'}",
            do=f"The sites are {', '.join(sorted(known))}.",
        )
    return [building for building in BUILDINGS if building.site in sites]


def export_rows(style: Style, lived: Sequence[Lived]) -> list[Row]:
    """Return the cells of one file, oldest first.

    Parameters
    ----------
    style : Style
        How it is told.
    lived : sequence of Lived
        Whose records.

    Returns
    -------
    list of tuple of str
        One per row.
    """
    told: list[tuple[int, Row]] = []
    for one in lived:
        records = one.centre if style.centre else one.panel
        until = one.world.end - style.taken_before * DAY_S
        cells = [
            (record.at, row)
            for record in records
            if record.at < until and (row := style.tell(record, one.building)) is not None
        ]
        told += cells[-style.ring :] if style.ring else cells
        told += _odd(style, one, cells)
    return [row for _, row in sorted(told, key=lambda pair: pair[0])]


def _odd(style: Style, one: Lived, cells: Sequence[tuple[int, Row]]) -> list[tuple[int, Row]]:
    """Put in a wording that nobody knows after every thousand rows."""
    made = []
    for text, place in zip(style.odd, range(_ODD_EVERY - 1, len(cells), _ODD_EVERY), strict=False):
        at = cells[place][0]
        record = replace(Record(at, Kind.UNREAD, Phase.MOMENT), note=text)
        row = style.tell(record, one.building)
        if row is not None:
            made.append((at, row))
    return made
