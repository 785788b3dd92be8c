"""How polars puts values into texts: ``polars.format`` and chunks without rows."""

import re
from pathlib import Path

import polars as pl
import pytest

from eventlab.schema import formatted


def chunked(*parts):
    """Give a frame whose text column has chunks, the first of which a filter empties."""
    text = pl.concat([pl.Series("t", part, dtype=pl.String) for part in parts], rechunk=False)
    frame = pl.DataFrame({"n": range(len(text))}).with_columns(text)
    return frame.filter(pl.col("t").ne_missing("gone"))


@pytest.mark.parametrize("first", [["gone"], ["gone"] * 8, ["a"], []])
def test_texts_do_not_depend_on_chunks(first):
    frame = chunked(first, ["b", None, "gone", "c"])
    got = frame.select(formatted("<{}> {} of {}", "t", "n", pl.lit(3)))
    want = [None if t is None else f"<{t}> {n} of 3" for n, t in frame.select("n", "t").rows()]
    assert got.to_series().to_list() == want


def test_the_number_of_parts_is_that_of_the_places():
    with pytest.raises(ValueError, match="1 parts for 2 places"):
        formatted("{} {}", "t")


def test_nothing_uses_the_function_that_fails():
    root = Path(__file__).parents[2]
    code = [*root.glob("eventlab/**/*.py"), *root.glob("dashboards/**/*.py")]
    assert [path for path in code if re.search(r"\bpl\.format\(", path.read_text())] == []
