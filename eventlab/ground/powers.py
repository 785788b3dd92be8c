"""What a log can show, measured before anything rests on it."""

from datetime import timedelta

import polars as pl

from eventlab.ground.standing import CONDITIONS
from eventlab.ground.words import ArmAt, Arming, ClockRule, Power, Restores, State, Told
from eventlab.schema import LIFE_SAFETY, SELF_REPORTED, TRIPS, Kind, Phase, formatted
from eventlab.settings import Settings

KEY = ["s", "witness"]
POWER = ("s", "witness", "power", "value", "figure")
TESTS = (Kind.ON_TEST, Kind.WALK_TEST, Kind.ON_SITE_WORK)


def arming(rows: pl.DataFrame, voices: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Decide which openings and closings each witness tells.

    ``after-alarm``: nearly every disarm follows an alarm. ``none``: no arming at all, or one side
    of it so rare that the other cannot be followed (openings without closings).

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events.
    voices : polars.DataFrame
        ``s``, ``witness``: who tells of which site.
    settings : Settings
        ``arming_balance``, ``after_alarm_share``, ``after_alarm_min``, ``after_alarm_s``.

    Returns
    -------
    polars.DataFrame
        ``s``, ``witness``, ``power``, ``value``, ``figure``: one row for each site and witness.
    """
    kind = pl.col("kind")
    alarms = rows.filter(
        kind.is_in([*TRIPS, *LIFE_SAFETY]) & (pl.col("phase") != Phase.END)
    ).select(*KEY, "n", alarmed="placed")
    acts = rows.filter(kind.is_in([Kind.ARM, Kind.DISARM])).select(*KEY, "n", "placed", "kind")
    soon = timedelta(seconds=settings.after_alarm_s)
    counts = (
        acts.join_asof(alarms, on="n", by=KEY, check_sortedness=False)
        .with_columns(after=pl.col("placed") - pl.col("alarmed") <= soon)
        .group_by(KEY)
        .agg(
            arms=(kind == Kind.ARM).sum(),
            disarms=(kind == Kind.DISARM).sum(),
            after=(pl.col("after").fill_null(value=False) & (kind == Kind.DISARM)).sum(),
        )
    )
    every = voices.join(counts, on=KEY, how="left").fill_null(0)
    few = pl.min_horizontal("arms", "disarms")
    many = pl.max_horizontal("arms", "disarms")
    share = pl.col("after") / pl.col("disarms")
    only_after = (
        (share >= settings.after_alarm_share)
        & (pl.col("disarms") >= settings.after_alarm_min)
        & ((pl.col("arms") * 2 < pl.col("disarms")) | (pl.col("disarms") >= 10))
    )
    value = (
        pl.when(many == 0)
        .then(pl.lit(Arming.NONE.value))
        .when(only_after)
        .then(pl.lit(Arming.AFTER_ALARM.value))
        .when(few < settings.arming_balance * many)
        .then(pl.lit(Arming.NONE.value))
        .otherwise(pl.lit(Arming.ALL.value))
    )
    figure = formatted(
        "{} closings, {} openings, {} of them after an alarm", "arms", "disarms", "after"
    )
    return every.select(*KEY, power=pl.lit(Power.ARMING.value), value=value, figure=figure)


def arm_at(
    rows: pl.DataFrame, voices: pl.DataFrame, points: pl.DataFrame, settings: Settings
) -> pl.DataFrame:
    """Decide whether ``arm`` is written at the start or at the end of exit time.

    Movement on the way out stands after the row where it is written at the start, and before it
    where it is written at the end. Where movement is not logged, exit errors decide: they come
    when exit time is over, so an exit time after the row, or at once.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events with ``point``.
    voices : polars.DataFrame
        ``s``, ``witness``: who tells of which site.
    points : polars.DataFrame
        ``point``, ``s``, ``entry_route``.
    settings : Settings
        ``exit_unsettled_s``, ``exit_delay_s``, ``arm_at_min``, ``arm_at_share``.

    Returns
    -------
    polars.DataFrame
        ``s``, ``witness``, ``power``, ``value``, ``figure``: one row for each site and witness.
    """
    kind = pl.col("kind")
    arms = rows.filter(kind == Kind.ARM).select(*KEY, "n", "placed")
    if rows["point"].null_count() < rows.height:
        on_route = points.filter("entry_route")
        listed = on_route["s"].unique()
        route = pl.col("point").is_in(on_route["point"].to_list()) | ~pl.col("s").is_in(
            listed.to_list()
        )
    else:
        route = pl.lit(value=True)
    moves = rows.filter((kind == Kind.ACTIVATION) & (pl.col("phase") == Phase.BEGIN)).filter(
        route.fill_null(value=True)
    )
    errors = rows.filter(kind == Kind.EXIT_ERROR)
    exit_time = timedelta(seconds=settings.exit_delay_s)
    longest = timedelta(seconds=settings.exit_unsettled_s)
    line = (
        arms.with_columns(
            before=_gap(arms, moves, "backward"),
            after=_gap(arms, moves, "forward"),
            error=_gap(arms, errors, "forward"),
        )
        .group_by(KEY)
        .agg(
            arms=pl.len(),
            after=(pl.col("after") <= exit_time).sum(),
            before=(
                (pl.col("before") <= exit_time)
                & ~(pl.col("after") <= exit_time).fill_null(value=False)
            ).sum(),
            errors=(pl.col("error") <= longest).sum(),
            delay=pl.col("error").filter(pl.col("error") <= longest).median().dt.total_seconds(),
        )
    )
    every = voices.join(line, on=KEY, how="left")
    enough = settings.arm_at_min
    seen = pl.col("after") + pl.col("before")
    start = (seen >= enough) & (pl.col("after") >= settings.arm_at_share * seen)
    end = (seen >= enough) & (pl.col("after") <= (1 - settings.arm_at_share) * seen)
    told = (seen < enough) & (pl.col("errors") >= enough)
    half = settings.exit_delay_s / 2
    value = (
        pl.when(start | (told & (pl.col("delay") >= half)))
        .then(pl.lit(ArmAt.START.value))
        .when(end | (told & (pl.col("delay") < half)))
        .then(pl.lit(ArmAt.END.value))
        .otherwise(pl.lit(ArmAt.UNKNOWN.value))
    )
    number = [pl.col(c).fill_null(0) for c in ("arms", "after", "before", "errors")]
    return every.select(
        *KEY,
        power=pl.lit(Power.ARM_AT.value),
        value=value,
        figure=formatted(
            "{} closings: movement after {} of them, only before {}, exit errors after {}", *number
        ),
    )


def others(rows: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Measure the powers that need no more than counting.

    Parameters
    ----------
    rows : polars.DataFrame
        Numbered events with ``state``, twins of another channel included.
    settings : Settings
        ``restore_near_s``, ``restores_min``, ``activations_min``, ``ends_untold_min``,
        ``ends_untold_days``.

    Returns
    -------
    polars.DataFrame
        ``s``, ``witness``, ``power``, ``value``, ``figure``: activations, restores, bypass
        ends, ends of anything and grain of each site and witness.
    """
    kind = pl.col("kind")
    begin, end = pl.col("phase") == Phase.BEGIN, pl.col("phase") == Phase.END
    alarm = kind.is_in([Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM, Kind.ACTIVATION])
    closes = rows.filter(kind.is_in([Kind.DISARM, Kind.RESET])).select(*KEY, "n", closed="placed")
    restored = rows.filter(alarm & end).select(*KEY, "n", "placed", "grain")
    near = pl.duration(
        microseconds=(pl.max_horizontal(pl.lit(settings.restore_near_s), "grain") * 1e6).cast(
            pl.Int64
        )
    )
    held = (
        restored.join_asof(closes, on="n", by=KEY, check_sortedness=False)
        .group_by(KEY)
        .agg(at_disarm=(pl.col("placed") - pl.col("closed") <= near).sum())
    )
    counts = (
        rows.lazy()
        .group_by(KEY)
        .agg(
            moves=((kind == Kind.ACTIVATION) & begin & (pl.col("state") != State.ARMED)).sum(),
            raised=(alarm & begin).sum(),
            restored=(alarm & end).sum(),
            bypassed=((kind == Kind.BYPASS) & begin).sum(),
            lifted=((kind == Kind.BYPASS) & end).sum(),
            begun=begin.sum(),
            ended=end.sum(),
            grain=pl.col("grain").max(),
        )
        .collect()
        .join(held, on=KEY, how="left")
        .join(_begun(rows), on=KEY, how="left")
        .with_columns(pl.col("at_disarm", "begun_on").fill_null(0))
    )
    told = pl.col("restored") >= settings.restores_min
    few = pl.col("restored") * settings.restores_rare < pl.col("raised")
    restores = (
        pl.when((pl.col("restored") == 0) | few)
        .then(pl.lit(Restores.NONE.value))
        .when(told & (pl.col("at_disarm") * 2 > pl.col("restored")))
        .then(pl.lit(Restores.AT_DISARM.value))
        .otherwise(pl.lit(Restores.LIVE.value))
    )
    bypass = (
        pl.when((pl.col("bypassed") == 0) & (pl.col("lifted") == 0))
        .then(pl.lit(Told.NONE.value))
        .when(pl.col("lifted") == 0)
        .then(pl.lit(Told.NO.value))
        .otherwise(pl.lit(Told.YES.value))
    )
    untold = (pl.col("begun") >= settings.ends_untold_min) & (
        pl.col("begun_on") >= settings.ends_untold_days
    )
    ends = (
        pl.when(pl.col("ended") > 0)
        .then(pl.lit(Told.YES.value))
        .when(untold)
        .then(pl.lit(Told.NO.value))
        .otherwise(pl.lit(Told.NONE.value))
    )
    moving = (
        pl.when(pl.col("moves") >= settings.activations_min)
        .then(pl.lit(Told.YES.value))
        .otherwise(pl.lit(Told.NO.value))
    )
    measured = {
        Power.ACTIVATIONS: (moving, formatted("{} activations outside armed time", "moves")),
        Power.RESTORES: (
            restores,
            formatted(
                "{} restores of {} alarms and activations, {} of them at a disarm or reset",
                "restored",
                "raised",
                "at_disarm",
            ),
        ),
        Power.BYPASS_ENDS: (bypass, formatted("{} bypasses, {} lifted", "bypassed", "lifted")),
        Power.ENDS: (ends, formatted("{} begins and {} ends of anything", "begun", "ended")),
        Power.GRAIN: (
            pl.col("grain").cast(pl.String),
            formatted("one step of the clock stands for {} s", "grain"),
        ),
    }
    return pl.concat(
        counts.select(*KEY, power=pl.lit(name.value), value=value, figure=figure)
        for name, (value, figure) in measured.items()
    )


def clock(voices: pl.DataFrame, values: pl.DataFrame, rules: pl.DataFrame) -> pl.DataFrame:
    """Say by which rule each clock runs, and how that is known.

    Parameters
    ----------
    voices : polars.DataFrame
        ``s``, ``witness``: who tells of which site.
    values : polars.DataFrame
        ``s``, ``site``.
    rules : polars.DataFrame
        As ``clocks.clocked`` gives them.

    Returns
    -------
    polars.DataFrame
        ``s``, ``witness``, ``power``, ``value``, ``figure``: one row for each site and witness;
        ``open`` where nothing decides and the rule of its zone stands.
    """
    told = (
        voices.join(values.select("s", "site"), on="s", maintain_order="left")
        .with_columns(by=pl.col("witness").cast(pl.String))
        .join(rules, left_on=["site", "by"], right_on=["site", "witness"], how="left")
    )
    moved = formatted(
        "openings and closings move by {} min at {} clock changes",
        pl.col("moved").round(0).cast(pl.Int64),
        "changes",
    )
    figure = (
        pl.when(pl.col("rule").is_null())
        .then(pl.lit("not decided by this log: the rule of its time zone is taken"))
        .when(pl.col("moved").is_not_null())
        .then(moved)
        .otherwise("basis")
    )
    value = pl.col("rule").fill_null(ClockRule.OPEN.value)
    return told.select(*KEY, power=pl.lit(Power.CLOCK.value), value=value, figure=figure)


def both(told: pl.DataFrame, voices: pl.DataFrame) -> pl.DataFrame:
    """Count, where there are both logs, the events that both tell and that one tells alone.

    Parameters
    ----------
    told : polars.DataFrame
        Occurrences: ``s``, ``kind``, ``phase``, ``witnesses``.
    voices : polars.DataFrame
        ``s``, ``witness``: who tells of which site.

    Returns
    -------
    polars.DataFrame
        ``s``, ``witness``, ``power``, ``value`` (how many of its events the other tells too),
        ``figure``; of kinds that both tell at all. None of sites with one log.
    """
    two = voices.filter(pl.col("s").is_duplicated())
    shared = pl.col("witnesses").list.len() > 1
    counts = (
        told.lazy()
        .filter(pl.col("s").is_in(two["s"].unique().implode()))
        .select("s", "kind", "phase", "witnesses", shared=shared)
        .filter(pl.col("shared").any().over("s", "kind", "phase"))
        .explode("witnesses")
        .group_by("s", by="witnesses")
        .agg(shared=pl.col("shared").sum(), alone=(~pl.col("shared")).sum())
        .collect()
    )
    name = pl.col("witness").cast(pl.String)
    return (
        two.with_columns(by=name)
        .join(counts, on=["s", "by"], how="inner", maintain_order="left")
        .select(
            *KEY,
            power=pl.lit(Power.BOTH.value),
            value=pl.col("shared").cast(pl.String),
            figure=formatted(
                "of kinds that both logs tell: {} events in both, {} in this one alone",
                "shared",
                "alone",
            ),
        )
    )


def never(power: pl.DataFrame, name: Power) -> pl.Series:
    """Give the sites none of whose logs tells a thing, and one of them surely does not.

    Parameters
    ----------
    power : polars.DataFrame
        Measured powers.
    name : {Power.BYPASS_ENDS, Power.ENDS}
        Which.

    Returns
    -------
    polars.Series
        Values of ``s``.
    """
    told = power.filter(pl.col("power") == name.value)
    no, yes = pl.col("value") == Told.NO, pl.col("value") == Told.YES
    return told.group_by("s").agg(no.any() & ~yes.any()).filter("value")["s"]


def _begun(rows: pl.DataFrame) -> pl.DataFrame:
    """Count the days on which conditions and tests began; what is told again began once."""
    standing = rows.filter(
        pl.col("kind").is_in([*CONDITIONS, *TESTS]) & (pl.col("phase") == Phase.BEGIN)
    ).select(*KEY, "n", "kind", "zone", "placed")
    first = pl.col("n") == pl.col("n").min().over(*KEY, "kind", "zone")
    return (
        standing.filter(first | ~pl.col("kind").is_in(list(SELF_REPORTED)))
        .group_by(KEY)
        .agg(begun_on=pl.col("placed").dt.date().n_unique())
    )


def _gap(arms: pl.DataFrame, others: pl.DataFrame, way: str) -> pl.Series:
    """Give the time from each arm to the nearest other row before or after it in order."""
    hit = arms.join_asof(
        others.select(*KEY, "n", found="placed"),
        on="n",
        by=KEY,
        strategy="forward" if way == "forward" else "backward",
        check_sortedness=False,
    )
    return hit.select(found=(pl.col("found") - pl.col("placed")).abs()).to_series()
