"""What each row of a log says happened, where and to whom: codes and wordings brought together."""

import polars as pl

from eventlab.meaning.clock_told import plain_setting
from eventlab.meaning.coded_words import split
from eventlab.meaning.codes import understand_codes
from eventlab.meaning.fit import joined
from eventlab.meaning.identity import canonical
from eventlab.meaning.qualifiers import qualifier_of
from eventlab.meaning.roles import Part, Roles
from eventlab.meaning.states import as_qualifier, by_state, with_states
from eventlab.meaning.taught import Lessons
from eventlab.meaning.understood import UNDERSTOOD
from eventlab.meaning.wording import life_safety_of, understand_words
from eventlab.schema import Phase, empty

EMPTY = "the row is empty where it should say what happened"

TORN = "it holds control characters, which no wording has"

_CONTROL = r"[\x00-\x08\x0E-\x1F\x7F]"
_PADDING = "\x00 "


def say(cells: pl.DataFrame, roles: Roles, lessons: Lessons | None = None) -> pl.DataFrame:
    """Tell what each row says, by its standard code where it has one, else by its wording.

    Parameters
    ----------
    cells : polars.DataFrame
        The table of text cells.
    roles : Roles
        Its columns by part.
    lessons : Lessons, optional
        What people said of wordings that no table knows.

    Returns
    -------
    polars.DataFrame
        ``line`` (0-based index into ``cells``), the columns of ``UNDERSTOOD`` and ``text`` as
        logged; several lines for a row that tells several events; ``problem`` where nothing is
        understood.
    """
    words = roles.columns.get(Part.WORDS, [])
    frame = pl.DataFrame(
        {
            "_code": _code_cells(cells, roles),
            "_text": joined(cells, words) if words else _none(cells.height),
        }
    ).with_row_index("line")
    frame = frame.with_columns(_beside=pl.lit(value=False))
    column = roles.one(Part.CODE)
    if column is not None and column in words:
        plain = cells.with_columns(split(cells[column])[1])
        frame = frame.with_columns(_read=joined(plain, words).str.strip_chars(_PADDING))
    else:
        frame = frame.with_columns(_read=pl.col("_text").str.strip_chars(_PADDING))
    torn = frame["_read"].str.contains(_CONTROL) | frame["_code"].str.contains(_CONTROL)
    torn = torn.fill_null(value=False)
    if torn.any():
        frame = frame.with_columns(
            pl.when(~torn).then(name).alias(name) for name in ("_read", "_code")
        )
    if words:
        frame = frame.with_columns(plain_setting(frame["_read"]))
        frame = _ended_by_words(frame)
        frame = _beside_life_safety(frame, cells, roles)
    state = roles.one(Part.STATE)
    if words and state is not None and roles.meant is not None:
        frame = with_states(frame, cells[state], roles.meant)
    coded = understand_codes(frame["_code"].drop_nulls().unique(maintain_order=True))
    by_code = coded.filter(pl.col("problem").is_null())
    if by_code.is_empty():
        told = _by_words(frame, coded)
    elif not words:
        told = _by(frame, coded, "_code")
    else:
        known = frame.join(by_code.select(_code="text").unique(), on="_code", how="semi")
        rest = frame.join(known.select("line"), on="line", how="anti")
        told = pl.concat([_named_beside(_by(known, by_code, "_code")), _by_words(rest, coded)])
        told = told.sort("line", "piece", maintain_order=True)
    if lessons is not None:
        told = lessons.applied(told)
    told = told.with_columns(
        pl.col("problem").fill_null(
            pl.when(pl.col("kind").is_null()).then(
                pl.when(pl.col("line").is_in(torn.arg_true().implode()))
                .then(pl.lit(TORN))
                .when(pl.col("_code").is_null() & pl.col("_text").is_null())
                .then(pl.lit(EMPTY))
                .otherwise(pl.lit("no wording known for it"))
            )
        ),
        code=pl.coalesce("code", "_code"),
        text=pl.col("_text"),
    )
    if "_refused" in told.columns:
        told = by_state(told)
    told = told.drop("_code", "_text", "_read", "_beside")
    return _with_columns_said(told, cells, roles)


def _none(height: int) -> pl.Series:
    return pl.Series("none", [None], dtype=pl.String).new_from_index(0, height)


