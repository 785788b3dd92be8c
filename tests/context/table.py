"""A sheet of cells from text, for tests of what context files say."""

import csv
import io
from dataclasses import dataclass, field

import polars as pl


@dataclass(frozen=True)
class Table:
    name: str
    header: tuple[str, ...] | None
    cells: pl.DataFrame
    lines: tuple[str, ...]
    broken: pl.DataFrame = field(
        default_factory=lambda: pl.DataFrame(
            schema={"row": pl.Int64, "raw": pl.String, "problem": pl.String}
        )
    )

    def raw(self, rows):
        wanted = list(rows)
        return pl.DataFrame(
            {"row": wanted, "raw": [self.lines[n - 1] for n in wanted]},
            schema={"row": pl.Int64, "raw": pl.String},
        )


def table(text: str, name: str = "list.csv") -> Table:
    """Comma-separated lines, the first the headings."""
    lines = tuple(line.strip() for line in text.strip().splitlines())
    header, *rows = csv.reader(io.StringIO("\n".join(lines)))
    cells = {"row": list(range(2, len(rows) + 2))}
    for place in range(len(header)):
        cells[f"c{place}"] = [row[place] or None for row in rows]
    schema = {"row": pl.Int64} | {f"c{i}": pl.String for i in range(len(header))}
    return Table(name, tuple(header), pl.DataFrame(cells, schema=schema), lines)
