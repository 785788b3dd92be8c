"""Time that is set aside: tests, service work, visits, the minutes after a restart."""

from datetime import timedelta

import polars as pl

from eventlab.ground.words import REASON, Reason, State
from eventlab.schema import TRIPS, Kind, Phase
from eventlab.settings import Settings

KINDS = {
    Kind.ON_TEST: Reason.ON_TEST,
    Kind.WALK_TEST: Reason.WALK_TEST,
    Kind.ON_SITE_WORK: Reason.ON_SITE_WORK,
}
AT_PANEL = (Kind.WALK_TEST, Kind.ON_SITE_WORK)
"""States of the panel itself: a restart ends them, and a system that is armed is not in them."""

LIDS = (Kind.TAMPER, Kind.TAMPER_ALARM)


def set_aside(
    told: pl.DataFrame, cover: pl.DataFrame, settings: Settings, *, untold: pl.Series | None = None
) -> pl.DataFrame:
    """Give the stretches in which nothing counts towards rates, episodes or limits.

    Parameters
    ----------
    told : polars.DataFrame
        Occurrences: ``n``, ``s``, ``placed``, ``kind``, ``phase``, ``area``, ``zone``, ``state``.
    cover : polars.DataFrame
        ``s``, ``since``, ``until``.
    settings : Settings
        ``restart_quiet_s``, ``visit_lids``, ``visit_s``, ``test_left_h``,
        ``confirmation_window_s``.
    untold : polars.Series, optional
        Sites whose logs tell no ends of anything: a test there lasts ``visit_s``.

    Returns
    -------
    polars.DataFrame
        ``s``, ``area``, ``since``, ``until``, ``reason``, ``ended`` (false where it stands at the
        end of the log, null where the log never tells ends); may overlap.
    """
    ends = cover.group_by("s").agg(first=pl.col("since").min(), last=pl.col("until").max())
    parts = [
        _tests(told, ends, settings, untold),
        _restarts(told, settings),
        _visits(told, settings),
    ]
    return (
        pl.concat(parts)
        .join(ends, on="s", how="left")
        .with_columns(until=pl.min_horizontal("until", pl.max_horizontal("last", "since")))
        .drop("first", "last")
        .sort("s", "since", "until", "reason")
    )


def inside(rows: pl.DataFrame, aside: pl.DataFrame) -> pl.Series:
    """Tell which rows happened in time that is set aside.

    Parameters
    ----------
    rows : polars.DataFrame
        ``s``, ``placed``, ``area``; sorted by site and time.
    aside : polars.DataFrame
        As ``set_aside`` gives it.

    Returns
    -------
    polars.Series
        Boolean, a value for each row.
    """
    from eventlab.ground.intervals import unite

    whole = unite(aside.filter(pl.col("area").is_null()), ["s"])
    hit = _within(rows, whole, ["s"])
    some = unite(aside.filter(pl.col("area").is_not_null()), ["s", "area"])
    if some.is_empty():
        return hit
    return hit | _within(rows, some, ["s", "area"])


def _within(rows: pl.DataFrame, spans: pl.DataFrame, by: list[str]) -> pl.Series:
    if spans.is_empty():
        return pl.Series("aside", [False]).new_from_index(0, rows.height)
    spans = spans.rename({"since": "placed"})
    hit = rows.select(*by, "placed").join_asof(spans, on="placed", by=by, check_sortedness=False)
    return hit.select((pl.col("placed") < pl.col("until")).fill_null(value=False)).to_series()


