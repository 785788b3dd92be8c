"""What a cell with a standard event code says: DC-05 digits, DC-03 letters, frames of either."""

from typing import NamedTuple

import polars as pl

from eventlab.intake.distinct import distinct
from eventlab.meaning import dc03, dc05
from eventlab.meaning.dc05 import checksum
from eventlab.meaning.identity import canonical
from eventlab.meaning.remembered import Remembered
from eventlab.meaning.understood import UNDERSTOOD
from eventlab.schema import Kind, Mode, conform

__all__ = ["CodeShare", "checksum", "is_code_column", "understand_codes"]

_QUALIFIERS = {
    "1": "1",
    "3": "3",
    "6": "6",
    "E": "1",
    "R": "3",
    "NEW": "1",
    "EVENT": "1",
    "NEW EVENT": "1",
    "OPEN": "1",
    "OPENING": "1",
    "RESTORE": "3",
    "RESTORAL": "3",
    "RESTORED": "3",
    "CLOSE": "3",
    "CLOSING": "3",
    "STATUS": "6",
    "STILL PRESENT": "6",
}

_PEOPLE = [Kind.ARM, Kind.ARM_FAILED, Kind.DISARM, Kind.CANCEL, Kind.DURESS, Kind.ACCESS]


NO_FORM = "it has the form of no standard code"


class CodeShare(NamedTuple):
    """How much of a column is standard codes, and of which standard."""

    share: float
    family: str | None


def understand_codes(cells: pl.Series, qualifier: pl.Series | None = None) -> pl.DataFrame:
    """Tell what cells with standard event codes say.

    Parameters
    ----------
    cells : polars.Series
        String; distinct cells are best. Codes alone (``1131``, ``E131``, ``131``, ``BA``,
        ``BA015``), with group and number (``1131 01 015``), frames with account and checksum
        (``1234 18 1131 01 015 8``), bodies of DC-09 messages (``[#1234|Nri1/BA015]``).
    qualifier : polars.Series, optional
        String, as long as ``cells``: the qualifier of each code, where it stands in a field of
        its own.

    Returns
    -------
    polars.DataFrame
        Columns of ``UNDERSTOOD``, in the order of the cells' first appearance; more rows than one
        for a cell that tells several events, none for a null cell. With ``qualifier`` one more
        column of that name, and a row for every distinct pair. ``problem`` is set, and ``kind``
        null, where a cell is not understood.
    """
    texts = cells.cast(pl.String)
    if qualifier is None:
        return _ALONE(distinct(texts)[0])
    told = pl.DataFrame({"text": texts, "qualifier": qualifier.cast(pl.String)})
    return _understand(told.filter(pl.col("text").is_not_null()).unique(maintain_order=True))


def _understand(told: pl.DataFrame) -> pl.DataFrame:
    texts = told.select(pl.col("text").unique(maintain_order=True))
    # A DC-09 message says who and what between brackets: [#account|data].
    inside = pl.col("text").str.strip_chars()
    wrapped = inside.str.extract(r"\[#?\w*\|([^\]]*)\]", 1)
    plain = texts.with_columns(inside=pl.coalesce(wrapped, inside).str.strip_chars())
    plain = plain.with_columns(
        body=pl.col("inside").str.to_uppercase(),
        wrapped=inside.str.extract(r"\[#?(\w+)\|", 1),
    )
    keys = told.columns
    digits = dc05.parse(plain)
    rest = plain.join(digits, on="text", how="anti") if digits.height else plain
    letters = dc03.parse(rest)
    parts = [_by_digits(told, digits)] if digits.height else []
    if letters.height:
        parts.append(told.select(keys).join(_by_letters(letters), on="text", how="inner"))
    if not parts:
        return _none(told, plain)
    return _finish(told, plain, pl.concat(parts, how="diagonal"), keys)


_ALONE = Remembered(lambda texts: _understand(pl.DataFrame({"text": texts})))


