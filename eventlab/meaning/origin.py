"""Whose log a file is, who wrote it, and by which clock: from its cells, preamble and name."""

import re
import zlib
from dataclasses import dataclass
from pathlib import PurePath

import polars as pl

from eventlab.errors import InputError
from eventlab.intake import Sheet
from eventlab.intake.distinct import distinct
from eventlab.meaning.clock import known_zone
from eventlab.meaning.codes import understand_codes
from eventlab.meaning.known import Known
from eventlab.meaning.question import Choice, Question
from eventlab.meaning.roles import Part, Roles
from eventlab.schema import Witness

_SITE_WORDS = re.compile(
    r"^\W*(?:site|account|acct|subscriber|customer|client|premises|system)"
    r"(?:\s*(?:id|no|nr|number|ref|reference|code))?\.?\s*[:=;,\t|]\s*[\"']?"
    # Two spaces end it: "Account No: 4107   Name: Reading Room".
    r"([^\"';,|\t]+?)(?=\s{2,}|[\"';,|\t]|$)",
    re.IGNORECASE,
)
_SITE_NUMBER = re.compile(
    r"^\W*(?:site|account|acct|subscriber|customer|client|premises)"
    r"\s+(?:id|no|nr|number|ref|code)\.?\s+([\w.-]*\d[\w.-]*)\s*$",
    re.IGNORECASE,
)
_ZONE_WORDS = re.compile(
    r"(?:time\s*zone|timezone|times?\s+(?:are\s+|shown\s+)?in|zone\s+of\s+times)\W+"
    r"([A-Za-z]+(?:[/_+-][A-Za-z0-9_+-]+)*)",
    re.IGNORECASE,
)
_CENTRE_WORDS = re.compile(
    r"monitoring\s+(?:centre|center|station)|central\s+station|alarm\s+receiving|\breceiver\b",
    re.IGNORECASE,
)


_FRAMES = 50
"""Codes looked at to tell whether they are whole frames, with the account inside."""


@dataclass(frozen=True)
class Origin:
    """Whose log it is.

    Parameters
    ----------
    site : polars.Series
        The site of each row of the table; null where a row names none.
    only : str or None
        The one site of a file that has no account column.
    zones : polars.DataFrame
        ``site`` and ``time_zone``; zone null where it is not known.
    witness : Witness
        Whether a panel wrote it or a monitoring centre.
    questions : tuple of Question
        What could not be told.
    evidence : tuple of str
        How it was told.
    settled : dict of str to str
        What the result rests on, however it was found: ``site``, ``time-zone``, ``witness``.
    said_zones : polars.DataFrame
        ``site`` and ``time_zone`` where only a person's word tells a site's zone.
    """

    site: pl.Series
    only: str | None
    zones: pl.DataFrame
    witness: Witness
    questions: tuple[Question, ...]
    evidence: tuple[str, ...]
    settled: dict[str, str]
    said_zones: pl.DataFrame


def find_origin(sheet: Sheet, roles: Roles, known: Known) -> Origin:
    """Tell site, time zone and witness of a log.

    Parameters
    ----------
    sheet : Sheet
        The table with its preamble and name.
    roles : Roles
        Its columns by part.
    known : Known
        Site list, what a person said, answers.

    Returns
    -------
    Origin
        With a question for each thing that nothing tells.

    Raises
    ------
    InputError
        Where a person names one site for a file that holds several accounts, or a time zone
        that the database does not have.
    """
    notes: list[str] = []
    questions: list[Question] = []
    site, only = _site(sheet, roles, known, notes, questions)
    witness = _witness(sheet, roles, known, notes)
    names = site.drop_nulls().unique(maintain_order=True)
    if only is not None:
        names = pl.Series([only])
    elif questions and _no_zones(known):
        # Whichever site it is, its clock will be asked for: better at once.
        names = pl.Series(["this site"])
    zones = _zones(sheet, roles, known, names, witness, notes)
    said = zones.filter(pl.col("said") & pl.lit(witness is Witness.PANEL)).drop("said")
    zones = zones.drop("said")
    settled = {"witness": str(witness), "zone-kept": _zone_text(zones)}
    if "time-zone" in known.answers:
        settled["time-zone"] = known.answers["time-zone"]
    if only is not None and roles.one(Part.SITE) is None:
        settled["site"] = only
    return Origin(site, only, zones, witness, tuple(questions), tuple(notes), settled, said)


def _no_zones(known: Known) -> bool:
    return known.sites["time_zone"].drop_nulls().is_empty() and known.said_zones.is_empty()


