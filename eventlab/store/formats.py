"""Stores of older programs: what they lack is read as nothing told, and added before writing."""

from typing import TYPE_CHECKING

from eventlab.errors import StoreBusy
from eventlab.store.place import Place
from eventlab.store.table import FORMAT, TABLE, field_of, format_of, set_format

if TYPE_CHECKING:
    from deltalake import DeltaTable

_TRIES = 5


def bring_up(place: Place) -> None:
    """Bring the event table to the format of this program; nothing happens where it has it.

    A new format adds columns, which are null in rows of before: rows are never rewritten for it.
    What a new reader would tell in them comes with the next ``retake``. To read an older store
    nothing has to be written (see ``table.scan``).

    Parameters
    ----------
    place : Place
        The store.

    Raises
    ------
    StoreBusy
        Where other writers never left a turn.
    """
    from deltalake.exceptions import DeltaError

    for _ in range(_TRIES):
        table = place.look()
        if format_of(table) >= FORMAT:
            return
        try:
            _migrate(table)
        except DeltaError:
            continue  # another writer has just done it, or came between
    if format_of(place.look()) < FORMAT:
        raise StoreBusy(
            "other writers came between while the store was brought to the present format",
            do="Try again when they are done.",
        )


def _migrate(table: "DeltaTable") -> None:
    """Add the columns that came later, then say so; in this order: a kill between does no harm."""
    there = {field.name for field in table.schema().fields}
    later = [name for name in TABLE if name not in there]
    if later:
        table.alter.add_columns([field_of(name) for name in later])
    set_format(table)
