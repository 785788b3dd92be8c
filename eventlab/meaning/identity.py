"""One form for what names a point, an area or a person, however a log writes it."""

import polars as pl

NOUNS = (
    "zone|zn|z|point|pt|input|inp|circuit|cct|user|usr|u|area|partition|ptn|ward|group|code"
    "|melder|meldelinie|bereich|benutzer|détecteur|detecteur|secteur|utilisateur"
    "|zona|partición|particion|usuario|rivelatore|partizione|utente|zonen|gebied|gebruiker"
    "|strefa|linia|czujka|partycja|użytkownik|uzytkownik|sektion|område|omrade|användare|anvandare"
)
"""Words before the number of a point, an area or a person; a few of each of eight languages."""

_NUMBERED = rf"^(?i:(?:{NOUNS})s?)?[\s._:#-]*(?i:no\.?|number)?[\s:#]*0*(\d+)$"
_LETTERED = r"^(?i:area|partition|ptn|ward|group)\s+(?i:([a-z]))$"


def canonical(expr: pl.Expr) -> pl.Expr:
    """Bring the name of a point, an area or a person to its one form.

    ``007``, ``Z07``, ``zone 7`` and ``#7`` are ``7``, ``area b`` is ``B``; a label stays as it is,
    with its white space made single. Numbers with parts (``1.07``) and letters before a number
    that are part of the name (``A12``, ``GF3``) stay too. ``0`` stays: whether it stands for none
    is for the caller to say, since only the codes write it so.

    Parameters
    ----------
    expr : polars.Expr
        String: a cell, or part of a text.

    Returns
    -------
    polars.Expr
        String; null for nothing.
    """
    plain = expr.str.strip_chars().str.replace_all(r"\s+", " ")
    number = plain.str.extract(_NUMBERED, 1)
    letter = plain.str.extract(_LETTERED, 1).str.to_uppercase()
    return pl.coalesce(number, letter, plain).replace("", None)
