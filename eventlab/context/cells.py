"""Text cells to values, as expressions; what cannot be read becomes null and is told."""

import polars as pl

from eventlab.context.headings import words

_SIGNS = r"[\s\p{P}\p{S}]+"
_NUMBER = r"^[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?$"
_SHORT_PIECES = r"^[0-9A-Za-z]{1,3}(?:\s+[0-9A-Za-z]{1,3})+$"


def text(cell: pl.Expr) -> pl.Expr:
    """Strip a cell; an empty one is null."""
    stripped = cell.str.strip_chars()
    return pl.when(stripped != "").then(stripped)


def folded(cell: pl.Expr) -> pl.Expr:
    """Reduce a cell to bare lower-case letters and digits."""
    return cell.str.to_lowercase().str.replace_all(_SIGNS, "")


def told(cell: pl.Expr) -> pl.Expr:
    """Strip a cell; empty ones, dashes and words like ``n/a`` are null: nothing is said there."""
    bare = folded(cell)
    said = (bare != "") & ~bare.is_in(list(words("nothing")))
    return pl.when(said).then(text(cell))


def number(cell: pl.Expr) -> pl.Expr:
    """Read a number with a decimal point or comma.

    Parameters
    ----------
    cell : polars.Expr
        Text.

    Returns
    -------
    polars.Expr
        Float64, null where it is no number.
    """
    plain = (
        cell.str.strip_chars()
        .str.replace("\u2212", "-", literal=True)
        .str.replace(r"^([+-]?\d+),(\d+)$", "${1}.${2}")
        .str.replace(r"\s*°$", "")
    )
    value = pl.when(plain.str.contains(_NUMBER)).then(plain).cast(pl.Float64, strict=False)
    return pl.when(value.is_finite()).then(value)


def meaning(cell: pl.Expr, name: str) -> pl.Expr:
    """Replace a word by what the list of that name says it means; null where it is unknown."""
    known = words(name)
    return folded(cell).replace_strict(list(known), list(known.values()), default=None)


def flag(cell: pl.Expr) -> pl.Expr:
    """Read yes, no, y, 1, true and the like as a Boolean."""
    return meaning(cell, "flag") == "true"


def bearing(cell: pl.Expr) -> pl.Expr:
    """Read a direction in degrees or as a compass point (``WNW``), within 0 to 360 degrees."""
    degrees = pl.coalesce(number(cell), meaning(cell, "compass").cast(pl.Float64, strict=False))
    return pl.when(degrees.is_between(0, 360)).then(degrees % 360)


def pieces(cell: pl.Expr, *, at_blanks: bool = False) -> pl.Expr:
    """Split a list in one cell at ``;``, ``/``, ``+``, ``,`` or blanks.

    Parameters
    ----------
    cell : polars.Expr
        Text such as ``1;2``, ``1/2``, ``A + B`` or ``1 2``.
    at_blanks : bool
        Split at every blank; otherwise only where all pieces are short (numbers, letters),
        so that a name of two words stays one.

    Returns
    -------
    polars.Expr
        List of text, null where the cell is null.
    """
    joined = cell.str.replace_all(r"\s*[;/+,]\s*", ";")
    blanks = joined.str.replace_all(r"\s+", ";")
    if not at_blanks:
        blanks = pl.when(cell.str.contains(_SHORT_PIECES)).then(blanks).otherwise(joined)
    return (
        blanks.str.strip_chars(";")
        .str.split(";")
        .list.eval(pl.element().filter(pl.element() != ""))
    )
