"""A sheet of text cells to a frame of context; what cannot be used is told row by row."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import polars as pl

from eventlab.context import cells as read
from eventlab.context.headings import MEASURES, Heading, fold, understood
from eventlab.context.opening import settled, time_of_day, weekdays
from eventlab.context.recognise import NEEDED
from eventlab.context.shapes import KEYS, SHAPES
from eventlab.context.times import dates, timed_rows
from eventlab.context.units import Unit, bare, settle, to_ours
from eventlab.errors import WrongContext
from eventlab.meaning.question import Question
from eventlab.schema import Role, conform, formatted

_TOLD = ("row", "raw", "problem")
_DATES = frozenset({"date", "dateutc", "visitdate", "dateofvisit", "alarmdate"})
_TIMES = frozenset({"time", "timeutc", "visittime", "alarmtime", "hour"})

Reader = Callable[[pl.Expr], pl.Expr]


class Table(Protocol):
    """What is needed of an opened sheet."""

    @property
    def name(self) -> str:
        """The file's name."""

    @property
    def header(self) -> tuple[str, ...] | None:
        """The headings as they stand."""

    @property
    def cells(self) -> pl.DataFrame:
        """Row Int64 and c0, c1, … String."""

    @property
    def broken(self) -> pl.DataFrame:
        """Row, raw, problem."""

    def raw(self, rows: Sequence[int] | pl.Series) -> pl.DataFrame:
        """Return row and raw text of some rows."""


@dataclass(frozen=True)
class Parsed:
    """What a context file says.

    Parameters
    ----------
    frame : polars.DataFrame
        In the shape of its role.
    problems : polars.DataFrame
        ``row, raw, problem``: rows that were left out, or whose cells were.
    notes : tuple of str
        Plain sentences about the whole file, such as headings that are not used.
    questions : tuple of Question
        What the file leaves open; it must not be used before that is answered.
    units_row : int or None
        A row below the headings that tells only units.
    """

    frame: pl.DataFrame
    problems: pl.DataFrame
    notes: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()
    units_row: int | None = None


@dataclass(frozen=True)
class _Rule:
    reader: Reader
    wanted: str
    low: float | None = None
    high: float | None = None


def _text() -> _Rule:
    return _Rule(lambda cell: cell, "text")


def _amount(low: float, high: float) -> _Rule:
    return _Rule(read.number, f"a number from {low:g} to {high:g}", low, high)


def _word(name: str, wanted: str) -> _Rule:
    return _Rule(lambda cell: read.meaning(cell, name), wanted)


def _identity(cell: pl.Expr) -> pl.Expr:
    from eventlab.meaning.identity import canonical

    return canonical(cell)


def _identities(cell: pl.Expr) -> pl.Expr:
    return read.pieces(cell).list.eval(_identity(pl.element()))


def _modes(cell: pl.Expr) -> pl.Expr:
    modes = read.pieces(cell, at_blanks=True).list.eval(read.meaning(pl.element(), "mode"))
    return pl.when(modes.list.eval(pl.element().is_null()).list.any().not_()).then(
        modes.list.unique(maintain_order=True)
    )


_FLAG = _Rule(read.flag, "yes or no")
_DATE = _Rule(dates, "a date such as 2025-12-31")
_NAMES = _Rule(_identities, "a list")
_RULES: dict[Role, dict[str, _Rule]] = {
    Role.SITES: {
        "latitude": _amount(-90, 90),
        "longitude": _amount(-180, 180),
        "entry_delay_s": _amount(0, 3600),
        "exit_delay_s": _amount(0, 3600),
        "next_service": _DATE,
    },
    Role.ZONES: {
        "zone": _Rule(_identity, "a point's number or label"),
        "detector": _Rule(lambda cell: cell.str.to_lowercase(), "text"),
        "use": _word("use", "a known use"),
        "area": _NAMES,
        "area_rule": _word("rule", "any or all"),
        "armed_in": _Rule(_modes, "a list of full and part"),
        "trip_limit": _amount(0, 99),
        "hold_off_s": _amount(0, 86400),
        "count": _amount(1, 99),
        "facing_deg": _Rule(read.bearing, "a bearing in degrees or a compass point"),
        "link": _Rule(lambda cell: cell.str.to_lowercase(), "text"),
        "entry_route": _FLAG,
        "installed": _DATE,
    },
    Role.WEATHER: {
        "temperature_c": _amount(-90, 70),
        "wind_m_s": _amount(0, 120),
        "gust_m_s": _amount(0, 150),
        "rain_mm": _amount(0, 2000),
        "cloud_oktas": _amount(0, 8),
        "ghi_w_m2": _amount(-50, 2000),
        "latitude": _amount(-90, 90),
        "longitude": _amount(-180, 180),
    },
    Role.VISITS: {"zones": _NAMES},
    Role.OUTCOMES: {"passed_on": _FLAG, "attended": _FLAG},
    Role.SCHEDULE: {
        "area": _Rule(_identity, "an area's number or label"),
        "weekday": _Rule(weekdays, "weekdays such as Mon-Fri"),
        "opens": _Rule(time_of_day, "a time of day"),
        "closes": _Rule(time_of_day, "a time of day"),
        "from": _DATE,
        "until": _DATE,
        "holidays": _FLAG,
    },
    Role.USERS: {
        "person": _Rule(_identity, "a user's number"),
        "since": _DATE,
        "until": _DATE,
    },
}


