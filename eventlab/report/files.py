"""Frames as files that other programs open: text from logs stays data there."""

from collections.abc import Mapping

import polars as pl

_LEAD = r"^([=+\-@\t\r\n\x00\u{FF1D}\u{FF0B}\u{FF0D}\u{FF20}])"
_CONTROL = r"[\x00-\x08\x0B\x0C\x0E-\x1F\x7F-\x{9F}]"
_ZERO_SECONDS = r"\.0+Z$"
_UTC_Z = "%Y-%m-%dT%H:%M:%S%.6fZ"


def safe(text: pl.Expr) -> pl.Expr:
    """Neutralise text cells that a spreadsheet would take for a formula.

    Parameters
    ----------
    text : polars.Expr
        Text cells.

    Returns
    -------
    polars.Expr
        With ``'`` before those that start with ``= + - @``, tab, a line end or NUL, or with the
        full-width form of such a sign. Control characters, which a terminal would obey, become the
        replacement character.

    Notes
    -----
    OWASP ASVS 5.0, 1.2.10, and its page on CSV injection. Quoting alone does not protect.
    """
    return text.str.replace(_LEAD, "'${1}").str.replace_all(_CONTROL, "\N{REPLACEMENT CHARACTER}")


def to_csv(frame: pl.DataFrame) -> str:
    """Write a frame as CSV (RFC 4180), safe to open in a spreadsheet.

    Parameters
    ----------
    frame : polars.DataFrame
        Any columns; lists and structures are written as JSON text, times as ISO 8601 (UTC ends
        in ``Z``).

    Returns
    -------
    str
        With a heading row, lines ending in CR LF; numbers stay bare.
    """
    flat = frame.select(_flat(name, dtype) for name, dtype in frame.schema.items())
    text = [name for name, dtype in flat.schema.items() if dtype == pl.String]
    headings = pl.DataFrame({"heading": flat.columns}).select(safe(pl.col("heading")))["heading"]
    return (
        flat.with_columns(safe(pl.col(name)) for name in text)
        .rename(dict(zip(flat.columns, headings, strict=True)))
        .write_csv(line_terminator="\r\n")
    )


def to_json(frame: pl.DataFrame) -> str:
    """Write a frame as the public JSON: an array of objects, times in UTC ending in ``Z``.

    Parameters
    ----------
    frame : polars.DataFrame
        Any columns.

    Returns
    -------
    str
        One JSON text; what is not a number is null.
    """
    import orjson

    rows = frame.select(
        _zulu(name) if _in_utc(dtype) else pl.col(name) for name, dtype in frame.schema.items()
    ).to_dicts()
    return orjson.dumps(rows, option=orjson.OPT_INDENT_2).decode()


def _zulu(name: str) -> pl.Expr:
    return pl.col(name).dt.strftime(_UTC_Z).str.replace(_ZERO_SECONDS, "Z")


def _in_utc(dtype: pl.DataType) -> bool:
    return isinstance(dtype, pl.Datetime) and dtype.time_zone is not None


def _flat(name: str, dtype: pl.DataType) -> pl.Expr:
    cells = pl.col(name)
    if _in_utc(dtype):
        return _zulu(name)
    if isinstance(dtype, pl.Datetime):
        return cells.dt.strftime("%Y-%m-%dT%H:%M:%S")
    if isinstance(dtype, pl.List | pl.Struct):
        return cells.map_elements(_as_json, return_dtype=pl.String)
    if isinstance(dtype, pl.Enum | pl.Categorical):
        return cells.cast(pl.String)
    return cells


def _as_json(value: "pl.Series | Mapping[str, object] | None") -> str | None:
    import orjson

    if value is None:
        return None
    plain = value.to_list() if isinstance(value, pl.Series) else value
    return orjson.dumps(plain).decode()
