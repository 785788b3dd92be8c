"""The points of every site: listed in a zone schedule, seen in the log, or both."""

from datetime import timedelta

import polars as pl

from eventlab.ground.life_safety import by_code, by_name, by_wording
from eventlab.ground.words import State
from eventlab.schema import LIFE_SAFETY, LIFE_SAFETY_USES, ZONE, Kind, Phase, Use
from eventlab.settings import Settings

ALL_HOURS_CODE = r"^(?:[136])?(?:133|150|572)$"
"""DC-05 codes of 24-hour points: intruder, none, and bypass of either (ANSI/SIA DC-05 App. C)."""

ALL_HOURS_USES = (Use.ALL_HOURS, Use.FIRE, Use.HOLD_UP, Use.MEDICAL, Use.TECHNICAL)
ENTRY_USES = (Use.ENTRY, Use.FOLLOWER)
KEYS = ("s", "zone", "within")


def points(rows: pl.DataFrame, zones: pl.DataFrame) -> pl.DataFrame:
    """Join what is listed of points to what the log shows of them.

    A point is its site and number; with its area where the schedule lists one number in several
    areas apart. A point is a life-safety point that is listed or named as such, ever raised such
    a kind or was told of with such a code or wording; and every 24-hour point, or point of a code
    without a type, of which nobody tells what it is.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.
    zones : polars.DataFrame
        ZONE columns.

    Returns
    -------
    polars.DataFrame
        ``point`` (Int32), ``s``, ``site``, ``zone``, ``within`` (area that is part of the name, or
        null), ``area``, ``areas``, ``area_rule``, ``use``, ``detector``, ``name``, ``armed_in``,
        ``listed_limit``, ``installed``, ``listed``, ``seen``, ``life_safety``, ``entry_route``,
        ``all_hours``; sorted.
    """
    first = (pl.col("s") != pl.col("s").shift(1)).fill_null(value=True)
    sites = rows.select("site", "s").filter(first)
    listed = _listed(zones, sites)
    twice = listed.filter(pl.col("within").is_not_null())["s"].unique()
    seen = _seen(rows, twice)
    both = listed.join(seen, on=list(KEYS), how="full", coalesce=True, nulls_equal=True)
    use = pl.col("use")
    flags = ("life", "entry", "technical", "always", "untyped")
    life, entry, technical, always, untyped = (pl.col(c).fill_null(value=False) for c in flags)
    vague = use.is_null() | use.is_in([Use.ALL_HOURS, Use.TECHNICAL])
    named = by_name(both["detector"]) | ((by_name(both["name"]) | by_name(both["zone"])) & vague)
    all_hours = (use.is_in(list(ALL_HOURS_USES)).fill_null(value=False)) | (
        use.is_null() & (life | technical | always)
    )
    unknown = (use.is_null() & ~technical) | ((use == Use.ALL_HOURS) & pl.col("detector").is_null())
    return (
        both.join(sites, on="s", how="left")
        .with_columns(
            areas=pl.coalesce("listed_areas", "seen_areas").fill_null([]),
            all_hours=all_hours,
            entry_route=pl.coalesce(
                "entry_route", use.is_in(list(ENTRY_USES)), entry & use.is_null()
            ).fill_null(value=False),
            life_safety=use.is_in(list(LIFE_SAFETY_USES)).fill_null(value=False)
            | life
            | named
            | (untyped & use.is_null())
            | (all_hours & unknown.fill_null(value=False)),
            listed=pl.col("listed").fill_null(value=False),
            seen=pl.col("seen").fill_null(value=False),
        )
        .with_columns(area=pl.when(pl.col("areas").list.len() == 1).then(pl.col("areas").list[0]))
        .sort("s", "zone", "within")
        .with_columns(point=pl.int_range(pl.len(), dtype=pl.Int32))
        .select(
            *("point", "s", "site", "zone", "within", "area", "areas", "area_rule", "use"),
            *("detector", "name", "armed_in", "listed_limit", "installed", "listed", "seen"),
            *("life_safety", "entry_route", "all_hours"),
        )
    )


def labelled(rows: pl.DataFrame) -> pl.DataFrame:
    """Add ``label``: the zone as an enum of the labels at hand, which costs less to compare.

    Parameters
    ----------
    rows : polars.DataFrame
        Events.

    Returns
    -------
    polars.DataFrame
        With ``label``.
    """
    labels = pl.Enum(rows["zone"].unique().drop_nulls().sort())
    return rows.with_columns(label=pl.col("zone").cast(labels))


def pointed(rows: pl.DataFrame, known: pl.DataFrame) -> pl.DataFrame:
    """Add the number of its point to every row.

    Parameters
    ----------
    rows : polars.DataFrame
        As ``labelled`` gives it.
    known : polars.DataFrame
        As ``points`` gives it.

    Returns
    -------
    polars.DataFrame
        The same rows in the same order, with ``point`` (null where there is none).
    """
    labels = rows.schema["label"]
    size = rows["label"].to_physical().max()
    size = 1 + (size if isinstance(size, int) else 0)
    key = pl.col("s").cast(pl.Int64) * size + pl.col("label").to_physical()
    whole = known.filter(pl.col("within").is_null() & pl.col("seen")).select(
        "point", "s", label=pl.col("zone").cast(labels)
    )
    point = rows.select(key=key).join(
        whole.select("point", key=key), on="key", how="left", maintain_order="left"
    )["point"]
    found = rows.with_columns(point)
    inside = known.filter(pl.col("within").is_not_null())
    if inside.is_empty():
        return found
    by_area = rows.select("s", "zone", "area").join(
        inside.select("s", "zone", area="within", inner="point"),
        on=["s", "zone", "area"],
        how="left",
        maintain_order="left",
    )
    return found.with_columns(point=pl.coalesce("point", by_area["inner"]))