def _zone_text(zones: pl.DataFrame) -> str:
    """Write the zones of a file as one text: the zone, or all that its sites keep."""
    distinct = zones["time_zone"].drop_nulls().unique().sort()
    if distinct.len() <= 1:
        return str(distinct[0]) if distinct.len() else ""
    pairs = zones.sort("site").select(
        pl.concat_str("site", pl.col("time_zone").fill_null("?"), separator="=")
    )
    return f"{distinct.len()} zones, {zlib.crc32(','.join(pairs.to_series()).encode()):08x}"


def zone_question(names: pl.Series, witness: Witness) -> Question:
    """Ask for the time zone of sites that no list tells."""
    shown = ", ".join(names.head(3).to_list()) + (" …" if names.len() > 3 else "")
    whose = (
        "the monitoring centre that wrote this history"
        if witness is Witness.RECEIVER
        else f"the clock of {shown}"
    )
    return Question(
        key="time-zone",
        text=f"Which time zone does {whose} keep? Give an IANA name such as Europe/London.",
        evidence=("neither the site list nor the file names a time zone",),
    )


def _site(
    sheet: Sheet,
    roles: Roles,
    known: Known,
    notes: list[str],
    questions: list[Question],
) -> tuple[pl.Series, str | None]:
    named = known.site or known.answers.get("site")
    height = sheet.cells.height
    cells = _account_cells(sheet, roles)
    if cells is not None:
        account, cell = cells
        accounts = account.drop_nulls().unique(maintain_order=True)
        if named is not None and accounts.len() > 1:
            raise InputError(
                f"the file holds {accounts.len()} accounts, but one site was named for it",
                where=sheet.name,
                do="Leave --site out; the account column tells the sites.",
            )
        if named is None and accounts.len() > 0:
            mapping = _as_listed(accounts, known)
            notes.append(f"{accounts.len()} site(s) from the account column")
            of_cell = account.replace_strict(
                accounts, mapping, default=None, return_dtype=pl.String
            )
            told = of_cell.gather(cell)
            only = mapping[0] if mapping.len() == 1 else None
            # A row of a one-site file that leaves the account out is still of that site.
            return (told.fill_null(only) if only else told), only
    only = named or _from_preamble(sheet, known, notes) or _from_name(sheet, known, notes)
    if only is None:
        listed = known.sites["site"].sort().to_list()[:20]
        questions.append(
            Question(
                key="site",
                text=f"Which site is {sheet.name} the log of?",
                choices=tuple(Choice(value=s, text=s) for s in listed),
                evidence=("no account column, no site in the preamble, no known site as its name",),
            )
        )
    return pl.Series("site", [only], dtype=pl.String).new_from_index(0, height), only


def _account_cells(sheet: Sheet, roles: Roles) -> tuple[pl.Series, pl.Series] | None:
    """Return the account that each distinct cell tells, and which of the cells each row has.

    Accounts stand in a column of their own or within whole frames of codes.
    """
    column = roles.one(Part.SITE)
    if column is not None:
        texts, cell = distinct(sheet.cells[column])
        return texts.str.strip_chars().replace("", None), cell
    code = roles.one(Part.CODE)
    if code is None:
        return None
    few = understand_codes(sheet.cells[code].drop_nulls().head(_FRAMES))
    if few["account"].null_count() == few.height:
        return None
    texts, cell = distinct(sheet.cells[code])
    told = understand_codes(texts).unique("text", keep="first")
    return texts.replace_strict(
        told["text"], told["account"], default=None, return_dtype=pl.String
    ), cell


def _as_listed(accounts: pl.Series, known: Known) -> pl.Series:
    """Write accounts as the site list writes them: case and leading zeros aside."""
    listed = known.sites.select("site", key=_loose(pl.col("site"))).unique("key", keep="none")
    return (
        pl.DataFrame({"account": accounts})
        .with_columns(key=_loose(pl.col("account")))
        .join(listed, on="key", how="left", maintain_order="left")
        .select(pl.coalesce("site", "account").alias("site"))
        .to_series()
    )


def _loose(column: pl.Expr) -> pl.Expr:
    return column.str.strip_chars().str.to_lowercase().str.strip_chars_start("0")


def _from_preamble(sheet: Sheet, known: Known, notes: list[str]) -> str | None:
    for line in sheet.preamble:
        found = _SITE_WORDS.match(line.text) or _SITE_NUMBER.match(line.text)
        said = found.group(1).strip() if found else ""
        if said:
            # A number with the name behind it, where the list has that number.
            tried = _as_listed(pl.Series([said, said.split()[0]]), known)
            site = str(tried[1] if tried[1] in known.sites["site"] else tried[0])
            if site in known.sites["site"] or re.fullmatch(r"[\w.-]{1,24}", site):
                notes.append(f"site {site} from line {line.number} above the table")
                return site
    return None


