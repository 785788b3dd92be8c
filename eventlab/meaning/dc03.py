"""Event codes of ANSI/SIA DC-03 ("SIA format"): two letters, with area, point or user.

Meanings: our own table ``data/dc03.csv``, after App. A of DC-03-1990.01 (R2000.11). An alarm (A)
ends with H or R, a trouble (T) with J or R, a bypass (B) with U; R ends the alarm here, since a
trouble has an ending of its own. First letters: B intruder, F fire, G gas, H hold-up, K heat
(fire), M medical, P panic (hold-up), Q emergency (medical), S sprinkler (fire), T tamper,
U untyped (``unknown``: it may be a life-safety point), W water, Z low temperature.
Readings that the standard leaves open: CR (alarm shortly after closing) is an intrusion alarm at
no point, as 459 of DC-05; BG and UG (one of a pair tripped alone) are activations, FG is a fire;
CZ and OZ (a single point closed, opened) are the end and the begin of a bypass; JK, NA and NS
(supervised person) are medical; BX, FX, GX and TP say that one point answered a test.
"""

from functools import cache

import polars as pl

from eventlab.meaning.tables import frame

_MODIFIER = r"[a-z]{2}[0-9:.\-]*/?"
_EVENTS = r"^(?:[NO])?((?:[A-Z]{2}\d{0,4}[/ ]?)+)$"
_LONE = r"^[NO]?[A-Z]{2}(?:[ \-]?\d{1,4})?$"


_PARSED = dict.fromkeys(("text", "area", "user"), pl.String()) | {
    "piece": pl.Int32(),
    "letters": pl.String(),
    "number": pl.String(),
}


def _may_be(bare: pl.Expr) -> pl.Expr:
    """Tell which cells may be codes: without modifiers two capitals, and no small letter."""
    rest = bare.str.replace_all(_MODIFIER, "")
    return rest.str.contains(r"[A-Z]{2}") & ~rest.str.contains(r"[a-z]")


def parse(cells: pl.DataFrame) -> pl.DataFrame:
    """Take the fields out of cells that are written as this standard writes codes.

    Parameters
    ----------
    cells : polars.DataFrame
        ``text`` (as it stood), ``inside`` (wrapping taken off, letters as they stood).

    Returns
    -------
    polars.DataFrame
        ``text``, ``letters``, ``number``, ``area``, ``user``, ``piece`` (1, 2, ... where one cell
        tells several events).
    """
    # Texts that a sender adds (``^Main door^``, ``*'NAME'``, ``|A...``) say nothing here.
    bare = (
        pl.col("inside")
        .str.replace_all(r"\^[^^]*\^?", "")
        .str.replace(r"[|*].*$", "")
        .str.strip_chars()
    )
    cells = cells.with_columns(bare=bare).filter(_may_be(pl.col("bare")))
    if cells.is_empty():
        return pl.DataFrame(schema=_PARSED)
    bare = pl.col("bare")
    found = cells.with_columns(
        area=bare.str.extract(r"ri(\d+)", 1),
        user=bare.str.extract(r"id(\d+)", 1),
    ).with_columns(
        rest=pl.when(bare.str.contains(_LONE))
        .then(bare.str.replace_all(r"[ \-]", ""))
        .otherwise(bare.str.replace_all(_MODIFIER, ""))
    )
    found = found.with_columns(events=pl.col("rest").str.extract(_EVENTS, 1)).filter(
        pl.col("events").is_not_null()
    )
    # ``NBA`` is a new event of code BA; ``NA`` is a code of its own.
    odd = pl.col("rest").str.extract(r"^([A-Z]+)", 1).str.len_chars() % 2 == 0
    whole = pl.when(odd).then("rest").otherwise("events")
    return (
        found.with_columns(event=whole.str.extract_all(r"[A-Z]{2}\d{0,4}"))
        .select("text", "area", "user", "event")
        .with_columns(piece=pl.int_ranges(1, pl.col("event").list.len() + 1, dtype=pl.Int32))
        .explode("event", "piece")
        .with_columns(
            letters=pl.col("event").str.slice(0, 2),
            number=pl.col("event").str.slice(2).replace("", None),
        )
        .drop("event")
    )


@cache
def meaning() -> pl.DataFrame:
    """Return what every code says.

    Returns
    -------
    polars.DataFrame
        ``letters``, ``kind``, ``phase``, ``mode``, ``role``, ``label``, ``life_safety``.
    """
    return frame("dc03").rename({"code": "letters", "number": "role"}).drop("words")
