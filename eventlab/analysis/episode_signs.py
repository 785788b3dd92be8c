"""What speaks for one cause or another in each episode."""

import polars as pl

from eventlab.analysis import drivers, entry_overrun
from eventlab.analysis.found import asof, begun, seconds
from eventlab.analysis.intrusion_rules import anchors
from eventlab.analysis.tables import OPEN
from eventlab.context import Context
from eventlab.ground import Ground, Reason
from eventlab.schema import FOUND, TRIPS, Kind, Pattern, Phase, empty
from eventlab.settings import Settings
from eventlab.stats import count_within

_KEY = ("site", "episode")
_TOLD = ("site", "episode", "family", "sign")
_NEAR_S = 600
"""Losses this close to the first alarm of an episode are looked at with it."""
_SOON_S = 1800
"""What happens this soon after arming may still have to do with it."""
_DAY_S = 86400
_LOSSES = {
    Kind.MAINS_LOSS: "mains",
    Kind.SYSTEM_RESTART: "mains",
    Kind.COMMS_FAIL: "path",
    Kind.RADIO_JAM: "jam",
}
_AGAIN_DAYS, _AGAIN_NIGHTS = 90, 2
"""What a point did on so many other nights, so many days before or after, is looked at."""
PROMPT = ("entry", "quick-disarm", "exit")
"""Signs that somebody disarmed at once."""


def episode_signs(
    ground: Ground, context: Context, settings: Settings, found: pl.DataFrame | None = None
) -> pl.DataFrame:
    """Return the signs of each ordinary episode, by family of evidence.

    Parameters
    ----------
    ground : Ground
        What every analysis stands on.
    context : Context
        Where the sites stand, and visits.
    settings : Settings
        As `entry_overrun.overruns` and `intrusion_rules.anchors` need them.
    found : polars.DataFrame, optional
        FOUND columns: what the analyses found of the points. Without it nothing is known of what
        a point follows, nor that it chatters on other nights.

    Returns
    -------
    polars.DataFrame
        ``site``, ``episode``, ``family``, ``sign``: the words of the table of likelihood ratios.
    """
    episodes = ground.episodes.filter(~pl.col("life_safety"))
    known = empty(FOUND) if found is None else found
    timing = _timing(episodes, ground, context, settings)
    parts = [
        timing,
        _contact(episodes, ground, settings),
        _chatters(episodes, known),
        _again(timing, ground),
        _drivers(episodes, known, ground, context, settings),
        _systems(episodes, ground),
        _service(episodes, ground, context),
        _intrusion(episodes, ground, context, settings),
    ]
    return pl.concat([part.select(_TOLD) for part in parts])


def _said(family: str, sign: str | pl.Expr) -> dict[str, pl.Expr]:
    word = pl.lit(sign) if isinstance(sign, str) else sign
    return {"family": pl.lit(family), "sign": word}


def _timing(
    episodes: pl.DataFrame, ground: Ground, context: Context, settings: Settings
) -> pl.DataFrame:
    late = entry_overrun.overruns(ground, context, settings).select(*_KEY, entry=pl.lit(value=True))
    after = seconds(pl.col("disarmed_at") - pl.col("since"))
    armed = seconds(pl.col("since") - pl.col("armed_at"))
    exit_ = (armed <= settings.exit_unsettled_s) & (after <= settings.exit_again_s)
    sign = (
        pl.when(pl.col("entry"))
        .then(pl.lit("entry"))
        .when(exit_)
        .then(pl.lit("exit"))
        .when(after <= settings.entry_overrun_s)
        .then(pl.lit("quick-disarm"))
        .when(armed <= _SOON_S)
        .then(pl.lit("soon-after-arming"))
        .when(after <= settings.confirmation_window_s)
        .then(pl.lit("attended"))
        .otherwise(pl.lit("unattended"))
    )
    return episodes.join(late, on=list(_KEY), how="left").with_columns(**_said("timing", sign))


