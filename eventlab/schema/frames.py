"""The shapes of the frames that pass between rooms.

Times are microseconds; ``UTC`` columns carry the zone, wall times carry none.
"""

import polars as pl
from polars.datatypes import DataType, DataTypeClass

from eventlab.schema.words import Kind, Mode, Phase, Timing, Witness

Schema = dict[str, DataType | DataTypeClass]

UTC = pl.Datetime("us", "UTC")
WALL = pl.Datetime("us")

KIND = pl.Enum([k.value for k in Kind])
PHASE = pl.Enum([p.value for p in Phase])
MODE = pl.Enum([m.value for m in Mode])
TIMING = pl.Enum([t.value for t in Timing])
WITNESS = pl.Enum([w.value for w in Witness])

EVENT: Schema = {
    "site": pl.String(),
    "at": UTC,
    "placed": UTC,
    "wall": WALL,
    "timing": TIMING,
    "grain": pl.Int32(),
    "kind": KIND,
    "phase": PHASE,
    "mode": MODE,
    "area": pl.String(),
    "zone": pl.String(),
    "person": pl.String(),
    "person_name": pl.String(),
    "witness": WITNESS,
    "path": pl.String(),
    "text": pl.String(),
    "code": pl.String(),
    "source": pl.String(),
    "row": pl.Int64(),
    "piece": pl.Int32(),
    "nth": pl.Int32(),
    "reading": pl.String(),
    "raw": pl.String(),
    "problem": pl.String(),
}
"""One thing a log row says happened; unread rows too (kind ``unread``)."""

ENUMS: frozenset[str] = frozenset({"timing", "kind", "phase", "mode", "witness"})
"""Event columns that are enums in memory and plain text in the store."""

STORED: Schema = {name: pl.String() if name in ENUMS else dtype for name, dtype in EVENT.items()}
"""The event columns as the table keeps them: only types that it can hold."""

EVIDENCE = pl.List(pl.Struct({"what": pl.String(), "figure": pl.String(), "basis": pl.String()}))

_SUBJECT: Schema = {
    "site": pl.String(),
    "pattern": pl.String(),
    "subject_kind": pl.String(),
    "subject": pl.String(),
    "area": pl.String(),
    "standing": pl.Boolean(),
    "since": UTC,
    "until": UTC,
    "events": pl.Int64(),
    "rate": pl.Float64(),
    "ratio": pl.Float64(),
    "ratio_low": pl.Float64(),
    "ratio_high": pl.Float64(),
    "p_value": pl.Float64(),
    "q_value": pl.Float64(),
    "looks": pl.Int64(),
    "confidence": pl.Float64(),
}

FOUND: Schema = {**_SUBJECT, "evidence": EVIDENCE, "figures": pl.String()}
"""What an analysis returns: figures and keys. ``figures`` is a JSON object for the sentence."""

FINDING: Schema = {
    **_SUBJECT,
    "statement": pl.String(),
    "evidence": EVIDENCE,
    "advice": pl.List(pl.String()),
    "caution": pl.String(),
    "settle": pl.String(),
}
"""What reports and screens consume, and the public JSON of ``eventlab findings``."""

SITE: Schema = {
    "site": pl.String(),
    "name": pl.String(),
    "time_zone": pl.String(),
    "latitude": pl.Float64(),
    "longitude": pl.Float64(),
    "entry_delay_s": pl.Float64(),
    "exit_delay_s": pl.Float64(),
    "trade": pl.String(),
    "grade": pl.String(),
    "next_service": pl.Date(),
    "clock": pl.String(),
    "country": pl.String(),
    "region": pl.String(),
}
"""``country`` and ``region`` as ISO 3166 writes them (``GB``, ``GB-SCT``): whose public holidays
hold there; none are assumed where neither is told."""

ZONE: Schema = {
    "site": pl.String(),
    "zone": pl.String(),
    "name": pl.String(),
    "detector": pl.String(),
    "use": pl.String(),
    "area": pl.List(pl.String()),
    "area_rule": pl.String(),
    "armed_in": pl.List(pl.String()),
    "trip_limit": pl.Int64(),
    "hold_off_s": pl.Float64(),
    "count": pl.Int64(),
    "facing_deg": pl.Float64(),
    "link": pl.String(),
    "entry_route": pl.Boolean(),
    "installed": pl.Date(),
}

