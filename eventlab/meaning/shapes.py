"""What the shape of cells tells of a column that no heading tells."""

import polars as pl

from eventlab.intake.distinct import distinct
from eventlab.meaning.tables import rows

_NO_NAME = (
    r"^\s*(?:[+-]?\d+[.,]\d+|[+-]?\d+(?:[.,]\d+)?\s*(?:%|°|v\b|mv|ma|db|dbm|s\b|sec|min|ms|kb)|-\d+"
    r"|\d{1,3}(?:\.\d{1,3}){3}|\d{7,}|\d{1,2}:\d{2}(?::\d{2})?|\d+[./-]\d+[./-]\d{2,4}.*"
    r"|[0-9a-f]{8,}|0x[0-9a-f]+)\s*$"
)
_NOTHING = r"^\s*(?:0+|[-–—./]+|n/?a|none|nil|null)\s*$"
_PROSE = 28
"""Characters of a cell, on average, from which on a column of ever other cells is of notes."""

_NOUNS = {
    "zone": r"zones?|zn|z|points?|pt|inputs?|inp|circuit|detector|sensor|melder|meldelinie|zonen|"
    r"détecteur|detecteur|zona|zonas|rivelatore|ingang|strefa|linia|czujka|sektion|sektor",
    "person": r"users?|usr|u|code|benutzer|utilisateur|usuario|utente|gebruiker|użytkownik|"
    r"uzytkownik|användare|anvandare",
    "area": r"areas?|partition|ptn|ward|group|bereich|secteur|partición|particion|partizione|"
    r"gebied|partycja|obszar|område|omrade",
}


def meant(cells: pl.Expr) -> pl.Expr:
    """Return cells that say something; null for noughts, dashes and the like."""
    bare = cells.str.strip_chars().replace("", None)
    return pl.when(~bare.str.contains(f"(?i){_NOTHING}")).then(bare)


def are_paths(cells: pl.Series) -> bool:
    """Tell whether all cells name ways of transmission: ``GPRS``, ``IP``, ``PSTN``.

    Parameters
    ----------
    cells : polars.Series
        String.
    """
    known = tuple(row["path"] for row in rows("paths"))
    texts, _ = distinct(cells)
    begun = (text.strip().lower() for text in texts)
    if not all(not text or text.startswith(known) for text in begun):
        return False
    said = texts.str.strip_chars().str.to_lowercase()
    said = said.filter(said != "").str.replace(r"[\s#-]*[12]$", "")
    return said.len() > 0 and bool(said.is_in(known).all())


def is_no_name(cells: pl.Series) -> bool:
    """Tell whether cells are measures, times, addresses, notes: nothing that names a point.

    Parameters
    ----------
    cells : polars.Series
        String, no nulls.
    """
    said = pl.DataFrame({"cell": cells}).select(meant(pl.col("cell"))).to_series().drop_nulls()
    if said.is_empty():
        return True
    if bool(said.str.contains(f"(?i){_NO_NAME}").all()):
        return True
    length = said.str.len_chars().mean()
    notes = isinstance(length, float) and length >= _PROSE and said.n_unique() > 0.5 * said.len()
    return said.len() > 2 and notes


def is_serial(cells: pl.Series) -> bool:
    """Tell whether cells count the rows: numbers that go up, or down, by small steps.

    Parameters
    ----------
    cells : polars.Series
        String, in file order.
    """
    number = cells.drop_nulls().str.strip_chars().cast(pl.Int64, strict=False)
    if number.len() < 4 or number.null_count():
        return False
    steps = number.diff().drop_nulls()
    one_way = bool((steps > 0).all()) or bool((steps < 0).all())
    share = (steps.abs() == 1).mean()
    return one_way and isinstance(share, float) and share > 0.5


def noun_of(cells: pl.Series) -> frozenset[str]:
    """Tell what the nouns before the numbers of all cells name; empty where one has none.

    Parameters
    ----------
    cells : polars.Series
        String, no nulls.

    Returns
    -------
    frozenset of str
        Of ``zone``, ``person``, ``area``.
    """
    told = set()
    rest = cells.str.strip_chars()
    for name, words in _NOUNS.items():
        has = rest.str.contains(rf"^(?i:{words})[\s.:#-]*(?:no\.?\s*)?\d+(?:\s*[,&/+-].*)?$")
        if has.any():
            told.add(name)
        rest = rest.filter(~has)
    return frozenset(told) if rest.is_empty() else frozenset()