def _code_cells(cells: pl.DataFrame, roles: Roles) -> pl.Series:
    """Return the code of each row with its qualifier before it, where that stands apart."""
    column = roles.one(Part.CODE)
    if column is None:
        return _none(cells.height)
    if column in roles.columns.get(Part.WORDS, []):
        return split(cells[column])[0]
    code = pl.col(column).str.strip_chars()
    qualifier, state = roles.one(Part.QUALIFIER), roles.one(Part.STATE)
    said: pl.Expr | None = None
    if qualifier is not None:
        said = qualifier_of(pl.col(qualifier))
    elif state is not None and roles.meant is not None:
        said = as_qualifier(pl.col(state), roles.meant)
    if said is not None:
        bare = code.str.contains(r"^\d{3}$")
        code = pl.when(bare & said.is_not_null()).then(said + code).otherwise(code)
    return cells.select(code.replace("", None)).to_series()


def _ended_by_words(frame: pl.DataFrame) -> pl.DataFrame:
    """Give a bare code the qualifier of its end where the wording beside it tells the end."""
    bare = pl.col("_code").str.contains(r"^\d{3}$") & pl.col("_read").is_not_null()
    pairs = frame.filter(bare).select("_code", "_read").unique(maintain_order=True)
    if pairs.is_empty():
        return frame
    what = ("kind", "phase")
    worded = understand_words(pairs["_read"].unique()).unique("text", keep="none")
    over = understand_codes("3" + pairs["_code"].unique()).filter(pl.col("problem").is_null())
    begun = understand_codes(pairs["_code"].unique()).select(*what, _code="text")
    ends = (pl.col("phase") == Phase.END) & (pl.col("phase_over") == Phase.END)
    alike = (pl.col("kind") == pl.col("kind_over")) & (pl.col("phase") == pl.col("phase_over"))
    as_begun = (pl.col("kind") == pl.col("kind_begun")) & (pl.col("phase") == pl.col("phase_begun"))
    as_begun = as_begun.fill_null(value=False)
    ended = (
        pairs.with_columns(_said=qualifier_of(pl.col("_read")))
        .join(worded.select("text", *what), left_on="_read", right_on="text", how="left")
        .with_columns(_over="3" + pl.col("_code"))
        .join(over.select(*what, _over="text"), on="_over", suffix="_over", how="left")
        .join(begun, on="_code", suffix="_begun", how="left")
        .with_columns(
            # A word that is a qualifier decides; else a wording that tells the end of it.
            _over=pl.when(pl.col("_said").is_not_null())
            .then(pl.col("_said") + pl.col("_code"))
            .when(ends | (alike & ~as_begun))
            .then("_over")
        )
        .filter(pl.col("_over").is_not_null())
        .select("_code", "_read", "_over")
    )
    return (
        frame.join(ended, on=["_code", "_read"], how="left", maintain_order="left")
        .with_columns(_code=pl.coalesce("_over", "_code"))
        .drop("_over")
    )


def _beside_life_safety(frame: pl.DataFrame, cells: pl.DataFrame, roles: Roles) -> pl.DataFrame:
    """Read the wording together with the name of its point where that may be of life safety.

    ``Alarm`` beside ``Kitchen smoke`` is a fire, whichever column the name stands in.
    """
    for part in (Part.ZONE_NAME, Part.ZONE):
        column = roles.one(part)
        if column is None:
            continue
        names = life_safety_of(cells[column])["name"]
        if names.len():
            name = cells[column]
            beside = pl.concat_str(pl.lit(name), "_text", separator=" | ")
            speaks = pl.lit(name.is_in(names.implode()).fill_null(value=False))
            frame = frame.with_columns(_beside=pl.col("_beside") | speaks)
            frame = frame.with_columns(
                _read=pl.when(speaks & pl.col("_text").is_not_null())
                .then(beside)
                .otherwise(pl.col("_read"))
            )
    return frame


def _by(frame: pl.DataFrame, understood: pl.DataFrame, key: str) -> pl.DataFrame:
    table = understood.rename({"text": key})
    if table[key].n_unique() == table.height and frame[key].null_count() == 0:
        # One event for each wording: its line in the table is looked up, nothing is joined.
        line = frame[key].cast(pl.Enum(table[key])).to_physical()
        return frame.hstack(table.drop(key)[line])
    return frame.join(table, on=key, how="left", maintain_order="left_right")


def _by_words(frame: pl.DataFrame, coded: pl.DataFrame) -> pl.DataFrame:
    """Understand wordings; where there is none, keep the reason why the code is not known."""
    texts = frame["_read"].drop_nulls().unique(maintain_order=True)
    worded = understand_words(texts) if texts.len() else empty(UNDERSTOOD)
    told = _by(frame, worded, "_read")
    reasons = coded.filter(pl.col("problem").is_not_null()).select(_code="text", _why="problem")
    if reasons.is_empty():
        return told
    return (
        told.join(reasons.unique("_code"), on="_code", how="left", maintain_order="left")
        .with_columns(
            problem=pl.when(pl.col("kind").is_null())
            .then(pl.coalesce("_why", "problem"))
            .otherwise(pl.col("problem"))
        )
        .drop("_why")
    )


