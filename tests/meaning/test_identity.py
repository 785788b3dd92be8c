"""One form for names of points, areas and people."""

import polars as pl
import pytest

from eventlab.meaning.identity import canonical


@pytest.mark.parametrize(
    ("cell", "form"),
    [
        ("7", "7"),
        ("007", "7"),
        ("Z07", "7"),
        ("z 7", "7"),
        ("Zone 7", "7"),
        ("ZONE 007", "7"),
        ("Zone No. 12", "12"),
        ("zone: 4", "4"),
        ("Point-3", "3"),
        ("Input 016", "16"),
        ("#7", "7"),
        ("User 004", "4"),
        ("U4", "4"),
        ("Partition 2", "2"),
        ("Area 1", "1"),
        ("area b", "B"),
        ("000", "0"),
        ("0", "0"),
        ("  7 ", "7"),
        ("1.07", "1.07"),
        ("A12", "A12"),
        ("GF3", "GF3"),
        ("7A", "7A"),
        ("Main  Door", "Main Door"),
        (" Reading Room PIR ", "Reading Room PIR"),
        ("Zone", "Zone"),
        ("keypad 2", "keypad 2"),
        ("", None),
        ("   ", None),
        (None, None),
    ],
)
def test_a_name_has_one_form(cell, form):
    frame = pl.DataFrame({"cell": [cell]}, schema={"cell": pl.String})
    assert frame.select(canonical(pl.col("cell"))).item() == form


def test_the_form_is_its_own_form():
    cells = pl.DataFrame({"cell": ["Z07", "000", "A12", "Main  Door", "1.07"]})
    once = cells.select(canonical(pl.col("cell")))
    assert once.select(canonical(pl.col("cell"))).equals(once)
