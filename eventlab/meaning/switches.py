"""State columns: cells that say only whether what another column tells begins or ends.

Three sorts of cells stand in ``data/switches.csv``: words that say it themselves (``Alarm``,
``Restored``, ``geschlossen``), pairs of letters that the trade writes for such words (``A`` and
``R``), and bare pairs (``1`` and ``0``, ``Y`` and ``N``) whose first begins a condition where the
column is one of states, and means something else where it is not.
"""

from collections import Counter
from dataclasses import dataclass
from functools import cache

import polars as pl

from eventlab.meaning.tables import rows
from eventlab.schema import Phase

BEGIN, END = str(Phase.BEGIN), str(Phase.END)


@dataclass(frozen=True)
class Switch:
    """What the cells of a state column stand for.

    Parameters
    ----------
    phase : dict of str to str
        Cell, as ``plain`` writes it, to ``begin`` or ``end``.
    english : dict of str to str
        The same cells to an English word of the same meaning.
    bare : bool
        Whether the cells do not say themselves what they mean.
    """

    phase: dict[str, str]
    english: dict[str, str]
    bare: bool = False

    def turned(self) -> "Switch":
        """Return the switch with begin and end exchanged."""
        other = {BEGIN: END, END: BEGIN}
        first, second = sorted(self.phase, key=lambda cell: self.phase[cell])
        english = {first: self.english[second], second: self.english[first]}
        return Switch({cell: other[p] for cell, p in self.phase.items()}, english, self.bare)


@cache
def worded() -> dict[str, tuple[str, str]]:
    """Return the words that say themselves what they mean: cell to phase and English word."""
    told = {}
    for row in rows("switches"):
        if row["sort"] == "worded":
            side = BEGIN if row["begin"] else END
            cell = row["begin"] or row["end"]
            told[cell] = (side, row["begins_as"] or row["ends_as"])
    return told


@cache
def _pairs() -> dict[frozenset[str], tuple[dict[str, str], ...]]:
    found: dict[frozenset[str], tuple[dict[str, str], ...]] = {}
    for row in rows("switches"):
        if row["sort"] != "worded":
            key = frozenset((row["begin"], row["end"]))
            found[key] = (*found.get(key, ()), row)
    return found


def plain(cell: pl.Expr) -> pl.Expr:
    """Write a cell as the table of switches does: lower case, single blanks, no full stop."""
    return (
        cell.str.strip_chars().str.to_lowercase().str.replace_all(r"\s+", " ").str.strip_chars(".")
    ).replace("", None)


def switch_of(cells: pl.Series) -> Switch | None:
    """Tell what the cells of a column stand for, where they say that things begin and end.

    Parameters
    ----------
    cells : polars.Series
        String.

    Returns
    -------
    Switch or None
        None where more than a few cells are no state, where only one of both is ever said, and
        where two pairs of the table that say opposite things fit.
    """
    few = pl.DataFrame({"cell": cells}).select(plain(pl.col("cell"))).to_series().drop_nulls()
    # A few cells that say something else make it no other column; their rows are not read.
    counted = Counter(few.to_list())
    said = [cell for cell, count in counted.items() if count > _RARE * few.len()]
    if not 2 <= len(said) <= _MOST:
        return None
    pairs = _pairs().get(frozenset(said), ())
    if pairs:
        row = pairs[0]
        if any(other["begin"] != row["begin"] for other in pairs):
            return None
        return Switch(
            {row["begin"]: BEGIN, row["end"]: END},
            {row["begin"]: row["begins_as"], row["end"]: row["ends_as"]},
            row["sort"] == "bare",
        )
    words = worded()
    if not all(cell in words for cell in said):
        return None
    phase = {cell: words[cell][0] for cell in said}
    if len(set(phase.values())) < 2:
        return None
    return Switch(phase, {cell: words[cell][1] for cell in said})


_MOST = 12
"""Different cells of a state column at most."""
_RARE = 0.01
"""Share of a column's cells up to which one that is no state may be a slip."""
