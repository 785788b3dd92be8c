"""What the page of how a place is used shows."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from eventlab.advice import trained
from eventlab.analysis.by_person import by_person, mistakes
from eventlab.analysis.entries import closings, entries
from eventlab.analysis.forced_arming import left_out
from eventlab.analysis.lasting_bypass import bypasses
from eventlab.analysis.listed_codes import against_list, far_apart
from eventlab.analysis.who import SHARED
from eventlab.context import Context
from eventlab.ground import Ground, Power, Told
from eventlab.lab.standing import Standing
from eventlab.meaning.clock import to_wall
from eventlab.report import coverage_sentence, peopling
from eventlab.schema import Kind, Mode
from eventlab.settings import Settings
from eventlab.stats import share_interval

_BY_NAME = "a user told by name"


@dataclass(frozen=True)
class PeopleView:
    """What stands on the page of how a place is used; users by number, never by name.

    Parameters
    ----------
    site, site_name, time_zone : str
        Whose page.
    heading : str
        What every reader of such figures must know first.
    covers : str
        What the log covers and records.
    first, last : datetime
        From when to when the log reaches, by the wall clock of the site.
    recorded : bool
        Whether the log tells all openings and closings.
    entries : polars.DataFrame
        ``local``, ``who``, ``door``, ``steps`` (text), ``keypad``, ``entry_s``, ``over_s``,
        ``delay_s``, ``late``; a row for each opening.
    doors : polars.DataFrame
        ``door``, ``label``, ``on_route``, ``entries``, ``half_s``, ``late``, ``late_share``,
        ``late_low``, ``late_high``, ``delay_s``; the door used most first.
    people : polars.DataFrame
        ``label``, ``who``, ``what``, ``entries``, ``late_entries``, ``exits``, ``late_exits``,
        ``acts``, ``alarms``, ``rate``, ``expected``, ``expected_low``, ``expected_high`` (alarms
        in 100 acts), ``first``, ``last`` (wall clock), ``unused_d``, ``odd``.
    bypasses : polars.DataFrame
        ``label``, ``since``, ``until`` (wall clock), ``open``, ``forced``, ``hours``.
    trained : list of str
        What training on a date came to; empty where none was asked about.
    says : dict of str to str
        The sentence of each part: ``entry``, ``doors``, ``keypads``, ``exit``, ``people``,
        ``bypasses``, ``areas``, ``codes``.
    questions : list of str
        About codes, kindly.
    """

    site: str
    site_name: str
    time_zone: str
    heading: str
    covers: str
    first: datetime
    last: datetime
    recorded: bool
    entries: pl.DataFrame
    doors: pl.DataFrame
    people: pl.DataFrame
    bypasses: pl.DataFrame
    trained: list[str]
    says: dict[str, str]
    questions: list[str]


def people_view(
    standing: Standing,
    settings: Settings,
    site: str,
    at: date | None = None,
    *,
    everywhere: Callable[[], pl.DataFrame] | None = None,
    around: Context | None = None,
) -> PeopleView:
    """Put together what the page of how a place is used shows.

    Parameters
    ----------
    standing : Standing
        What was found out.
    settings : Settings
        The settings in force.
    site : str
        Which site.
    at : date, optional
        A training, by the site's own calendar.
    everywhere : callable, optional
        Gives the openings and closings of all sites, columns of `listed_codes.ACTS`; asked only
        where somebody has a name here.
    around : Context, optional
        What is known of all sites, where ``standing`` is of this one.

    Returns
    -------
    PeopleView
        Frames and sentences; nothing of entries and codes where arming is not told.
    """
    ground, context = standing.ground.only([site]), standing.context
    row = ground.sites.row(0, named=True)
    home = row["time_zone"] or "UTC"
    named = context.sites.filter(pl.col("site") == site)["name"].drop_nulls().to_list()
    recorded = bool(row["arming_reliable"])
    came, went = entries(ground, context, settings), closings(ground, context, settings)
    who = _people(by_person(ground, came, went, settings), home)
    labels: Mapping[str, str] = dict(who.select("person", "who").iter_rows())
    points = {
        zone: f"point {zone}" + (f" ({name})" if name else "")
        for zone, name in ground.points.select("zone", "name").unique("zone").iter_rows()
        if zone
    }
    if not recorded:
        came, went = came.clear(), went.clear()
    doors = _doors(came, points)
    spans = _bypasses(standing, settings, site, points, home)
    ends = ground.powers.filter(pl.col("power") == Power.BYPASS_ENDS)["value"].to_list()
    told = who.to_dicts() if recorded else []
    users = context.users.filter(pl.col("site") == site)
    codes = mistakes(ground, settings).row(0, named=True) | {"listed": users.height > 0}
    first, last = (
        row[name].astimezone(ZoneInfo(home)).replace(tzinfo=None) for name in ("first", "now")
    )
    asked = peopling.questions(told)
    if recorded:
        listed = against_list(who, users, first.date(), last.date(), settings)
        asked += peopling.listed_questions(_labelled(listed, labels), (last - first).days)
        if everywhere is not None and (users.height or _told_by_name(ground)):
            asked += _apart(everywhere(), around or context, site, home, labels, settings)
    says = {
        "entry": peopling.entry_sentence(_entered(came)),
        "doors": peopling.door_sentence(
            doors.to_dicts(), came.height, timed=came["entry_s"].count() > 0
        ),
        "keypads": peopling.keypad_sentence(_keypads(came, points)),
        "exit": peopling.exit_sentence(_left(went, settings)),
        "people": peopling.people_sentence(told, shared=(who["what"] == SHARED).any()),
        "bypasses": peopling.bypass_sentence(spans.to_dicts(), told=Told.YES in ends),
        "areas": _areas(standing, site, points) if recorded else "Armed areas: not recorded.",
        "codes": peopling.mistakes_sentence(codes),
    }
    shown = came.with_columns(
        who=pl.col("person").replace_strict(labels, default="user not told",
                                            return_dtype=pl.String),
        steps=pl.col("steps").list.join(" → "),
    )  # fmt: skip
    return PeopleView(
        site=site,
        site_name=named[0] if named else site,
        time_zone=home,
        heading=peopling.HEADING,
        covers=coverage_sentence(ground, site),
        first=first,
        last=last,
        recorded=recorded,
        entries=shown.select(
            *("local", "who", "door", "steps", "keypad", "entry_s", "over_s", "delay_s", "late")
        ),
        doors=doors,
        people=who.drop("person") if recorded else who.drop("person").clear(),
        bypasses=spans,
        trained=_trained(standing, settings, site, at, home, labels),
        says=says,
        questions=asked,
    )


def _labelled(asked: pl.DataFrame, labels: Mapping[str, str]) -> list[dict[str, Any]]:
    """Name codes by number; one that the log never told is numbered as its list has it."""
    return [
        one | {"label": labels.get(one["person"], f"user {one['person']}").capitalize()}
        for one in asked.to_dicts()
    ]


def _told_by_name(ground: Ground) -> bool:
    return bool(ground.events["person_name"].is_not_null().any())


def _apart(
    acts: pl.DataFrame,
    context: Context,
    site: str,
    home: str,
    labels: Mapping[str, str],
    settings: Settings,
) -> list[str]:
    """Ask about names that were at two sites at once."""
    far = far_apart(acts, context.users, context.sites, site, settings)
    names = context.sites.select(other="site", other_name=pl.coalesce("name", "site"))
    wall = to_wall(far.with_columns(home=pl.lit(home)), "at", "home", "local")
    told = wall.join(names.unique("other"), on="other", how="left", maintain_order="left")
    return peopling.apart_questions(_labelled(told, labels))


def _people(told: pl.DataFrame, home: str) -> pl.DataFrame:
    """Label codes by number; who is told by name only is numbered in order, never named."""
    numbered = pl.col("person").str.contains(r"^\d+$")
    nth = (~numbered).cum_sum().cast(pl.String)
    own = told.with_columns(
        who=pl.when(numbered).then(pl.lit("user ") + pl.col("person")).otherwise(
            pl.lit(f"{_BY_NAME} (") + nth + ")"
        ),
    )  # fmt: skip
    machine = pl.col("what").replace_strict(peopling.MACHINES, default=None,
                                            return_dtype=pl.String)  # fmt: skip
    zoned = own.with_columns(
        zone=pl.lit(home),
        label=pl.when(machine.is_not_null())
        .then(pl.col("who") + ", " + machine)
        .when(pl.col("what") == SHARED)
        .then(pl.col("who") + ", a shared code")
        .otherwise("who"),
    )
    wall = to_wall(to_wall(zoned, "first", "zone", "begun"), "last", "zone", "ended")
    return (
        wall.with_columns(first="begun", last="ended", label=_upper("label"))
        .sort(pl.col("person").str.to_integer(strict=False), "person", nulls_last=True)
        .select(
            *("person", "label", "who", "what", "entries", "late_entries", "exits", "late_exits"),
            *("acts", "alarms", "rate", "expected", "expected_low", "expected_high", "first"),
            *("last", "unused_d", "odd"),
        )
    )


def _upper(name: str) -> pl.Expr:
    text = pl.col(name)
    return text.str.slice(0, 1).str.to_uppercase() + text.str.slice(1)


def _share(late: int, of: int) -> dict[str, float]:
    got = share_interval(np.array([late]), np.array([max(of, 1)]))
    return {
        "late_share": float(got.estimate[0]),
        "late_low": float(got.low[0]),
        "late_high": float(got.high[0]),
    }


def _entered(came: pl.DataFrame) -> dict[str, Any]:
    late = came.filter("late")
    timed = came["entry_s"].drop_nulls()
    return {
        "entries": came.height,
        "timed": timed.len(),
        "half_s": timed.median(),
        "most_s": timed.max(),
        "delay_s": came["delay_s"].max(),
        "delay_listed": bool(came["delay_listed"].any()),
        "late": late.height,
        "over_s": late["over_s"].median(),
        "over_most_s": late["over_s"].max(),
        "grain": came["grain"].max(),
        **_share(late.height, came.height),
    }


def _left(went: pl.DataFrame, settings: Settings) -> dict[str, Any]:
    own = went.filter(~pl.col("timed"))
    late, timed = int(own["late"].sum()), own["exit_s"].drop_nulls()
    return {
        "timed": timed.len(),
        "half_s": timed.median(),
        "most_s": timed.max(),
        "delay_s": own["delay_s"].max(),
        "delay_listed": bool(own["delay_listed"].any()),
        "exits": own.height,
        "late": late,
        "again": int(own["again"].sum()),
        "inside": int(went["left_inside"].sum()),
        "by_timer": int((went["left_inside"] & went["timed"]).sum()),
        "recent": int(went["recent"].sum()),
        "recent_s": settings.recent_closing_s,
        **_share(late, own.height),
    }


def _doors(came: pl.DataFrame, points: Mapping[str, str]) -> pl.DataFrame:
    told = (
        came.filter(pl.col("door").is_not_null())
        .group_by("door")
        .agg(
            on_route=pl.col("on_route").any(),
            entries=pl.len().cast(pl.Int64),
            half_s=pl.col("entry_s").median(),
            late=pl.col("late").sum().cast(pl.Int64),
            delay_s=pl.col("delay_s").max(),
        )
        .sort("entries", "door", descending=[True, False])
    )
    got = share_interval(told["late"].to_numpy(), told["entries"].to_numpy())
    return told.with_columns(
        label=pl.Series([points.get(d, f"point {d}") for d in told["door"]], dtype=pl.String),
        late_share=pl.Series(got.estimate),
        late_low=pl.Series(got.low),
        late_high=pl.Series(got.high),
    ).with_columns(label=_upper("label"))


def _keypads(came: pl.DataFrame, points: Mapping[str, str]) -> dict[str, int]:
    used = came["keypad"].drop_nulls().value_counts(sort=True)
    return {points.get(zone, f"point {zone}"): many for zone, many in used.iter_rows()}


def _bypasses(
    standing: Standing, settings: Settings, site: str, points: Mapping[str, str], home: str
) -> pl.DataFrame:
    ground = standing.ground.only([site])
    now = ground.sites["now"][0]
    own = ground.removed.filter(pl.col("reason") == Kind.BYPASS).select("zone", "since", "until")
    by_hand = bypasses(ground, settings).select("zone", "since", hand=pl.lit(value=True)).unique()
    out = left_out(ground, settings)["zone"].unique().to_list()
    full = own.join(by_hand, on=["zone", "since"], how="left").with_columns(
        home=pl.lit(home),
        forced=pl.col("hand").is_null() & pl.col("zone").is_in(out),
        open=pl.col("until") >= now,
        hours=(pl.col("until") - pl.col("since")).dt.total_seconds() / 3600,
        label=pl.Series([points.get(z, f"point {z}") for z in own["zone"]], dtype=pl.String),
    )
    wall = to_wall(to_wall(full, "since", "home", "begun"), "until", "home", "ended")
    return (
        wall.with_columns(label=_upper("label"))
        .select("label", "zone", "open", "forced", "hours", since="begun", until="ended")
        .sort("since", descending=True)
    )


def _areas(standing: Standing, site: str, points: Mapping[str, str]) -> str:
    ground = standing.ground.only([site])
    listed = ground.points.filter(~pl.col("all_hours"))["areas"].explode().drop_nulls().unique()
    known = ground.armed.filter("known")
    armed = set(known["area"].drop_nulls())
    # One place without a name is the whole site.
    whole = known["area"].is_null().any()
    never = [] if whole or not armed else sorted(set(listed) - armed)
    arms = ground.occurrences.filter(
        pl.col("kind") == Kind.ARM, pl.col("act") == pl.col("occurrence")
    )
    part = ground.exposure.filter(pl.col("basis") == "armed")
    out = part.filter(~pl.col("part"))["zone"].to_list()
    alarmed = ground.occurrences.filter("trip")["zone"].unique()
    return peopling.areas_sentence(
        never,
        {
            "armings": arms.height,
            "part": arms.filter(pl.col("mode") == Mode.PART).height,
            "alarmed": [points[z] for z in out if z in points and z in alarmed],
            "unknown": part.filter(pl.col("part").is_null()).height,
        },
    )


def _trained(
    standing: Standing,
    settings: Settings,
    site: str,
    at: date | None,
    home: str,
    labels: Mapping[str, str],
) -> list[str]:
    if at is None:
        return []
    moment = datetime.combine(at, time(), ZoneInfo(home)).astimezone(UTC)
    rows = trained(standing.ground, standing.context, settings, site, moment)
    if rows.is_empty():
        return ["Openings and closings are not recorded, so training cannot be proven by this log."]
    return [
        peopling.trained_sentence(
            one, None if one["person"] is None else labels[one["person"]].capitalize()
        )
        for one in rows.iter_rows(named=True)
    ]
