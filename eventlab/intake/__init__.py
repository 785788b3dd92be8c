"""Bytes to rows of text cells; knows nothing about alarms.

``open_sheet`` reads a file, ``read_bytes`` reads bytes; both give a ``Sheet`` in which every
physical line is accounted for.
"""

from eventlab.intake.lines import Line
from eventlab.intake.sheet import Sheet, open_sheet, read_bytes

__all__ = ["Line", "Sheet", "open_sheet", "read_bytes"]