def _none(told: pl.DataFrame, plain: pl.DataFrame) -> pl.DataFrame:
    """Say of cells that none is a code."""
    accounts = plain.select("text", account="wrapped")
    told = told.join(accounts, on="text", how="left", maintain_order="left")
    shaped = conform(told.with_columns(problem=pl.lit(NO_FORM), piece=pl.lit(1)), UNDERSTOOD)
    return shaped.hstack([told["qualifier"]]) if "qualifier" in told.columns else shaped


def _by_digits(told: pl.DataFrame, parsed: pl.DataFrame) -> pl.DataFrame:
    """Give codes of three digits their meaning, with the qualifier from wherever it stands."""
    rows = told.join(parsed, on="text", how="inner")
    said = pl.col("q")
    strange = pl.lit(None, pl.String)
    if "qualifier" in told.columns:
        word = pl.col("qualifier").str.strip_chars().str.to_uppercase().replace("", None)
        other = word.replace_strict(_QUALIFIERS, default=None, return_dtype=pl.String)
        strange = (
            pl.when(word.is_not_null() & other.is_null())
            .then(pl.lit("qualifier ") + word + pl.lit(" is not known"))
            .when(other != said)
            .then(pl.lit("the code has one qualifier within it and another beside it"))
        )
        said = pl.coalesce("q", other)
    rows = rows.with_columns(strange.alias("strange"), said=said)
    torn = pl.col("said").is_null() & pl.col("digits").is_in(dc05.needs_qualifier().implode())
    named = pl.col("digits").is_in(dc05.meaning()["digits"].implode())
    wrong = ~pl.col("said").is_in(["1", "3", "6"])
    code = pl.lit("code ") + pl.col("digits")
    return (
        rows.with_columns(
            problem=pl.coalesce(
                "problem",
                "strange",
                pl.when(~named).then(code + pl.lit(" is in no table")),
                pl.when(wrong).then(
                    pl.lit("qualifier ") + pl.col("said") + pl.lit(" is not in the standard")
                ),
                pl.when(torn).then(
                    code + pl.lit(" needs its qualifier: it tells openings and closings")
                ),
            ),
            bare=pl.col("said").is_null(),
            q=pl.col("said").fill_null("1"),
            code=pl.concat_str(pl.col("said").fill_null(""), "digits"),
        )
        .join(dc05.meaning(), on=["digits", "q"], how="left")
        .with_columns(
            problem=pl.coalesce("problem", "known_problem"),
            area=canonical(pl.col("group")),
            number=canonical(pl.col("number")),
            piece=pl.lit(1, pl.Int32),
        )
    )


def _by_letters(parsed: pl.DataFrame) -> pl.DataFrame:
    return parsed.join(dc03.meaning(), on="letters", how="left").with_columns(
        code="letters",
        area=canonical(pl.col("area")),
        number=canonical(pl.col("number")),
        user=canonical(pl.col("user")),
        still=pl.lit(value=False),
        bare=pl.lit(value=False),
        problem=pl.when(pl.col("kind").is_null()).then(
            pl.lit("code ") + pl.col("letters") + pl.lit(" is in no table")
        ),
    )