def _named_beside(told: pl.DataFrame) -> pl.DataFrame:
    """Take point, area and person from the wording where the code beside it names none."""
    names = ("zone", "area", "person", "person_name")
    texts = told["_read"].drop_nulls().unique(maintain_order=True)
    if texts.is_empty():
        return told
    worded = understand_words(texts).filter(pl.col("problem").is_null()).unique("text", keep="none")
    beside = worded.select(_read="text", **{f"_{name}": name for name in names})
    as_user = pl.col("as_user").fill_null(value=False)
    at_point = ~as_user & pl.col("number_of").is_null()
    person = as_user & pl.col("person").is_null()
    wanted = {"zone": at_point, "area": pl.lit(value=True), "person": person, "person_name": person}
    return (
        told.join(beside, on="_read", how="left", maintain_order="left")
        .with_columns(
            pl.coalesce(name, pl.when(wanted[name]).then(f"_{name}")).alias(name) for name in names
        )
        .drop(beside.columns[1:])
    )


def _with_columns_said(told: pl.DataFrame, cells: pl.DataFrame, roles: Roles) -> pl.DataFrame:
    """Let zone, area and person of columns of their own decide over those within the text."""
    parts = [Part.ZONE, Part.AREA, Part.PERSON, Part.PERSON_NAME, Part.ZONE_OR_PERSON, Part.PATH]
    parts += [Part.ZONE_NAME]
    said = {part: roles.one(part) for part in parts}
    present = {part: name for part, name in said.items() if name is not None}
    if not present:
        return told
    coded = roles.one(Part.CODE) is not None
    own = pl.DataFrame(
        [column for part, name in present.items() for column in _said(part, cells[name], coded)]
    )
    if told.height == cells.height:
        # One event a row, in order: no join is needed.
        told = told.hstack(own)
    else:
        told = told.join(own.with_row_index("line"), on="line", how="left", maintain_order="left")
    as_user = pl.col("as_user").fill_null(value=False)
    zone: list[pl.Expr] = []
    person: list[pl.Expr] = []
    area: list[pl.Expr] = [pl.col("area")]
    if Part.PERSON in present:
        person.append(pl.col("_person"))
    # The third field of a code names a user for openings and the like (DC-05).
    shared = Part.ZONE in present and coded and Part.PERSON not in present
    for part in (Part.ZONE, Part.ZONE_OR_PERSON):
        if part in present:
            cell = pl.col(f"_{part}")
            either = shared if part is Part.ZONE else True
            place = pl.when(~_only_names(cell, "zone")).then(_numbered_by_code(cell))
            zone.append(pl.when(~as_user).then(place) if either else place)
            if either:
                mine = as_user & ~_an_area(cell, present) & ~_only_names(cell, "person")
                person.append(pl.when(mine).then(cell))
                area.append(pl.when(pl.col("number_of") == "area").then(cell))
    zone.append(pl.col("zone"))
    if Part.ZONE_NAME in present:
        # A label stands for the point only where nothing else numbers it.
        zone.append(pl.when(~as_user & pl.col("zone").is_null()).then(pl.col("_zone_name")))
    person.append(pl.col("person"))
    names = [pl.col("person_name")]
    if Part.PERSON_NAME in present:
        names.insert(0, pl.col("_person_name"))
        person.append(pl.col("_person_name"))
    if Part.PERSON in present:
        names.insert(0, pl.col("_person_said"))
    wanted = {"zone": zone, "person": person, "person_name": names}
    if len(area) > 1:
        wanted["area"] = area
    for part in (Part.AREA, Part.PATH):
        if part in present:
            wanted[part] = [pl.col(f"_{part}"), pl.col(part)]
    changes = {}
    if Part.ZONE_NAME in present:
        changes["text"] = _with_name()
    if told["at_point"].null_count() < told.height and ("_zone" in own or "_zone_name" in own):
        # "Battery low" alone speaks of the system, beside a point of the device.
        named = pl.coalesce(x for x in ("_zone", "_zone_name") if x in own).is_not_null()
        changes["kind"] = (
            pl.when(named & pl.col("at_point").is_not_null())
            .then(pl.col("at_point"))
            .otherwise(pl.col("kind"))
        )
    for column, sources in wanted.items():
        # What the wordings never tell needs no second look.
        silent = told[column].null_count() == told.height
        kept = [x for x in sources if not silent or x.meta.output_name() != column] or sources
        changes[column] = pl.coalesce(kept) if len(kept) > 1 else kept[0]
    return told.with_columns(**changes).drop(own.columns)


