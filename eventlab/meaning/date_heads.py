"""Dates that stand once, in a line of their own, for all the rows below it.

Such a line may come between the rows, above the first of them, or again on every page. It is no
row: it is taken out of the table, and its date given to the rows below. Only where the rows tell
no date themselves: elsewhere a row of which only a date is left is damaged, and stays.
"""

from dataclasses import dataclass, replace

import polars as pl

from eventlab.intake import Sheet
from eventlab.intake.distinct import distinct
from eventlab.meaning.date_hints import days_alone
from eventlab.meaning.roles import Part, Roles, find_roles

_LINES = {"row": pl.Int64(), "date": pl.String()}


@dataclass(frozen=True)
class Lifted:
    """A table without the lines that only tell a date.

    Parameters
    ----------
    sheet : Sheet
        The table that is left.
    roles : Roles
        Its columns by part.
    heads : polars.DataFrame or None
        ``date``: the date above each row as it stands, null above the first one; ``head``: the
        line that tells it. None where rows tell their own, or no line tells any.
    lines : int
        How many rows were such lines.
    """

    sheet: Sheet
    roles: Roles
    heads: pl.DataFrame | None = None
    lines: int = 0


def lift(sheet: Sheet) -> Lifted:
    """Take lines that only tell a date out of a table.

    Parameters
    ----------
    sheet : Sheet
        A table.

    Returns
    -------
    Lifted
        The same table where there are none, or its rows tell their own dates.
    """
    alone = _alone(sheet)
    broken = _told(sheet.broken["row"], sheet.broken["raw"])
    around = [(line.number, line.text) for line in (*sheet.preamble, *sheet.inside)]
    beside = _told(*(pl.Series(part) for part in zip(*around, strict=True))) if around else None
    lines = [alone, broken, *([] if beside is None else [beside])]
    heads = pl.concat(lines).sort("row")
    if heads.is_empty():
        return Lifted(sheet, find_roles(sheet))
    rest = replace(
        sheet,
        cells=sheet.cells.join(alone, on="row", how="anti", maintain_order="left"),
        broken=sheet.broken.join(broken, on="row", how="anti", maintain_order="left"),
        other=sheet.other + alone.height + broken.height,
    )
    roles = find_roles(rest)
    if roles.dated is not None or roles.one(Part.TIME) is None:
        return Lifted(sheet, roles if rest.rows == sheet.rows else find_roles(sheet))
    above = rest.cells.select("row").join_asof(
        heads.with_columns(head="row"), on="row", strategy="backward"
    )
    return Lifted(rest, roles, above.drop("row"), alone.height + broken.height)


def _alone(sheet: Sheet) -> pl.DataFrame:
    """List the rows of which one cell only is filled, and holds a date only."""
    names = [name for name in sheet.cells.columns if name != "row"]
    empty = [name for name in names if sheet.cells[name].null_count()]
    if len(names) < 2 or len(empty) < len(names) - 1:
        return pl.DataFrame(schema=_LINES)
    filled = pl.sum_horizontal(pl.col(name).is_not_null() for name in names)
    few = sheet.cells.filter(filled == 1).select("row", text=pl.coalesce(names))
    return _told(few["row"], few["text"])


def _told(row: pl.Series, text: pl.Series) -> pl.DataFrame:
    """Keep the lines that only tell a date."""
    if not len(row):
        return pl.DataFrame(schema=_LINES)
    texts, code = distinct(text)
    frame = pl.DataFrame({"row": row.cast(pl.Int64), "date": days_alone(texts).gather(code)})
    return frame.drop_nulls()
