"""Bytes to rows of text cells; knows nothing about alarms.

``pieces`` lists the files that a file holds, most hold themselves alone; ``open_sheet`` reads a
file, ``read_bytes`` reads bytes; both give a ``Sheet`` in which every physical line is accounted
for.
"""

from eventlab.intake.lines import Line
from eventlab.intake.packed import Piece, pieces
from eventlab.intake.sheet import Sheet, open_sheet, read_bytes

__all__ = ["Line", "Piece", "Sheet", "open_sheet", "pieces", "read_bytes"]