def _with_name() -> pl.Expr:
    """Keep the name of the point behind the wording: it shows when a list is another's."""
    name, text = pl.col("_zone_name"), pl.col("text")
    read = pl.col("kind").is_not_null() & text.is_not_null() & name.is_not_null()
    again = text.str.to_lowercase().str.contains(name.str.to_lowercase(), literal=True)
    return (
        pl.when(read & ~again)
        .then(pl.concat_str(text, name, separator=" | "))
        .otherwise(text)
        .alias("text")
    )


def _only_names(cell: pl.Expr, told: str) -> pl.Expr:
    """Tell whether a cell is a label where the wording beside it tells the number."""
    numbered = pl.col(told).str.contains(r"^\d+$").fill_null(value=False)
    return numbered & ~cell.str.contains(r"\d").fill_null(value=False)


def _numbered_by_code(cell: pl.Expr) -> pl.Expr:
    """Return the point that a cell names, or the device where the code says it numbers another."""
    of = pl.col("number_of")
    named = pl.when(~of.is_in(["none", "area"])).then(of + pl.lit(" ") + cell)
    return pl.when(of.is_null() | ~cell.str.contains(r"^\d+$")).then(cell).otherwise(named)


def _an_area(cell: pl.Expr, present: dict[Part, str]) -> pl.Expr:
    """Tell whether the number beside a code is the area that the code speaks of."""
    numbered = (pl.col("number_of") == "area").fill_null(value=False)
    # Where the area stands in a column of its own, another number is somebody's.
    return numbered & (cell == pl.col("_area")) if Part.AREA in present else numbered


def _said(part: Part, cells: pl.Series, coded: bool) -> list[pl.Series]:
    """Bring the cells of a column to what they say; worked out once for each distinct cell."""
    distinct = cells.unique().drop_nulls().alias("cell")
    bare = pl.col("cell").str.strip_chars().replace("", None)
    forms = {f"_{part}": bare}
    if part in {Part.ZONE, Part.AREA, Part.ZONE_OR_PERSON}:
        if _numbered(distinct):
            bare = pl.coalesce(bare.str.extract(_NUMBER_FIRST, 1), bare)
        forms = {f"_{part}": _place(bare, coded=coded)}
    elif part is Part.PERSON:
        number = _number(bare)
        if coded:  # the standards write 0 for nobody
            number = pl.when(number.str.contains(r"[^0]")).then(number)
        forms = {"_person": number, "_person_said": _name(bare)}
    known = pl.DataFrame(distinct).with_columns(**forms)
    line = cells.cast(pl.Enum(distinct)).to_physical()
    return [known[name].gather(line).alias(name) for name in forms]


_NUMBER_FIRST = r"^\s*(?i:zone|point|input|area|z)?\s*0*(\d+)\s*(?:[-:,.)/ ]\s*[^\W\d].*)?$"


def _numbered(distinct: pl.Series) -> bool:
    """Tell whether the cells of a column begin with the number and the name stands behind it.

    One name for each number: else the figures are part of the names. A few points may have a name
    alone.
    """
    number = distinct.str.extract(_NUMBER_FIRST, 1)
    named = distinct.filter(number.is_not_null() & distinct.str.contains(r"[^\W\d_]{2}"))
    if named.is_empty() or number.null_count() > 0.5 * number.len():
        return False
    numbers = named.str.extract(_NUMBER_FIRST, 1)
    return numbers.n_unique() == named.len()


def _place(cell: pl.Expr, *, coded: bool) -> pl.Expr:
    """Bring a zone or an area to its canonical form; the standards write 0 for none."""
    form = canonical(cell)
    return pl.when(form != "0").then(form) if coded else form


def _number(cell: pl.Expr) -> pl.Expr:
    """Take the user's number from a cell such as ``004 Kim``; the name where there is none."""
    number = cell.str.extract(r"^\D{0,6}?0*(\d+)\b", 1)
    behind = cell.str.extract(r"[(\[#]\s*0*(\d+)\s*[)\]]?\s*$", 1)
    return pl.coalesce(number, behind, cell)


def _name(cell: pl.Expr) -> pl.Expr:
    """Take the name from a cell that holds number and name, or a name alone."""
    bare = (
        cell.str.replace(r"^(?i:user|code|u)?\s*#?\d+\s*[-:,.]?\s*", "")
        .str.replace(r"[(\[#]\s*\d+\s*[)\]]?\s*$", "")
        .str.strip_chars(" -:,()[]")
    )
    return pl.when(
        bare.str.contains(r"[^\W\d_]{2}") & ~bare.str.contains(r"^(?i:user|code)$")
    ).then(bare)
