"""A record as words or as a standard code, by tables."""

import csv
from functools import cache
from importlib.resources import files

from eventlab.simulate.model import Building, Record


@cache
def _wordings() -> dict[tuple[str, str, str, str], str]:
    return {
        (r["vocabulary"], r["kind"], r["phase"], r["which"]): r["text"] for r in _rows("wordings")
    }


@cache
def _codes() -> dict[tuple[str, str, str], tuple[str, str, str]]:
    return {
        (r["kind"], r["phase"], r["which"]): (r["dc05"], r["number"], r["dc03"])
        for r in _rows("codes")
    }


def _rows(name: str) -> list[dict[str, str]]:
    text = files("eventlab.simulate.export").joinpath(f"data/{name}.csv").read_text("utf-8")
    return list(csv.DictReader(text.splitlines()))


def _sorts(record: Record, building: Building) -> tuple[str, ...]:
    """Return what a table may ask beside kind and phase, most special first."""
    if record.zone is None:
        return ("",)
    point = building.point(record.zone)
    return (str(point.use), point.detector, "")


def words(vocabulary: str, record: Record, building: Building) -> str | None:
    """Word a record.

    Parameters
    ----------
    vocabulary : str
        Whose way of speaking, a name in the table of wordings.
    record : Record
        What is told.
    building : Building
        For names.

    Returns
    -------
    str or None
        None where this vocabulary has no words for it: such a log does not tell it.
    """
    table = _wordings()
    for which in _sorts(record, building):
        text = table.get((vocabulary, record.kind, record.phase, which))
        if text is not None:
            return text.format(**_names(record, building))
    return None


def _names(record: Record, building: Building) -> dict[str, str]:
    names = {"note": record.note}
    if record.zone is not None:
        name = building.point(record.zone).name
        names |= {"z": record.zone, "z2": record.zone.zfill(2), "z3": f"Z{record.zone.zfill(2)}"}
        names |= {"name": name, "NAME": name.upper()}
    if record.person is not None:
        person = building.person(record.person)
        names |= {"u": record.person, "u2": record.person.zfill(2), "user": person.name}
    return names


def code(record: Record, building: Building) -> tuple[str, str, str] | None:
    """Return the codes of a record.

    Parameters
    ----------
    record : Record
        What is told.
    building : Building
        For the use of the point.

    Returns
    -------
    tuple of str or None
        Qualifier and three digits of DC-05 (may be empty), the number that goes with it
        (point or user, ``0`` where none), the two letters of DC-03 (may be empty).
    """
    for which in _sorts(record, building):
        found = _codes().get((record.kind, record.phase, which))
        if found is not None:
            dc05, number, dc03 = found
            told = record.person if number == "user" else record.zone
            return dc05, told or "0", dc03
    return None