def parse(
    role: Role, sheet: Table, *, sites: pl.DataFrame, answers: Mapping[str, str] | None = None
) -> Parsed:
    """Read a context file that has been recognised.

    Parameters
    ----------
    role : Role
        What ``recognise`` said.
    sheet : Sheet
        The opened file.
    sites : polars.DataFrame
        SITE columns: the sites known so far, for their time zones.
    answers : mapping of str to str, optional
        What a person said: ``temperature``, ``wind``, ``rain``, ``cloud``, ``sunlight``,
        ``weather-clock``, ``time-zone``.

    Returns
    -------
    Parsed
        The frame in the shape of the role, problems per row, notes, questions.

    Raises
    ------
    WrongContext
        Where a needed column is missing or no row can be used.
    """
    header = sheet.header or ()
    headings = understood(role, header)
    _demand(role, sheet.name, headings, header)
    answers = answers or {}
    cells = sheet.cells
    raw = cells.select(
        "row", *(read.told(pl.col(f"c{h.place}")).alias(name) for name, h in headings.items())
    )
    units = settle(raw, headings, answers)
    if units.row is not None:
        cells, raw = (frame.filter(pl.col("row") != units.row) for frame in (cells, raw))
    frame, complaints = _values(role, raw, headings, units.of)
    notes, questions = list(units.evidence), list(units.questions)
    if "at" in headings:
        said = _said(raw, cells, headings["at"], header)
        in_utc = units.in_utc or any(word in headings["at"].folded for word in ("utc", "gmt"))
        timed = timed_rows(frame, said, sites, answers, where=sheet.name, in_utc=in_utc, role=role)
        frame = timed.frame
        complaints.append(timed.trouble)
        notes += timed.evidence
        questions += timed.questions
    complaints += [
        _missing(frame, raw, name, header[headings[name].place]) for name in NEEDED[role]
    ]
    if role is Role.SITES:
        frame, unknown = _known_zones(frame)
        complaints.append(unknown)
        frame, unknown = _known_regions(frame)
        complaints.append(unknown)
    if role is Role.SCHEDULE:
        frame, unknown = settled(frame)
        complaints.append(unknown)
    usable = frame.drop_nulls(NEEDED[role])
    shaped = conform(usable, SHAPES[role])
    again = (
        shaped.select(KEYS[role])
        .with_row_index("_n")
        .select("_n", _last=pl.col("_n").max().over(KEYS[role]))
    )
    kept = (again["_n"] == again["_last"]).alias("kept")
    complaints.append(
        usable.filter(~kept).select("row", problem=pl.lit("told again further down; not used"))
    )
    found = pl.concat([c.select("row", "problem") for c in complaints])
    problems = _with_raw(found, sheet)
    if shaped.is_empty() and not questions and (cells.height or sheet.broken.height):
        first = str(problems["problem"].first()) if problems.height else "no rows"
        raise WrongContext(f"no row of this {role} file can be used ({first})", where=sheet.name)
    unused = [text for place, text in enumerate(header) if place not in _places(headings, header)]
    notes += [f"headings not used: {', '.join(unused)}"] if unused else []
    return Parsed(shaped.filter(kept), problems, tuple(notes), tuple(questions), units.row)


def _demand(role: Role, name: str, headings: dict[str, Heading], header: Sequence[str]) -> None:
    lacking = [column for column in NEEDED[role] if column not in headings]
    if lacking:
        shown = {"at": "time_utc or time"}
        raise WrongContext(
            f"a {role} file needs the column {', '.join(shown.get(c, c) for c in lacking)}; "
            f"its headings are {', '.join(header)}",
            where=name,
            do="Add or rename the heading",
        )


