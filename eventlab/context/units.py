"""Units of weather: from the heading, a row of units, the cell itself, the values, or a person.

Definitions: 1 mile is 1609.344 m, 1 nautical mile 1852 m, 1 inch 25.4 mm (International yard and
pound 1959; ISO 80000-3); t/°C = (t/°F - 32)/1.8. What no air has ever been: WMO World Weather and
Climate Extremes Archive (from memory): 56.7 °C, a gust of 113.3 m/s, 1825 mm of rain in a day.
Above the air the sun brings 1361 W/m2; light of an hour told as a sum: 3.6 kJ/m2 are 1 W/m2.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import polars as pl

from eventlab.context.headings import MEASURES, Heading, fold, units
from eventlab.meaning.question import Choice, Question

_TOO_MUCH: Mapping[str, tuple[tuple[str, float], ...]] = {
    "temperature": (("c", 57.0),),
    "wind": (("m/s", 113.5),),
    "rain": (("in", 72.0),),
    "cloud": (("share", 1.0), ("okta", 9.0), ("tenth", 10.0)),
    "sunlight": (("w/m2", 2000.0),),
}
"""Units in which a value above this has never been measured. Of cloud, nine eighths stand for a sky
that cannot be seen (WMO-No. 306, code table 2700, from memory)."""

_OFFERED: Mapping[str, tuple[str, ...]] = {
    "temperature": ("c", "f"),
    "wind": ("m/s", "km/h", "mph", "knots"),
    "rain": ("mm", "in"),
    "cloud": ("okta", "%", "tenth", "share"),
    "sunlight": ("w/m2", "kj/m2"),
}
_SUFFIX = r"^\s*[+\-\u2212]?\d+(?:[.,]\d+)?\s*(\D*?)\s*$"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit that weather is told in; our value = scale x the number + offset.

    Parameters
    ----------
    name : str
        As it is answered: ``c``, ``f``, ``m/s``, …
    scale, offset : float
        To degrees Celsius, metres a second, millimetres, eighths or watts a square metre.
    says : str
        In words.
    """

    name: str
    scale: float
    offset: float
    says: str


@dataclass(frozen=True)
class Units:
    """The units of one weather file.

    Parameters
    ----------
    of : mapping of str to Unit
        Of each column whose cells do not tell their own.
    row : int or None
        The row that only tells units.
    in_utc : bool
        Whether that row says that the times are UTC.
    questions : tuple of Question
        What nothing in the file tells.
    evidence : tuple of str
        How it was decided.
    """

    of: Mapping[str, Unit]
    row: int | None = None
    in_utc: bool = False
    questions: tuple[Question, ...] = ()
    evidence: tuple[str, ...] = ()


def unit_of(measures: str, written: str) -> Unit | None:
    """Return the unit that is written so, or None.

    Parameters
    ----------
    measures : str
        As in ``headings.MEASURES``.
    written : str
        As in a heading or a cell: ``°F``, ``km/h``, ``kts``.
    """
    return _units().get((measures, fold(written)))


def named(measures: str, name: str) -> Unit | None:
    """Return the unit of that name (``m/s``), or None."""
    return next((u for (m, _), u in _units().items() if m == measures and u.name == name), None)


def settle(raw: pl.DataFrame, headings: Mapping[str, Heading], answers: Mapping[str, str]) -> Units:
    """Find the unit of every column of a weather file.

    Parameters
    ----------
    raw : polars.DataFrame
        ``row`` and the columns as text.
    headings : mapping of str to Heading
        By column.
    answers : mapping of str to str
        What a person said: ``temperature``, ``wind``, ``rain``, ``cloud``, ``sunlight``.

    Returns
    -------
    Units
        With a question for each measure that nothing tells.
    """
    measured = [name for name in headings if name in MEASURES]
    row = _row_of_units(raw, measured)
    row_number = None if row is None else int(raw["row"][0])
    below = raw if row is None else raw.slice(1)
    of: dict[str, Unit] = {}
    evidence: list[str] = []
    open_: dict[str, list[str]] = {}
    for name in measured:
        measures = MEASURES[name]
        unit = unit_of(measures, headings[name].unit or "")
        if unit is None and row is not None and row[name]:
            unit = unit_of(measures, row[name])
        unit = unit or named(measures, answers.get(measures, ""))
        if unit is not None:
            of[name] = unit
        elif _untold(below[name]):
            open_.setdefault(measures, []).append(name)
    questions = []
    for measures, names in open_.items():
        unit, question, why = _by_values(below, measures, names, headings)
        evidence += why
        if unit is not None:
            of |= dict.fromkeys(names, unit)
        if question is not None:
            questions.append(question)
    return Units(
        of,
        row_number,
        row is not None and fold(row.get("at") or "") in {"utc", "gmt", "z"},
        tuple(questions),
        tuple(evidence),
    )