def _tests(
    told: pl.DataFrame, ends: pl.DataFrame, settings: Settings, untold: pl.Series | None
) -> pl.DataFrame:
    """Follow tests and work from their begin to their end."""
    rows = told.filter(pl.col("kind").is_in(list(KINDS))).select(
        "n", "s", "placed", "kind", "phase", "area"
    )
    begins = rows.filter(pl.col("phase") == Phase.BEGIN).rename({"placed": "since"})
    over = rows.filter(pl.col("phase") == Phase.END)
    halts = told.filter(
        pl.col("kind").is_in([Kind.ARM, Kind.SYSTEM_RESTART]) & (pl.col("phase") == Phase.MOMENT)
    ).select("n", "s", "placed")
    panel = pl.col("kind").is_in(list(AT_PANEL))
    same = _next(begins, over, ["s", "kind", "area"], "same")
    wide = _next(begins, over.filter(pl.col("area").is_null()), ["s", "kind"], "wide")
    any_end = _next(begins, over, ["s", "kind"], "any_end")
    halt = _next(begins, halts, ["s"], "halt")
    nothing = pl.lit(None, dtype=begins["since"].dtype)
    line = begins.with_columns(same, wide, any_end, halt).with_columns(
        told_end=pl.min_horizontal(
            "same",
            "wide",
            pl.when(pl.col("area").is_null()).then("any_end").otherwise(nothing),
            pl.when(panel).then("halt").otherwise(nothing),
        ),
    )
    often = pl.len().over("s", "kind", "area") >= settings.untold_tests_min
    never = ~pl.col("kind").is_in(list(AT_PANEL)) & pl.col("any_end").is_null().all().over(
        "s", "kind"
    )
    again = pl.col("since").shift(-1).over("s", "kind", "area")
    lapsed = pl.min_horizontal(again, pl.col("since") + timedelta(seconds=settings.visit_s))
    mute = pl.col("s").is_in([] if untold is None else untold.to_list())
    opened = (
        line.sort("s", "n")
        .with_columns(lapsed=pl.when(mute | (never & often & again.is_not_null())).then(lapsed))
        .join(ends, on="s", how="left")
        .select(
            "s",
            "area",
            "since",
            until=pl.coalesce("told_end", "lapsed", pl.max_horizontal("last", "since")),
            reason=_reason(),
            ended=pl.when(pl.col("told_end").is_not_null())
            .then(pl.lit(value=True))
            .when(pl.col("lapsed").is_null())
            .then(pl.lit(value=False)),
        )
    )
    opened = opened.unique(["s", "area", "until", "reason"], keep="first", maintain_order=True)
    first = rows.sort("s", "n").group_by("s", "kind", "area", maintain_order=True).first()
    before = (
        first.filter(pl.col("phase") == Phase.END)
        .join(ends, on="s", how="left")
        .filter(pl.col("placed") - pl.col("first") <= timedelta(hours=settings.test_left_h))
        .select(
            "s",
            "area",
            since="first",
            until="placed",
            reason=_reason(),
            ended=pl.lit(value=True),
        )
    )
    return pl.concat([opened, before])


def _reason() -> pl.Expr:
    return (
        pl.col("kind")
        .cast(pl.String)
        .replace_strict({k.value: r.value for k, r in KINDS.items()}, return_dtype=pl.String)
        .cast(REASON)
    )


def _next(rows: pl.DataFrame, later: pl.DataFrame, by: list[str], name: str) -> pl.Series:
    """Find when the next of some rows comes after each row."""
    keyed = [pl.col(c).cast(pl.String).fill_null("") if c != "s" else pl.col(c) for c in by]
    right = later.select("n", *keyed, found="placed").sort("n")
    left = rows.select("n", *keyed).with_row_index("at").sort("n")
    hit = left.join_asof(
        right, on="n", by=by, strategy="forward", allow_exact_matches=False, check_sortedness=False
    )
    return hit.sort("at")["found"].alias(name)


def _restarts(told: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    return told.filter(pl.col("kind") == Kind.SYSTEM_RESTART).select(
        "s",
        area=pl.lit(None, dtype=pl.String),
        since="placed",
        until=pl.col("placed") + timedelta(seconds=settings.restart_quiet_s),
        reason=pl.lit(Reason.RESTART.value, dtype=REASON),
        ended=pl.lit(value=True),
    )


def _visits(told: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Infer visits nobody told: several lids within hours while the place was not armed.

    Lids opened while armed are never a visit, and with the state unknown neither are those that
    follow an alarm within the confirmation window.
    """
    lids = told.filter(
        pl.col("kind").is_in(list(LIDS))
        & (pl.col("phase") == Phase.BEGIN)
        & pl.col("state").is_in([State.UNARMED.value, State.UNKNOWN.value])
    ).select("n", "s", "placed", "state", lid=pl.coalesce("zone", "area", pl.lit("")))
    trips = told.filter(
        pl.col("kind").is_in([k for k in TRIPS if k != Kind.TAMPER_ALARM])
        & (pl.col("phase") == Phase.BEGIN)
    ).select("s", "n", alarmed="placed")
    calm = lids.sort("n").join_asof(trips, on="n", by="s", check_sortedness=False)
    window = timedelta(seconds=settings.confirmation_window_s)
    near = (pl.col("placed") - pl.col("alarmed") <= window).fill_null(value=False)
    calm = calm.filter((pl.col("state") == State.UNARMED) | ~near)
    return (
        calm.sort("s", "placed")
        .rolling(
            "placed",
            period=timedelta(seconds=settings.visit_s),
            closed="both",
            group_by="s",
        )
        .agg(
            lids=pl.col("lid").n_unique(),
            since=pl.col("n").len(),
            first=pl.col("n").min(),
        )
        .filter(pl.col("lids") >= settings.visit_lids)
        .join(calm.select(first="n", begun="placed"), on="first", how="left")
        .select(
            "s",
            area=pl.lit(None, dtype=pl.String),
            since="begun",
            until=pl.col("placed") + timedelta(seconds=settings.restart_quiet_s),
            reason=pl.lit(Reason.VISIT.value, dtype=REASON),
            ended=pl.lit(value=True),
        )
    )
