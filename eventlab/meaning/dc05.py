"""Event codes of ANSI/SIA DC-05 ("Contact ID"): three digits, with qualifier, group, zone or user.

Qualifier 1 tells a new event or an opening, 3 a restore or a closing, 6 that a condition is still
present. So 1401 is a disarming and 3401 an arming, and likewise every code of openings and
closings, 441, 442 and 456 (part arming) among them: 3441 closes to the stay mode, 1441 opens from
it. Meanings: our own table ``data/dc05.csv``, after App. C of DC-05-1999.09. Readings that the
standard leaves open:

- 118 (fire pre-alarm), 641, 642 and 654 (no sign of a supervised person) are life safety; 158
  (temperature too high) is an environment alarm, since a fire system's heat detector has 114.
- 140 and 150 name no type: their points may be life-safety points (``unknown``).
- 459 (alarm shortly after closing) is an intrusion alarm at no point: it says that an alarm
  happened, and is the only trace of it where the alarm itself did not reach the log.
- 378 (one of a pair tripped alone) is an activation: no alarm was raised.
- 611, 613, 614, 615 say that one point answered a walk test; they neither begin nor end one.
"""

from functools import cache

import polars as pl

from eventlab.meaning.tables import frame
from eventlab.schema import MOMENTS, Kind, Phase

_VALUES = {"0": 10, "A": 10} | {f"{n:X}": n for n in (*range(1, 10), *range(11, 16))}

_SEP = r"[ \-/:,.]+"
_FRAME = (
    r"^(?<account>[0-9A-F]{4})(?<type>\d\d)(?<q>\d)(?<code>[0-9A]{3})(?<group>[0-9A]{2})"
    r"(?<number>[0-9A]{3})(?<check>[0-9A-F]?)$"
)
_TYPED = r"^(?<type>18|98)(?<q>\d)(?<code>\d{3})(?<group>\d\d)(?<number>\d{3})[0-9A-F]?$"
_COMPACT = r"^(?<q>[0-9ER])(?<code>\d{3})(?<group>\d\d)(?<number>\d{3})$"
_SPACED = (
    r"^(?:(?<q>[0-9ER])[ \-]?)?(?<code>\d{3})"
    rf"(?:(?:{_SEP}[GP]?(?<group>\d\d))?{_SEP}[CZU]?(?<number>\d{{3}}))?$"
)
_MADE_OF = r"^[\dA-FRGPCZU \-/:,.]*\d{3}[\dA-FRGPCZU \-/:,.]*$"
"""What every code written so is made of."""
_FIELDS = ("account", "type", "q", "code", "group", "number", "check")
_PARSED = dict.fromkeys(
    ("text", "body", "packed", "account", "type", "q", "digits", "group", "number", "check",
     "problem"), pl.String(),
)  # fmt: skip


def checksum(frame15: str) -> str:
    """Return the sixteenth digit of a frame.

    Every digit counts its own value, 0 counts ten (it is sent as A), B to F count 11 to 15; the
    digit brings the sum to a multiple of 15.

    Parameters
    ----------
    frame15 : str
        Fifteen digits: account (4), message type (2), qualifier, code (3), group (2), zone or user
        (3); white space is left out.

    Returns
    -------
    str
        One of ``1`` to ``9``, ``A`` to ``F``.

    Raises
    ------
    ValueError
        Where it is not fifteen digits of 0 to 9 and A to F.

    Notes
    -----
    ANSI/SIA DC-05-1999.09. A wrong digit is always found, except 0 against A, which count the
    same; swapped digits never are.
    """
    digits = "".join(frame15.split()).upper()
    if len(digits) != 15 or any(digit not in _VALUES for digit in digits):
        raise ValueError(f"not fifteen digits of a frame: {frame15!r}")
    return f"{15 - sum(_VALUES[digit] for digit in digits) % 15:X}"


def _sum(digits: pl.Expr) -> pl.Expr:
    return pl.sum_horizontal(
        digits.str.count_matches(digit, literal=True) * value for digit, value in _VALUES.items()
    )


