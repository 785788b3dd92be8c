"""From a table of text cells to events: the parts joined."""

from dataclasses import replace

import polars as pl

from eventlab.intake import Sheet
from eventlab.meaning.clock import to_utc
from eventlab.meaning.clock_anew import remarks
from eventlab.meaning.clock_grain import measured_grain
from eventlab.meaning.columns import find_accounts
from eventlab.meaning.date_heads import Lifted, lift
from eventlab.meaning.date_rows import find_dates
from eventlab.meaning.dated import Dated
from eventlab.meaning.identity import canonical
from eventlab.meaning.known import NOT_UNDERSTOOD, Known, Reading, Wanted
from eventlab.meaning.look import layout_of, look_of
from eventlab.meaning.origin import Origin, find_origin, zone_question
from eventlab.meaning.roles import Roles
from eventlab.meaning.settling import Settled, settle
from eventlab.meaning.times import settle_times
from eventlab.meaning.version import READER
from eventlab.schema import EVENT, Kind, Phase, Timing, conform, empty

NO_TIME = "the time cannot be read"
NO_SITE = "the row names no site"

_OF_THE_SITE = ("clock",)
"""Answers that no row is read by: they are kept with the export, for what is told of its site."""


def as_log(sheet: Sheet) -> Roles | None:
    """Return the columns of a table by part where it can be an event log, else None.

    A log's rows say when and what; a table that does not is none.
    """
    roles = lift(sheet).roles
    return roles if roles.timed and roles.telling else None


def read_log(sheet: Sheet, known: Known, roles: Roles | None = None) -> Reading:
    """Read a log: what, when, where and who each row says.

    Parameters
    ----------
    sheet : Sheet
        The table of text cells.
    known : Known
        What is known from outside: site list, zone schedules, answers.
    roles : Roles, optional
        What ``as_log`` found, where it was asked before.

    Returns
    -------
    Reading
        Events in file order with unread rows inside, or the questions that wait.

    Raises
    ------
    InputError
        Where what a person named does not fit the file.
    """
    lifted = Lifted(sheet, roles) if roles is not None and roles.dated else lift(sheet)
    sheet, roles = lifted.sheet, lifted.roles
    if sheet.rows == 0:
        return Reading(evidence=(*sheet.evidence, "there are headings and no rows"))
    times = settle_times(sheet, roles, known.answers)
    roles = find_accounts(sheet, times.roles, known)
    origin = find_origin(sheet, roles, known)
    dated = find_dates(replace(lifted, roles=roles), known, origin.site)
    settled = settle(sheet, roles, known, origin.site, dated.wall)
    roles = settled.roles
    questions = [*origin.questions, *([times.question] if times.question else [])]
    if dated.question is not None:
        questions.append(dated.question)
    unzoned = origin.zones.filter(pl.col("time_zone").is_null())["site"]
    if unzoned.len() > 0 and not _all_offset(dated):
        questions.append(zone_question(unzoned, origin.witness))
    questions += settled.questions
    evidence = (*sheet.evidence, *roles.evidence, *dated.evidence, *origin.evidence)
    if questions:
        return Reading(
            questions=tuple(questions),
            evidence=evidence,
            look=look_of(sheet, roles),
            layout=layout_of(sheet, roles),
            settled={**settled.told, **_settled(origin, dated)},
            decided=dated.decided,
            heads=lifted.lines,
            wanted=_wanted(origin, dated),
        )
    timed = _timed(sheet, origin, dated)
    evidence = (*evidence, *remarks(timed))
    told = _told(settled, known, timed)
    read = _events(told, origin, dated)
    unread = _unread(sheet, told, timed, origin)
    events = read
    if unread.height:
        events = pl.concat([read, unread]).sort("row", "piece", maintain_order=True)
    missed = unread["row"].n_unique()
    return Reading(
        events=events,
        # A row that tells two things, one of them not understood, counts once: as unread.
        read=events["row"].n_unique() - missed,
        unread=missed,
        doubtful=read.filter(pl.col("timing") == Timing.DOUBTFUL)["row"].n_unique(),
        sites=tuple(events["site"].unique(maintain_order=True).drop_nulls().to_list()),
        not_understood=_not_understood(told, unread),
        evidence=evidence,
        settled={
            **times.settled,
            **settled.told,
            **_settled(origin, dated),
            **{key: known.answers[key] for key in _OF_THE_SITE if key in known.answers},
        },
        said_zones=origin.said_zones,
        look=look_of(sheet, roles),
        layout=layout_of(sheet, roles),
        answered=_answered(known, dated) | settled.answered | times.answered,
        decided=dated.decided,
        heads=lifted.lines,
    )