def to_ours(cell: pl.Expr, number: pl.Expr, measures: str, unit: Unit | None) -> pl.Expr:
    """Turn the number of a cell to our unit; the cell's own unit counts first.

    Parameters
    ----------
    cell : polars.Expr
        Text, a unit behind the number or not.
    number : polars.Expr
        The number in it.
    measures : str
        As in ``headings.MEASURES``.
    unit : Unit or None
        Of cells that tell none.

    Returns
    -------
    polars.Expr
        Float64; null where the unit is not known.
    """
    known = {key: one for (of, key), one in _units().items() if of == measures}
    own = cell.str.extract(_SUFFIX, 1).str.to_lowercase().str.replace_all(r"[^a-z0-9%]", "")
    keys, scales, offsets = list(known), [], []
    for one in known.values():
        scales.append(one.scale)
        offsets.append(one.offset)
    keys.append("")
    scales.append(float("nan") if unit is None else unit.scale)
    offsets.append(0.0 if unit is None else unit.offset)
    scale = own.replace_strict(keys, scales, default=None, return_dtype=pl.Float64)
    offset = own.replace_strict(keys, offsets, default=None, return_dtype=pl.Float64)
    value = number * scale + offset
    return pl.when(value.is_finite()).then(value)


def bare(cell: pl.Expr) -> pl.Expr:
    """Take a unit from behind the number of a cell."""
    return cell.str.replace(r"^(\s*[+\-\u2212]?\d+(?:[.,]\d+)?)\s*\D*$", "${1}")


def _row_of_units(raw: pl.DataFrame, measured: list[str]) -> dict[str, str] | None:
    """Return the first row where it tells units and nothing else."""
    if raw.is_empty():
        return None
    first = raw.row(0, named=True)
    told = [(name, first[name]) for name in measured if first[name]]
    all_units = all(unit_of(MEASURES[name], text) for name, text in told)
    return first if told and all_units else None


def _untold(cells: pl.Series) -> bool:
    """Return whether any cell of a column is a number without a unit of its own."""
    return bool((cells.str.extract(_SUFFIX, 1) == "").any())


def _by_values(
    raw: pl.DataFrame, measures: str, names: list[str], headings: Mapping[str, Heading]
) -> tuple[Unit | None, Question | None, list[str]]:
    values = pl.concat(
        [
            raw[name].str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
            for name in names
        ]
    )
    highest = values.max()
    left = list(_OFFERED[measures])
    why = []
    for unit, most in _TOO_MUCH[measures]:
        if isinstance(highest, float) and highest > most:
            left.remove(unit)
            said = named(measures, unit)
            why.append(f"{measures}: {highest:g} cannot be {said.says if said else unit}")
    if len(left) == 1:
        return named(measures, left[0]), None, why
    shown = " and ".join(f"'{headings[name].text}'" for name in names)
    choices = tuple(
        Choice(name, f"in {one.says}") for name in left if (one := named(measures, name))
    )
    text = f"In which unit is {shown}?" + (
        f" Its highest value is {highest}." if isinstance(highest, float) else ""
    )
    return None, Question(measures, text, choices, tuple(why)), why


@cache
def _units() -> dict[tuple[str, str], Unit]:
    return {
        key: Unit(row["unit"], float(row["scale"]), float(row["offset"]), row["says"])
        for key, row in units().items()
    }