def parse(cells: pl.DataFrame) -> pl.DataFrame:
    """Take the fields out of cells that are written as this standard writes codes.

    Parameters
    ----------
    cells : polars.DataFrame
        ``text`` (as it stood), ``body`` (upper case, wrapping taken off).

    Returns
    -------
    polars.DataFrame
        The cells of this form with ``account``, ``q`` (``1``, ``3``, ``6``, another digit, or null
        where there is none), ``digits`` (the three of the code), ``group``, ``number``,
        ``problem`` (message type or checksum wrong).
    """
    cells = cells.filter(pl.col("body").str.contains(_MADE_OF))
    if cells.is_empty():
        return pl.DataFrame(schema=_PARSED)
    packed = pl.col("body").str.replace_all(_SEP, "")
    empty = pl.lit(None, pl.String)

    def fields(target: pl.Expr, pattern: str) -> pl.Expr:
        groups = target.str.extract_groups(pattern)
        known = [name for name in _FIELDS if f"<{name}>" in pattern]
        return pl.struct(
            (groups.struct.field(name) if name in known else empty).alias(name) for name in _FIELDS
        )

    forms = [(packed, _FRAME), (packed, _TYPED), (pl.col("body"), _COMPACT)]
    forms.append((pl.col("body"), _SPACED))
    found = cells.with_columns(
        packed.alias("packed"), *(fields(x, p).alias(f"f{i}") for i, (x, p) in enumerate(forms))
    )
    taken = pl.coalesce(
        pl.when(pl.col(f"f{i}").struct.field("code").is_not_null()).then(pl.col(f"f{i}"))
        for i in range(len(forms))
    )
    found = found.with_columns(taken.alias("taken")).filter(pl.col("taken").is_not_null())
    found = found.select("text", "body", "packed", "taken").unnest("taken")
    zeros = pl.col("code", "group", "number").str.replace_all("A", "0", literal=True)
    wrong_type = ~pl.col("type").is_in(["18", "98"])
    wrong_sum = (pl.col("check") != "") & (_sum(pl.col("packed")) % 15 != 0)
    return found.with_columns(
        zeros,
        q=pl.col("q").replace({"E": "1", "R": "3"}),
        problem=pl.when(wrong_type)
        .then(pl.lit("message type ") + pl.col("type") + pl.lit(" is not one of the standard"))
        .when(wrong_sum)
        .then(pl.lit("the checksum of the frame is wrong")),
    ).rename({"code": "digits"})


@cache
def meaning() -> pl.DataFrame:
    """Return what every code says with every qualifier.

    Returns
    -------
    polars.DataFrame
        ``digits``, ``q``, ``kind``, ``phase``, ``mode``, ``role``, ``label``, ``life_safety``,
        ``still``, ``known_problem``; three rows for each code.
    """
    table = frame("dc05").rename({"code": "digits", "number": "role"})
    shared = ["digits", "mode", "role", "label", "life_safety"]
    acts = pl.col("kind").is_in([str(Kind.ARM), str(Kind.DISARM)])
    reserved = pl.when(pl.col("kind") == Kind.UNREAD).then(
        pl.lit("code ") + pl.col("digits") + pl.lit(" is reserved: the standard gives it no sense")
    )
    new = table.select(*shared, "kind", "phase", q=pl.lit("1"), known_problem=reserved)
    over = table.select(
        *shared,
        kind="restored_kind",
        phase="restored_phase",
        q=pl.lit("3"),
        known_problem=reserved,
    )
    unsaid = pl.lit("a status report of ") + pl.col("digits")
    unsaid += pl.lit(" does not say whether the area is open or closed")
    present = table.select(
        *shared,
        "kind",
        phase=pl.when(pl.col("kind").is_in([str(k) for k in MOMENTS]))
        .then(pl.lit(str(Phase.MOMENT)))
        .otherwise("phase"),
        q=pl.lit("6"),
        known_problem=pl.coalesce(reserved, pl.when(acts).then(unsaid)),
    )
    columns = [*shared, "q", "kind", "phase", "known_problem"]
    return pl.concat([part.select(columns) for part in (new, over, present)]).with_columns(
        still=pl.col("q") == "6"
    )


@cache
def needs_qualifier() -> pl.Series:
    """Return the codes that say opposite things with qualifiers 1 and 3."""
    table = frame("dc05")
    return table.filter((pl.col("kind") == Kind.DISARM) & (pl.col("restored_kind") == Kind.ARM))[
        "code"
    ]