def _values(
    role: Role, raw: pl.DataFrame, headings: dict[str, Heading], units: Mapping[str, Unit]
) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    rules = _RULES[role]
    reads: dict[str, pl.Expr] = {}
    for name in headings:
        rule = rules.get(name, _text())
        value = rule.reader(pl.col(name))
        if role is Role.WEATHER and name in MEASURES:
            number = read.number(bare(pl.col(name)))
            value = to_ours(pl.col(name), number, MEASURES[name], units.get(name))
        if rule.low is not None:
            value = pl.when(value.is_between(rule.low, rule.high)).then(value)
        if SHAPES[role].get(name) == pl.Int64():
            value = pl.when(value == value.floor()).then(value).cast(pl.Int64, strict=False)
        reads[name] = value
    frame = raw.select("row", **reads)
    complaints = [
        raw.select(
            "row",
            problem=formatted(
                f"{name}: '{{}}' is not {rules[name].wanted}; left empty", pl.col(name)
            ),
        ).filter(raw[name].is_not_null() & frame[name].is_null())
        for name in headings
        if name in rules and name not in NEEDED[role]
    ]
    return frame, complaints


def _said(
    raw: pl.DataFrame, cells: pl.DataFrame, heading: Heading, header: Sequence[str]
) -> pl.Series:
    """Return when, as the rows tell it; a clock column beside a date column belongs to it."""
    clock = _clock_column(heading, header)
    if clock is None:
        return raw["at"]
    time = cells[f"c{clock}"].str.strip_chars()
    return pl.select(pl.concat_str(raw["at"], time, separator=" ").alias("at")).to_series()


def _clock_column(heading: Heading, header: Sequence[str]) -> int | None:
    """Return the place of a separate time-of-day column beside a date column."""
    if heading.folded not in _DATES:
        return None
    return next((i for i, text in enumerate(header) if fold(text or "") in _TIMES), None)


def _places(headings: dict[str, Heading], header: Sequence[str]) -> set[int]:
    used = {heading.place for heading in headings.values()}
    clock = _clock_column(headings["at"], header) if "at" in headings else None
    return used | ({clock} if clock is not None else set())


def _missing(frame: pl.DataFrame, raw: pl.DataFrame, name: str, heading: str) -> pl.DataFrame:
    empty = raw[name].is_null()
    if name != "at":
        empty = empty | frame[name].is_null()
    return raw.select("row", problem=pl.lit(f"nothing under '{heading}'; row not used")).filter(
        empty
    )


def _known_zones(frame: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    if "time_zone" not in frame.columns:
        return frame, frame.select("row", problem=pl.lit("")).clear()
    from eventlab.meaning.clock import known_zone

    names = frame["time_zone"].drop_nulls().unique().to_list()
    wrong = pl.col("time_zone").is_in([name for name in names if not known_zone(name)])
    told = frame.filter(wrong).select(
        "row", problem=formatted("time_zone: '{}' is no known time zone; left empty", "time_zone")
    )
    kept = pl.when(~wrong).then("time_zone").alias("time_zone")
    return frame.with_columns(kept), told


def _known_regions(frame: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Leave out countries and regions whose public holidays nobody lists."""
    nothing = frame.select("row", problem=pl.lit("")).clear()
    told = [name for name in ("country", "region") if name in frame.columns]
    if not told or frame.select(pl.any_horizontal(pl.col(told).is_not_null())).sum().item() == 0:
        return frame, nothing
    from eventlab.context.public_holidays import region_of

    full = frame.with_columns(
        pl.lit(None, pl.String).alias(name) for name in ("country", "region") if name not in told
    )
    pairs = full.select("country", "region").unique()
    known = pairs.with_columns(
        known=pl.Series([region_of(*pair) is not None for pair in pairs.iter_rows()])
    )
    judged = full.join(
        known, on=["country", "region"], how="left", nulls_equal=True, maintain_order="left"
    )
    said = pl.any_horizontal(pl.col("country", "region").is_not_null())
    wrong = said & ~pl.col("known")
    shown = pl.concat_str("country", "region", separator=" ", ignore_nulls=True)
    problems = judged.filter(wrong).select(
        "row",
        problem=formatted(
            "region: '{}' is no country or region of ISO 3166 (such as GB-SCT) whose public "
            "holidays are known; left empty",
            shown,
        ),
    )
    kept = judged.with_columns(pl.when(~wrong).then(pl.col("country", "region"))).drop("known")
    return kept, problems


def _with_raw(found: pl.DataFrame, sheet: Table) -> pl.DataFrame:
    broken = sheet.broken.select(_TOLD)
    if found.is_empty():
        return broken
    grouped = found.group_by("row", maintain_order=True).agg(pl.col("problem").str.join("; "))
    texts = sheet.raw(grouped["row"])
    told = grouped.join(texts, on="row", how="left").select(_TOLD)
    return pl.concat([told, broken]).sort("row")