def _settled(origin: Origin, dated: Dated) -> dict[str, str]:
    if dated.question is not None:
        return origin.settled
    form = dated.form.key if dated.form else ""
    return {**origin.settled, "dates": form, **dated.settled}


def _wanted(origin: Origin, dated: Dated) -> Wanted | None:
    """Name the rows that may decide when these happened, where they are stored already."""
    sites = tuple(origin.site.drop_nulls().unique(maintain_order=True).to_list())
    return Wanted(sites, *dated.reach) if dated.reach and sites else None


def _answered(known: Known, dated: Dated) -> frozenset[str]:
    """Name the questions that a person's answer decided."""
    keys = {"time-zone"} & set(known.answers)
    return frozenset(keys) | dated.answered


def _all_offset(dated: Dated) -> bool:
    return dated.offset_s is not None and bool(
        (dated.wall.is_null() | dated.offset_s.is_not_null()).all()
    )


def _timed(sheet: Sheet, origin: Origin, dated: Dated) -> pl.DataFrame:
    """Give each row of the table its site, wall time, UTC time and timing."""
    frame = pl.DataFrame(
        {
            "row": sheet.cells["row"],
            "site": origin.site.alias("site"),
            "wall": dated.wall.alias("wall"),
        }
    )
    if dated.offset_s is not None:
        frame = frame.with_columns(dated.offset_s.alias("offset_s"))
    problem = dated.problem if dated.problem is not None else _nulls(frame.height)
    frame = frame.with_columns(problem.alias("time_problem"))
    zones = origin.zones.with_columns(pl.col("time_zone").fill_null("UTC"))
    every_row = origin.site.null_count() == 0 and zones["time_zone"].n_unique() == 1
    if origin.only is not None or zones.height == 1 or every_row:
        frame = frame.with_columns(time_zone=pl.lit(zones["time_zone"][0]))
    else:
        frame = frame.join(zones, on="site", how="left", maintain_order="left").with_columns(
            pl.col("time_zone").fill_null("UTC")
        )
    return to_utc(frame)


def _nulls(height: int) -> pl.Series:
    return pl.Series("none", [None], dtype=pl.String).new_from_index(0, height)


def _told(settled: Settled, known: Known, timed: pl.DataFrame) -> pl.DataFrame:
    """Put what each row says beside when it happened: one line for each event told."""
    said = settled.say(known.taught, timed["site"])
    if settled.rows.lines is None and said.height == timed.height:
        told = timed.hstack(said.drop("line"))
    else:
        told = timed.with_row_index("line").join(
            said, on="line", how="left", maintain_order="left_right"
        )
    if told["wall"].null_count() or told["site"].null_count():
        told = told.with_columns(
            problem=pl.when(pl.col("wall").is_null())
            .then(pl.col("time_problem").fill_null(NO_TIME))
            .when(pl.col("site").is_null())
            .then(pl.lit(NO_SITE))
            .otherwise(pl.col("problem"))
        )
    return _numbered(told, known)


def _numbered(told: pl.DataFrame, known: Known) -> pl.DataFrame:
    """Turn labels into the numbers of the site's zone schedule, before rows unite."""
    named = known.zones.filter(pl.col("zone").is_not_null())
    if named.is_empty() or told["zone"].null_count() == told.height:
        return told
    number = canonical(pl.col("zone"))
    labels = pl.concat(
        [
            named.filter(pl.col("name").is_not_null()).select(
                "site", label=_label(pl.col("name")), number=number
            ),
            # A number of parts, however they are divided: 1-02 is 1.2.
            named.filter(pl.col("zone").str.contains(_PARTS)).select(
                "site", label=_label(pl.col("zone")), number=number
            ),
        ]
    ).unique(["site", "label"], keep="none")
    if labels.is_empty():
        return told
    return (
        told.with_columns(label=_label(pl.col("zone")))
        .join(labels, on=["site", "label"], how="left", maintain_order="left")
        .with_columns(zone=pl.coalesce("number", "zone"))
        .drop("label", "number")
    )