def _listed(zones: pl.DataFrame, sites: pl.DataFrame) -> pl.DataFrame:
    """Take the schedule of the sites at hand; a number listed twice is named with its area."""
    own = zones.select(list(ZONE)).join(sites, on="site").filter(pl.col("zone").is_not_null())
    apart = (pl.len() > 1) & (pl.col("area").list.first().n_unique() > 1)
    return (
        own.with_columns(apart=apart.over("s", "zone"))
        .with_columns(within=pl.when(pl.col("apart")).then(pl.col("area").list.first()))
        .unique(list(KEYS), keep="last", maintain_order=True)
        .select(
            *KEYS,
            listed_areas=pl.when(pl.col("area").list.drop_nulls().list.len() > 0).then(
                pl.col("area").list.drop_nulls().list.unique().list.sort()
            ),
            area_rule="area_rule",
            use="use",
            detector="detector",
            name="name",
            armed_in="armed_in",
            listed_limit="trip_limit",
            installed="installed",
            entry_route="entry_route",
            listed=pl.lit(value=True),
        )
    )


def _seen(rows: pl.DataFrame, twice: pl.Series) -> pl.DataFrame:
    """Gather what the log shows of each point."""
    codes = rows["code"].unique().drop_nulls()
    life_codes, open_codes = by_code(codes)
    hour_codes = codes.filter(codes.str.contains(ALL_HOURS_CODE)).to_list()
    kind = pl.col("kind")
    flags = ("life", "entry", "technical", "always", "untyped")

    def coded(some: list[str]) -> pl.Expr:
        if not some:
            return pl.lit(value=False)
        return pl.col("code").is_in(some).fill_null(value=False)

    told = (
        rows.lazy()
        .filter(pl.col("zone").is_not_null())
        .select(
            *("s", "area", "label"),
            life=kind.is_in(list(LIFE_SAFETY)) | coded(life_codes),
            entry=kind == Kind.ENTRY_EXIT_ALARM,
            technical=(kind == Kind.ENVIRONMENT_ALARM) & ~coded(open_codes),
            always=coded(hour_codes),
            untyped=coded(open_codes),
        )
        .group_by("s", "label", "area")
        .agg(pl.col(flags).any())
        .collect()
    )
    worded = by_wording(rows).with_columns(worded=pl.lit(value=True))
    return (
        told.join(worded, on=["s", "label", "area"], how="left", nulls_equal=True)
        .with_columns(
            zone=pl.col("label").cast(pl.String),
            life=pl.col("life") | pl.col("worded").fill_null(value=False),
            within=pl.when(pl.col("s").is_in(twice.implode())).then("area"),
        )
        .group_by(list(KEYS))
        .agg(
            pl.col(flags).any(),
            seen_areas=pl.col("area").drop_nulls().unique().sort(),
            seen=pl.lit(value=True),
        )
    )


def all_hours_seen(known: pl.DataFrame, rows: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Find unlisted points that alarm while unarmed as only a 24-hour point does.

    A point of unknown use that alarmed on several days while its area was unarmed is a 24-hour
    point, unless half of the site's alarming points did the same: then it is the arming that is
    not right. Since nobody tells what it is for, it is a life-safety point.

    Parameters
    ----------
    known : polars.DataFrame
        As ``points`` gives it.
    rows : polars.DataFrame
        ``n``, ``s``, ``placed``, ``kind``, ``phase``, ``point``, ``state``; memory left out.
    settings : Settings
        ``all_hours_min``, ``late_alarm_s``.

    Returns
    -------
    polars.DataFrame
        ``known`` with ``all_hours`` and ``life_safety`` widened.
    """
    alarms = rows.filter(
        (pl.col("kind") == Kind.INTRUSION_ALARM)
        & (pl.col("phase") == Phase.BEGIN)
        & pl.col("point").is_not_null()
    ).select("n", "s", "placed", "point", "state")
    disarms = rows.filter(pl.col("kind") == Kind.DISARM).select("s", "n", disarmed="placed")
    alarms = alarms.join_asof(disarms, on="n", by="s", check_sortedness=False)
    soon = pl.col("placed") - pl.col("disarmed") <= timedelta(seconds=settings.late_alarm_s)
    unarmed = (pl.col("state") == State.UNARMED) & ~soon.fill_null(value=False)
    by_point = alarms.group_by("s", "point").agg(
        days=pl.col("placed").filter(unarmed).dt.date().n_unique()
    )
    odd = by_point.with_columns(odd=pl.col("days") >= settings.all_hours_min).with_columns(
        share=pl.col("odd").mean().over("s")
    )
    found = odd.filter(pl.col("odd") & (pl.col("share") < 0.5))["point"].to_list()
    unlisted = pl.col("use").is_null() & pl.col("point").is_in(found)
    return known.with_columns(pl.col("all_hours", "life_safety") | unlisted)
