"""The shape of what a code or a wording was understood to say."""

import polars as pl

from eventlab.schema import KIND, MODE, PHASE, Kind, Schema

UNDERSTOOD: Schema = {
    "text": pl.String(),
    "kind": KIND,
    "phase": PHASE,
    "mode": MODE,
    "zone": pl.String(),
    "area": pl.String(),
    "person": pl.String(),
    "person_name": pl.String(),
    "path": pl.String(),
    "code": pl.String(),
    "piece": pl.Int32(),
    "problem": pl.String(),
    "as_user": pl.Boolean(),
    "number_of": pl.String(),
    "still": pl.Boolean(),
    "life_safety": pl.String(),
    "at_point": KIND,
    "bare": pl.Boolean(),
    "account": pl.String(),
}
"""What one cell says: one row for each thing it tells.

``text`` is the cell as it stood. ``kind``, ``phase`` are null where ``problem`` says why the cell
was not understood. ``code`` is the standard code alone (``1131``, ``BA``), without group and point.
``as_user`` tells what a number in a column of its own stands for: true for a user, false for a
point, null for neither. ``number_of`` is set where a standard code says that the number beside it
is neither: ``area``, ``none`` (it has no sense), or the word for what it numbers (``module``).
``still`` is true where a row only repeats that a condition is still
present: it opens nothing new. ``life_safety`` (``fire``, ``hold-up``, ``medical``, ``gas``, or
``unknown`` where the alarm names no type) is set whenever the point spoken of is a life-safety
point, also where the kind is an ordinary one such as a bypass or a fault. ``at_point`` is the kind
where the row names a point in another column: ``battery low`` alone speaks of the system, at a
point of the device. ``bare`` is true where a code stood without its qualifier and is read as a new
event. ``account`` is the account that a full frame carries.
"""

LIFE_SAFETY_OF: dict[Kind, str] = {
    Kind.FIRE: "fire",
    Kind.HOLD_UP: "hold-up",
    Kind.DURESS: "hold-up",
    Kind.MEDICAL: "medical",
    Kind.GAS: "gas",
}
"""What a point is that raised a kind of life safety."""