def _contact(episodes: pl.DataFrame, ground: Ground, settings: Settings) -> pl.DataFrame:
    alarms = _members(episodes, ground)
    if alarms.is_empty():
        return episodes.clear().with_columns(**_said("contact", "repeats"))
    step = alarms["grain"].to_numpy().astype("int64")
    window = ((int(settings.chatter_window_s) - step) * 1000).clip(0)
    series = alarms.select(pl.struct(*_KEY, "zone", "within").rank("dense")).to_series()
    most = count_within(alarms["placed"].dt.epoch("ms").to_numpy(), window, series.to_numpy())
    one = (
        alarms.with_columns(most=pl.Series(most))
        .group_by(_KEY)
        .agg(pl.col("most").max(), alarms=pl.len(), points=pl.col("zone").n_unique())
    )
    sign = (
        pl.when(pl.col("points") > 1)
        .then(pl.lit("several-points"))
        .when(pl.col("most") >= settings.chatter_count)
        .then(pl.lit("chatter"))
        .when(pl.col("alarms") >= settings.chatter_count)
        .then(pl.lit("repeats"))
    )
    return one.with_columns(**_said("contact", sign)).filter(pl.col("sign").is_not_null())


def _members(episodes: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Return the alarms of each episode: those of its area and points from begin to end."""
    alarms = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in(list(TRIPS)) & (pl.col("phase") == Phase.BEGIN))
        .select("site", "area", "zone", "within", "placed", "grain")
        .collect()
    )
    spans = episodes.select(*_KEY, "area", "since", "last")
    hits = []
    for known in (True, False):
        by = ["site", "area"] if known else ["site"]
        some = alarms.filter(pl.col("area").is_not_null() == known)
        of = spans.filter(pl.col("area").is_not_null() == known)
        hits.append(
            asof(some, of.select(*_KEY, "since", "last", *by[1:]), "placed", "since", by=by)
        )
    return pl.concat(hits, how="diagonal").filter(pl.col("placed") <= pl.col("last"))


def _again(timing: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    """Tell whether the point began such an episode on other nights: what it is has its reason."""
    alone = timing.filter(~pl.col("sign").is_in(PROMPT)).drop_nulls("first_zone")
    point = ["site", "area", "first_zone"]
    nights = alone.select(*point, "night").unique()
    series = nights.select(pl.struct(point).rank("dense")).to_series().to_numpy()
    day = nights["night"].to_physical().cast(pl.Int64).to_numpy()
    # The night itself stands in both counts.
    on, back = (count_within(way * day, _AGAIN_DAYS, series) for way in (1, -1))
    others = nights.with_columns(others=pl.Series(on + back - 2))
    told = (
        ground.occurrences.lazy()
        .group_by("site")
        .agg(long=pl.col("placed").max() - pl.col("placed").min() >= pl.duration(days=_AGAIN_DAYS))
        .collect()
    )
    sign = (
        pl.when(pl.col("others") >= _AGAIN_NIGHTS)
        .then(pl.lit("recurs"))
        .when((pl.col("others") == 0) & pl.col("long"))
        .then(pl.lit("once"))
    )
    return (
        alone.join(others, on=[*point, "night"], how="left", nulls_equal=True)
        .join(told, on="site", how="left")
        .with_columns(**_said("contact", sign))
        .drop_nulls("sign")
    )


def _chatters(episodes: pl.DataFrame, found: pl.DataFrame) -> pl.DataFrame:
    """Tell the alarms of a point while it was found to chatter or to trip again and again."""
    restless = found.filter(pl.col("pattern").is_in([Pattern.CHATTERING, Pattern.SWINGER])).select(
        "site", begun="since", ended="until", first_zone="subject", found_area="area"
    )
    here = (pl.col("area") == pl.col("found_area")).fill_null(value=True)
    held = pl.col("since").is_between("begun", "ended").fill_null(value=False)
    return (
        episodes.join(restless, on=["site", "first_zone"])
        .filter(here & held)
        .unique(_KEY, maintain_order=True)
        .with_columns(**_said("contact", "restless-point"))
    )


def _drivers(
    episodes: pl.DataFrame,
    found: pl.DataFrame,
    ground: Ground,
    context: Context,
    settings: Settings,
) -> pl.DataFrame:
    """Tell whether the first alarm lies in the condition that its point follows."""
    at_risk = pl.col("since") - pl.col("armed_at") - pl.duration(seconds=settings.exit_unsettled_s)
    moments = (
        episodes.filter(~pl.col("doubtful"))
        .join(begun(episodes, ground), on=["site", "first_occurrence"], maintain_order="left")
        .select(
            *_KEY,
            "area",
            "at",
            "local",
            zone="first_zone",
            tamper=pl.col("kinds").list.eval(pl.element() == Kind.TAMPER_ALARM).list.all(),
            begun_s=seconds(at_risk).clip(lower_bound=0),
        )
    )
    told = drivers.inside(moments, found, ground, context, settings)
    sign = (
        pl.when("inside", "open")
        .then(pl.col("driver") + OPEN)
        .when("inside")
        .then(pl.col("driver"))
        .when(~pl.col("inside") & ~pl.col("open"))
        .then(pl.lit("outside"))
    )
    return told.with_columns(**_said("driver", sign)).drop_nulls("sign")


def _systems(episodes: pl.DataFrame, ground: Ground) -> pl.DataFrame:
    losses = (*_LOSSES, Kind.SUPERVISION_LOSS, Kind.DEVICE_BATTERY_LOW)
    told = (
        ground.occurrences.lazy()
        .filter(pl.col("kind").is_in(list(losses)) & (pl.col("phase") != Phase.END))
        .select("site", "kind", "zone", "placed")
        .collect()
    )
    parts = []
    for sign in dict.fromkeys(_LOSSES.values()):
        kinds = [kind for kind, of in _LOSSES.items() if of == sign]
        some = told.filter(pl.col("kind").is_in(kinds)).select("site", seen="placed")
        hit = asof(episodes.select(*_KEY, "since"), some, "since", "seen", strategy="nearest")
        parts.append(
            hit.filter(seconds(pl.col("seen") - pl.col("since")).abs() <= _NEAR_S)
            .with_columns(**_said("systems", sign))
            .select(_TOLD)
        )
    of_point = {"device-lost": Kind.SUPERVISION_LOSS, "device-battery": Kind.DEVICE_BATTERY_LOW}
    for sign, kind in of_point.items():
        some = told.filter(pl.col("kind") == kind).select("site", first_zone="zone", seen="placed")
        hit = asof(
            episodes.select(*_KEY, "since", "first_zone"),
            some,
            "since",
            "seen",
            by=["site", "first_zone"],
        )
        reach = _DAY_S if sign == "device-lost" else 7 * _DAY_S
        parts.append(
            hit.filter(seconds(pl.col("since") - pl.col("seen")) <= reach)
            .with_columns(**_said("systems", sign))
            .select(_TOLD)
        )
    # Nothing told near is a sign only where a log tells of such things at all.
    tells = told.filter(pl.col("kind").is_in(list(_LOSSES)))
    quiet = episodes.join(tells.select("site").unique(), on="site", how="semi")
    return _or_none(pl.concat(parts), quiet, "systems")


def _service(episodes: pl.DataFrame, ground: Ground, context: Context) -> pl.DataFrame:
    work = ground.aside.filter(pl.col("reason") != Reason.RESTART).select("site", seen="since")
    both = pl.concat([work, context.visits.select("site", seen="at").drop_nulls()])
    before = asof(episodes, both, "since", "seen")
    near = asof(before, both.rename({"seen": "soon"}), "since", "soon", strategy="forward")
    done = seconds(pl.col("since") - pl.col("seen")) <= _DAY_S
    due = seconds(pl.col("soon") - pl.col("since")) <= _DAY_S
    sign = (
        pl.when(pl.col("aside"))
        .then(pl.lit("set-aside"))
        .when(done)
        .then(pl.lit("work-before"))
        .when(due)
        .then(pl.lit("work-after"))
    )
    told = near.with_columns(**_said("service", sign)).drop_nulls("sign").select(_TOLD)
    tells = episodes.join(both.select("site").unique(), on="site", how="semi")
    return _or_none(told, tells, "service")


def _or_none(told: pl.DataFrame, episodes: pl.DataFrame, family: str) -> pl.DataFrame:
    """Add that there is no sign of a family, for those of the episodes that have none."""
    none = episodes.join(told, on=list(_KEY), how="anti").with_columns(**_said(family, "no-sign"))
    return pl.concat([told, none.select(_TOLD)])


def _intrusion(
    episodes: pl.DataFrame, ground: Ground, context: Context, settings: Settings
) -> pl.DataFrame:
    rules = anchors(ground, context, settings).select("site", "rule", seen="at")
    window = settings.confirmation_window_s
    hits = [episodes.clear().with_columns(**_said("intrusion", "no-sign")).select(_TOLD)]
    for rule in rules["rule"].unique().sort():
        some = rules.filter(pl.col("rule") == rule)
        hit = asof(episodes, some, "since", "seen", strategy="nearest")
        hits.append(
            hit.filter(seconds(pl.col("seen") - pl.col("since")).abs() <= window)
            .with_columns(**_said("intrusion", rule))
            .select(_TOLD)
        )
    return _or_none(pl.concat(hits), episodes, "intrusion")