def _from_name(sheet: Sheet, known: Known, notes: list[str]) -> str | None:
    if known.sites.is_empty():
        return None
    # Of a file within an archive its own name comes first, then that of the archive.
    stems = [PurePath(own).name.split(".")[0] for own in reversed(sheet.name.split(": "))]
    for part in [part for stem in stems for part in (stem, *re.split(r"[\s_.-]+", stem))]:
        listed = known.sites.filter(pl.col("site").str.to_lowercase() == part.casefold())["site"]
        if listed.len() == 1:
            notes.append(f"site {listed[0]} from the name of the file")
            return str(listed[0])
    return None


def _witness(sheet: Sheet, roles: Roles, known: Known, notes: list[str]) -> Witness:
    answer = known.answers.get("witness")
    if answer in set(Witness):
        return Witness(answer)
    if roles.one(Part.RECEIVED) and not roles.one(Part.WHEN):
        notes.append("times of receipt: a monitoring centre's history")
        return Witness.RECEIVER
    if any(_CENTRE_WORDS.search(line.text) for line in sheet.preamble):
        notes.append("the lines above the table name a monitoring centre")
        return Witness.RECEIVER
    return Witness.PANEL


def _zones(
    sheet: Sheet,
    roles: Roles,
    known: Known,
    names: pl.Series,
    witness: Witness,
    notes: list[str],
) -> pl.DataFrame:
    """Take the zone answered for this file, else the one that the file names, the list's, said."""
    said = known.time_zone
    answer = known.answers.get("time-zone")
    for name in (said, answer):
        if name is not None and not known_zone(name):
            raise InputError(
                f"no time zone is called {name!r}",
                where=sheet.name,
                do="Give an IANA name such as Europe/London or Australia/Sydney.",
            )
    frame = pl.DataFrame({"site": names}, schema={"site": pl.String})
    if answer is not None:
        listed = known.sites.filter(pl.col("time_zone").is_not_null())["site"].to_list()
        return frame.with_columns(time_zone=pl.lit(answer), said=~pl.col("site").is_in(listed))
    own = _zone_from_heading(sheet, roles, notes) or _zone_from_preamble(sheet, notes)
    if own is not None:
        return frame.with_columns(time_zone=pl.lit(own), said=pl.lit(value=False))
    if witness is Witness.RECEIVER:
        # A centre stamps its own clock; the list tells only the sites' (common practice).
        zoned = frame.with_columns(time_zone=pl.lit(None, pl.String))
    else:
        zoned = frame.join(
            known.sites.select("site", "time_zone").unique("site", keep="first"),
            on="site",
            how="left",
            maintain_order="left",
        )
        zoned = _said_before(sheet, zoned, known)
    return zoned.with_columns(
        pl.col("time_zone").fill_null(pl.lit(said, pl.String)),
        said=pl.col("time_zone").is_null() & pl.lit(said is not None),
    )


def _said_before(sheet: Sheet, zones: pl.DataFrame, known: Known) -> pl.DataFrame:
    """Let what a person said of a site with an earlier export hold for it, unless a list tells."""
    if known.said_zones.is_empty():
        return zones
    told = zones.join(
        known.said_zones.select("site", before="time_zone"),
        on="site",
        how="left",
        maintain_order="left",
    )
    unlisted = pl.col("time_zone").is_null()
    other = told.filter(unlisted & (pl.col("before") != pl.lit(known.time_zone, pl.String)))
    if other.height:
        raise InputError(
            f"the clock of {other['site'][0]} was said to keep {other['before'][0]} with an "
            f"earlier export, not {known.time_zone}",
            where=sheet.name,
            do="Leave --time-zone out, or correct the earlier export with "
            "'eventlab retake --export HASH --time-zone TZ'.",
        )
    return told.with_columns(time_zone=pl.coalesce("time_zone", "before")).drop("before")


def _zone_from_heading(sheet: Sheet, roles: Roles, notes: list[str]) -> str | None:
    if sheet.header is None:
        return None
    for part in (Part.WHEN, Part.TIME, Part.DATE, Part.RECEIVED):
        column = roles.one(part)
        if column is not None:
            heading = sheet.header[int(column[1:])]
            if re.search(r"(?<![a-z])(?:utc|gmt|zulu)(?![a-z])", heading.casefold()):
                notes.append(f"times in UTC by the heading “{heading.strip()}”")
                return "UTC"
    return None


def _zone_from_preamble(sheet: Sheet, notes: list[str]) -> str | None:
    for line in sheet.preamble:
        for found in _ZONE_WORDS.finditer(line.text):
            name = found.group(1)
            zone = "UTC" if name.upper() in {"UTC", "GMT", "ZULU"} else name
            if known_zone(zone):
                notes.append(f"time zone {zone} from line {line.number} above the table")
                return zone
    return None