def _finish(
    told: pl.DataFrame, plain: pl.DataFrame, read: pl.DataFrame, keys: list[str]
) -> pl.DataFrame:
    """Put the number where it belongs, and say what could not be understood."""
    for name in ("account", "user"):
        if name not in read.columns:
            read = read.with_columns(pl.lit(None, pl.String).alias(name))
    number = pl.col("number").replace("0", None)
    role = pl.col("role")
    device = pl.coalesce("label", "role")
    zone = (
        pl.when(role == "zone")
        .then(number)
        .when(role == "none")
        .then(pl.col("label"))
        .when(role.is_in(["user", "area"]))
        .then(pl.lit(None, pl.String))
        .when(number.is_not_null())
        .then(device + pl.lit(" ") + number)
        .otherwise("label")
    )
    user = pl.col("user").replace("0", None)
    told = told.join(read, on=keys, how="left", maintain_order="left", nulls_equal=True)
    told = told.join(plain.select("text", "wrapped"), on="text", how="left", maintain_order="left")
    understood = pl.col("problem").is_null() & pl.col("kind").is_not_null()
    told = told.with_columns(
        problem=pl.when(~understood).then(pl.col("problem").fill_null(NO_FORM))
    )
    parts = {
        "kind": pl.col("kind"),
        "phase": pl.col("phase"),
        "mode": _mode(),
        "zone": zone,
        "area": pl.coalesce(
            pl.when(role == "area").then(number), pl.col("area").replace("0", None)
        ),
        "person": pl.coalesce(user, pl.when(role == "user").then(number)),
        "still": pl.col("still"),
        "life_safety": pl.col("life_safety"),
        "at_point": pl.col("kind"),
        "as_user": (role == "user")
        | ((role == "area") & pl.col("kind").is_in([str(kind) for kind in _PEOPLE])),
        "number_of": pl.when(~role.is_in(["zone", "user"])).then(
            pl.when(role.is_in(["none", "area"])).then(role).otherwise(device)
        ),
    }
    told = told.with_columns(
        pl.when(understood).then(value).alias(name) for name, value in parts.items()
    ).with_columns(
        pl.col("piece").fill_null(1),
        account=pl.coalesce("account", "wrapped"),
        as_user=pl.when(pl.col("as_user"))
        .then(pl.col("as_user"))
        .otherwise(pl.when(role == "zone").then(pl.lit(value=False))),
    )
    shaped = conform(told, UNDERSTOOD)
    return shaped.hstack([told["qualifier"]]) if "qualifier" in keys else shaped


def _mode() -> pl.Expr:
    """Keep the mode of an arming; of a disarming only how it was done."""
    how = [str(mode) for mode in (Mode.TIMED, Mode.REMOTE, Mode.QUICK, Mode.KEY)]
    kept = (pl.col("kind") == Kind.ARM) | (
        (pl.col("kind") == Kind.DISARM) & pl.col("mode").is_in(how)
    )
    return pl.when(kept).then("mode")


def is_code_column(cells: pl.Series, *, headed: bool = False) -> CodeShare:
    """Tell how much of a column is standard event codes.

    Parameters
    ----------
    cells : polars.Series
        String; null cells do not count.
    headed : bool
        Whether the heading says so and nothing else of the table tells what happened.

    Returns
    -------
    CodeShare
        Share of the cells that are known codes (0 to 1), and ``dc05`` or ``dc03`` for the standard
        that most of them are written in. Numbers of three digits alone are codes only where the
        heading says so, or they are of several classes and few are of class 2 (fire supervisory,
        rare in a log): points numbered by storey have three digits too.
    """
    counted = cells.cast(pl.String).drop_nulls().value_counts(name="cells")
    counted.columns = ["text", "cells"]
    if counted.is_empty():
        return CodeShare(0.0, None)
    told = understand_codes(counted["text"])
    # A code that wants its qualifier is a code nevertheless.
    code = pl.col("problem").is_null() | pl.col("problem").str.contains("needs its qualifier")
    if not told.select(code.any()).item():
        return CodeShare(0.0, None)
    known = told.unique("text", keep="first").join(counted, on="text").filter(code)
    if known.is_empty():
        return CodeShare(0.0, None)
    first = known["text"].str.extract(r"^\s*(\d)\d{2}\s*$", 1).to_list()
    if (
        not headed
        and None not in first
        and (len(set(first)) < 2 or first.count("2") > 0.2 * len(first))
    ):
        return CodeShare(0.0, None)
    cells_of = pl.col("cells").sum()
    codes, digits = known.select(
        cells_of, digits=pl.col("cells").filter(pl.col("code").str.contains(r"\d")).sum()
    ).row(0)
    whole = counted.select(cells_of).item()
    return CodeShare(codes / whole, "dc05" if 2 * digits >= codes else "dc03")