WEATHER: Schema = {
    "site": pl.String(),
    "station": pl.String(),
    "at": UTC,
    "temperature_c": pl.Float64(),
    "wind_m_s": pl.Float64(),
    "gust_m_s": pl.Float64(),
    "rain_mm": pl.Float64(),
    "latitude": pl.Float64(),
    "longitude": pl.Float64(),
    "cloud_oktas": pl.Float64(),
    "ghi_w_m2": pl.Float64(),
}
"""Hours of weather; ``cloud_oktas``: eighths of the sky, ``ghi_w_m2``: light of sun and sky on
level ground, the mean of the hour."""

VISIT: Schema = {
    "site": pl.String(),
    "at": UTC,
    "zones": pl.List(pl.String()),
    "work": pl.String(),
    "technician": pl.String(),
}

OUTCOME: Schema = {
    "site": pl.String(),
    "at": UTC,
    "outcome": pl.String(),
    "passed_on": pl.Boolean(),
    "attended": pl.Boolean(),
    "found": pl.String(),
    "note": pl.String(),
    "suggested": pl.String(),
}
"""What came out of an alarm; ``suggested``: what a tool had proposed, where that is told."""

USER: Schema = {
    "site": pl.String(),
    "person": pl.String(),
    "name": pl.String(),
    "since": pl.Date(),
    "until": pl.Date(),
}
"""Whose code it is, from when to when; the name stays where the store is."""

SCHEDULE: Schema = {
    "site": pl.String(),
    "area": pl.String(),
    "weekday": pl.List(pl.String()),
    "opens": pl.Float64(),
    "closes": pl.Float64(),
    "from": pl.Date(),
    "until": pl.Date(),
    "holidays": pl.Boolean(),
}
"""When a place is meant to be open: a row per weekday (``mon`` … ``sun``, ``holiday``) and shift;
``opens`` and ``closes`` in hours after midnight of that day, ``closes`` above 24 where it lies on
the next day, both null where it stays closed; ``area`` null for the whole site; ``holidays``:
whether the row holds on public holidays too."""

CALIBRATION: Schema = {
    "cause": pl.String(),
    "share": pl.Float64(),
    "slope": pl.Float64(),
    "shift": pl.Float64(),
    "told": pl.Int64(),
    "outcomes": pl.Int64(),
}
"""What the recorded outcomes of a whole store taught about causes, a row each: the base rate, the
slope and shift of the score, outcomes of this cause, and of all. Empty: none are recorded."""

TAUGHT: Schema = {
    "form": pl.String(),
    "site": pl.String(),
    "wording": pl.String(),
    "kind": pl.String(),
    "phase": pl.String(),
    "number": pl.String(),
    "at": UTC,
}
"""A wording that a person said the meaning of: ``form`` is the wording with its numbers taken out,
``site`` null for all sites, ``wording`` an example as it stood, ``number`` what a number in it
counts (``point``, ``area``, ``user``, ``none``). A null ``kind``: the word was taken back."""

OUTAGE: Schema = {
    "site": pl.String(),
    "at": UTC,
    "kind": pl.String(),
    "latitude": pl.Float64(),
    "longitude": pl.Float64(),
}
"""The mains lost at a site, or several of its points in alarm within seconds (then ``kind`` is
that of an alarm), and where it stands: what its neighbours are compared with."""


def conform(frame: pl.DataFrame, schema: Schema) -> pl.DataFrame:
    """Give a frame exactly the columns of a schema, in order; missing ones are null.

    Parameters
    ----------
    frame : polars.DataFrame
        Any columns; those not in ``schema`` are dropped.
    schema : dict
        Column name to polars data type.

    Returns
    -------
    polars.DataFrame
        The columns of ``schema``, cast.

    Raises
    ------
    polars.exceptions.InvalidOperationError
        Where a value does not fit its type.
    """
    if frame.is_empty():
        return empty(schema)
    return frame.select(
        (pl.col(name) if name in frame.columns else pl.lit(None)).cast(dtype).alias(name)
        for name, dtype in schema.items()
    )


def empty(schema: Schema) -> pl.DataFrame:
    """Return a frame of a schema with no rows."""
    return pl.DataFrame(schema=schema)