def _label(name: pl.Expr) -> pl.Expr:
    parts = name.str.to_lowercase().str.replace_all(r"[\W_]+", " ").str.strip_chars()
    return (
        pl.when(name.str.contains(_PARTS))
        .then(parts.str.replace_all(r"\b0+(\d)", "$1"))
        .otherwise(parts)
    )


_PARTS = r"^\w{1,12}(?:[\s./:_-]+\w{1,12})*[\s./:_-]+\d+$"


def _events(told: pl.DataFrame, origin: Origin, dated: Dated) -> pl.DataFrame:
    all_read = told["problem"].null_count() == told.height
    understood = told if all_read else told.filter(pl.col("problem").is_null())
    reading = pl.lit(READER)
    if "reading" in told.columns:
        reading += pl.col("reading").fill_null("")
    return conform(
        understood.with_columns(
            grain=pl.lit(measured_grain(dated.wall, dated.grain)),
            witness=pl.lit(str(origin.witness)),
            reading=reading,
            piece=pl.col("piece").fill_null(1),
            source=pl.lit(None, pl.String),
        ).drop("problem"),
        EVENT,
    )


def _unread(sheet: Sheet, told: pl.DataFrame, timed: pl.DataFrame, origin: Origin) -> pl.DataFrame:
    """Keep what could not be read, as it stood, with the reason."""
    bad = told.filter(pl.col("problem").is_not_null()).unique("row", maintain_order=True)
    if bad.is_empty() and sheet.broken.is_empty():
        return empty(EVENT)
    raws = sheet.raw(bad["row"])
    parts = [bad.drop("raw", strict=False).join(raws, on="row", how="left")]
    if sheet.broken.height:
        near = timed.select("row", placed="placed").sort("row")
        parts.append(
            sheet.broken.sort("row")
            .join_asof(near, on="row", strategy="nearest")
            .with_columns(
                site=pl.lit(origin.only, pl.String),
                wall=pl.lit(None, pl.Datetime("us")),
                at=pl.lit(None, pl.Datetime("us", "UTC")),
                timing=pl.lit(str(Timing.DOUBTFUL)),
            )
        )
    epoch = pl.lit("1970-01-01T00:00:00").str.to_datetime("%Y-%m-%dT%H:%M:%S", time_unit="us")
    frames = [
        conform(
            part.select(
                pl.col("site").fill_null(""),
                "at",
                pl.col("placed").fill_null(epoch.dt.replace_time_zone("UTC")),
                "wall",
                pl.col("timing").cast(pl.String).fill_null(str(Timing.DOUBTFUL)),
                kind=pl.lit(str(Kind.UNREAD)),
                phase=pl.lit(str(Phase.MOMENT)),
                witness=pl.lit(str(origin.witness)),
                text=pl.col("text") if "text" in part.columns else pl.lit(None, pl.String),
                code=pl.col("code") if "code" in part.columns else pl.lit(None, pl.String),
                row="row",
                piece=pl.lit(1),
                reading=pl.lit(READER),
                raw="raw",
                problem="problem",
            ),
            EVENT,
        )
        for part in parts
    ]
    return pl.concat(frames)


def _not_understood(told: pl.DataFrame, unread: pl.DataFrame) -> pl.DataFrame:
    """Count each wording that nothing explains, most frequent first."""
    if unread.is_empty():
        return empty(NOT_UNDERSTOOD)
    worded = told.filter(pl.col("problem").is_not_null())
    worded = worded.unique("row", keep="first", maintain_order=True)
    broken = unread.join(worded, on="row", how="anti")
    listed = pl.concat(
        [
            worded.select(text=pl.coalesce("text", "code"), problem="problem", row="row").join(
                unread.select("row", "raw"), on="row", how="left"
            ),
            broken.select(text="raw", problem="problem", row="row", raw="raw"),
        ]
    )
    return (
        listed.with_columns(pl.coalesce("text", "raw").alias("text"))
        .group_by("text", "problem")
        .agg(count=pl.len().cast(pl.Int64))
        .sort("count", "text", "problem", descending=[True, False, False])
        .select(NOT_UNDERSTOOD.keys())
    )
