"""What the cells of a column that no heading tells have to do with what the rows say."""

from dataclasses import dataclass

import polars as pl

from eventlab.meaning.identity import NOUNS, canonical
from eventlab.meaning.part import Part, Roles
from eventlab.meaning.saying import say
from eventlab.meaning.shapes import meant, noun_of
from eventlab.schema import Kind

_ACTS = (Kind.ARM, Kind.DISARM)
_BESIDE = (
    *(Kind.BYPASS, Kind.SHUTDOWN, Kind.WALK_TEST, Kind.TAMPER, Kind.TAMPER_ALARM),
    *(Kind.DEVICE_BATTERY_LOW, Kind.SYSTEM_BATTERY_LOW, Kind.EXIT_ERROR),
)
"""Kinds told of points that also a person or the panel may stand beside."""
_SYSTEM = (
    *(Kind.MAINS_LOSS, Kind.TEST_REPORT, Kind.COMMS_FAIL, Kind.SYSTEM_RESTART, Kind.CLOCK_SET),
    *(Kind.LOG_STATE, Kind.MANUAL_TEST, Kind.SYSTEM_FAULT, Kind.SIREN_FAULT),
)

_NUMBERS = (
    rf"^(?i:(?:{NOUNS})s?\.?\s*)?\d{{1,5}}"
    r"(?i:\s*(?:[,;&/+-]|\b(?:and|und|et|y|e|en|i|och|to|bis)\b)\s*\d{1,5})*$"
)
"""One number or several."""

ENOUGH = 2
"""Rows of acts, or of alarms, from which on a column that is empty on all of them tells."""
_STEPS = 6
"""Steps from which on a sequence shows whether it alternates."""
_MANY = 20
"""Steps of acts from which on a column that no area can be is left aside without asking."""
_LONG = 8
"""Steps from which on one that alternates throughout does so by no chance."""


@dataclass(frozen=True)
class Facts:
    """What is known of one column.

    Parameters
    ----------
    numbers : bool
        Whether its cells are numbers, a noun before them or not; else they are labels.
    nouns : frozenset of str
        What the nouns before all of its numbers name.
    constant : bool
        Whether all cells are the same, on every row.
    acts, alarms, system : int
        Rows that tell acts of people, alarms of points, conditions of the system.
    on_acts, on_alarms, on_system : int
        How many of them have a cell that says something.
    values, act_values, alarm_values : frozenset of str
        The cells in canonical form: all, beside acts, beside alarms.
    both_acts : bool
        Whether armings and disarmings are told about as often.
    act_steps, act_breaks : int
        Steps from one arming or disarming to the next beside the same cell, and how many of them
        are from one arming to another, which no area does.
    pairs, pair_breaks, whole_breaks : float
        Steps between begin and end of the same kind beside the same cell, the share of them that
        go from begin to begin or from end to end, and that share when the column is not looked at.
    same_zone, same_person : bool
        Whether it only repeats the point, or the person, that the rows tell already.
    """

    numbers: bool
    nouns: frozenset[str]
    constant: bool
    acts: int
    alarms: int
    system: int
    on_acts: int
    on_alarms: int
    on_system: int
    values: frozenset[str]
    act_values: frozenset[str]
    alarm_values: frozenset[str]
    both_acts: bool
    act_steps: int
    act_breaks: int
    pairs: int
    pair_breaks: float
    whole_breaks: float
    same_zone: bool
    same_person: bool

    @property
    def no_area(self) -> bool:
        """Whether it cannot be an area: armed again and again though it was armed.

        Some of it is what a log leaves out; where it tells armings alone nothing is seen.
        """
        enough = self.act_steps >= _LONG and self.both_acts
        return enough and self.act_breaks >= 0.4 * self.act_steps

    @property
    def surely_no_area(self) -> bool:
        """Whether that holds over so many steps that the column may be left aside for it."""
        return self.no_area and self.act_steps >= _MANY

    @property
    def surely_area(self) -> bool:
        """Whether it is armed and disarmed in turn, as only an area is."""
        turns = self.act_steps >= _LONG and not self.act_breaks and len(self.act_values) > 1
        return turns and self.alarm_values <= self.act_values

    @property
    def identity(self) -> bool:
        """Whether begins and ends pair by it, as they do by a point."""
        return self.pairs >= _STEPS and self.pair_breaks < 0.1 and self.whole_breaks > 0.2

    @property
    def surely_point(self) -> bool:
        """Whether begins and ends pair by it alone, for so many values as areas seldom are."""
        paired = self.pairs >= _MANY and self.pair_breaks < 0.02 and self.whole_breaks > 0.15
        return paired and len(self.alarm_values) >= _STEPS


def told_by(sample: pl.DataFrame, roles: Roles) -> pl.DataFrame:
    """Tell what sampled rows say, one line for each row.

    Parameters
    ----------
    sample : polars.DataFrame
        Rows of the table.
    roles : Roles
        Its columns.

    Returns
    -------
    polars.DataFrame
        ``kind``, ``phase``, ``as_user``, ``zone``, ``person`` in the order of the rows.
    """
    said = say(sample, roles).unique("line", keep="first", maintain_order=True).sort("line")
    return said.select(
        pl.col("kind").cast(pl.String),
        pl.col("phase").cast(pl.String),
        "as_user",
        "zone",
        "person",
    )


def facts_of(cells: pl.Series, told: pl.DataFrame, site: pl.Series) -> Facts:
    """Look at one column.

    Parameters
    ----------
    cells : polars.Series
        String, in file order.
    told : polars.DataFrame
        As ``told_by`` gives it, of the same rows.
    site : polars.Series
        Whose rows they are.

    Returns
    -------
    Facts
        Shares and counts over these rows.
    """
    frame = told.with_columns(site.alias("site"), cells.alias("cell")).with_columns(
        value=canonical(meant(pl.col("cell"))), said=meant(pl.col("cell"))
    )
    kind = pl.col("kind")
    act = pl.col("as_user").fill_null(value=False)
    alarm = (~pl.col("as_user")).fill_null(value=False) & ~kind.is_in(list(_BESIDE))
    system = kind.is_in(list(_SYSTEM)).fill_null(value=False)
    has = pl.col("value").is_not_null()
    count = frame.select(
        acts=act.sum(),
        alarms=alarm.sum(),
        system=system.sum(),
        on_acts=(act & has).sum(),
        on_alarms=(alarm & has).sum(),
        on_system=(system & has).sum(),
        same_zone=(pl.col("value") == pl.col("zone")).filter(alarm & has).all(),
        same_person=(pl.col("value") == pl.col("person")).filter(act & has).all(),
        zones=pl.col("zone").filter(alarm & has).is_not_null().any(),
        persons=pl.col("person").filter(act & has).is_not_null().any(),
    ).to_dicts()[0]
    some = frame["said"].drop_nulls().unique(maintain_order=True)
    nouns = noun_of(some)
    whole = bool(some.str.contains(_NUMBERS).all())
    acts = frame.filter(kind.is_in([str(one) for one in _ACTS]) & has)
    steps, breaks = _breaks(acts, ["site", "value"], "kind")
    ends = frame.filter(alarm & has & pl.col("phase").is_in(["begin", "end"]))
    pairs, pair_breaks = _breaks(ends, ["site", "kind", "value"], "phase")
    all_steps, all_breaks = _breaks(ends, ["site", "kind"], "phase")
    armings = (acts["kind"] == str(Kind.ARM)).mean()
    return Facts(
        both_acts=isinstance(armings, float) and 0.3 <= armings <= 0.7,
        numbers=bool(some.len()) and (whole or bool(nouns)),
        nouns=nouns,
        constant=some.len() == 1 and bool(frame.select(has.all()).item()),
        **{key: count[key] for key in ("acts", "alarms", "system")},
        **{key: count[key] for key in ("on_acts", "on_alarms", "on_system")},
        values=_values(frame.filter(has)),
        act_values=_values(acts),
        alarm_values=_values(frame.filter(alarm & has)),
        act_steps=steps,
        act_breaks=breaks,
        pairs=pairs,
        pair_breaks=pair_breaks / max(1, pairs),
        whole_breaks=all_breaks / max(1, all_steps),
        same_zone=bool(count["zones"]) and bool(count["same_zone"]),
        same_person=bool(count["persons"]) and bool(count["same_person"]),
    )


def _values(frame: pl.DataFrame) -> frozenset[str]:
    return frozenset(frame["value"].drop_nulls().unique().to_list())


def _breaks(frame: pl.DataFrame, keys: list[str], column: str) -> tuple[int, int]:
    """Count steps within groups, in order, and those from one value to the same again."""
    before = pl.col(column).shift(1).over(keys)
    told = frame.select(step=before.is_not_null(), same=(pl.col(column) == before))
    steps = told.select(pl.col("step").sum()).item()
    breaks = told.select(pl.col("same").sum()).item()
    return int(steps or 0), int(breaks or 0)


def candidates(facts: Facts, taken: frozenset[Part], *, headed: bool) -> list[Part]:
    """Give the parts that a column may play, the likeliest first; ``ASIDE`` for none.

    Parameters
    ----------
    facts : Facts
        What is known of its cells.
    taken : frozenset of Part
        Parts that other columns play, or that the wording tells.
    headed : bool
        Whether it has a heading, which nobody knows.

    Returns
    -------
    list of Part
        One where the cells decide.
    """
    if facts.nouns:
        return _by_nouns(facts.nouns, taken)
    if not facts.values or (facts.same_zone and facts.same_person):
        return [Part.ASIDE]
    both = facts.acts >= ENOUGH and facts.alarms >= ENOUGH
    if facts.constant and both and (headed or not facts.numbers):
        return [Part.ASIDE]  # what every row says tells nothing apart
    point, name = (Part.ZONE, Part.PERSON) if facts.numbers else (Part.ZONE_NAME, Part.PERSON_NAME)
    if facts.on_alarms and not facts.on_acts:
        found = _of_points(facts, point, headed=headed)
    elif facts.on_acts and not facts.on_alarms:
        found = _of_people(facts, name)
    elif facts.on_acts:
        found = _of_both(facts)
    else:
        return [Part.ASIDE]
    left = [part for part in found if part not in taken]
    return left or [Part.ASIDE]


def _by_nouns(nouns: frozenset[str], taken: frozenset[Part]) -> list[Part]:
    named = {"zone": Part.ZONE, "person": Part.PERSON, "area": Part.AREA}
    part = named[next(iter(nouns))] if len(nouns) == 1 else Part.ZONE_OR_PERSON
    if "area" in nouns and len(nouns) > 1:
        return [Part.ASIDE, Part.AREA, Part.ZONE_OR_PERSON]
    return [Part.ASIDE] if part in taken else [part]


def _of_points(facts: Facts, point: Part, *, headed: bool) -> list[Part]:
    if facts.same_zone:
        return [Part.ASIDE]
    if facts.acts < ENOUGH:
        return [point] if facts.surely_point else [point, Part.AREA, Part.ASIDE]
    if facts.identity or (point is Part.ZONE and not headed):
        return [point]
    return [point, Part.ASIDE]


def _of_people(facts: Facts, name: Part) -> list[Part]:
    if facts.same_person:
        return [Part.ASIDE]
    if facts.alarms < ENOUGH:
        return [name, *([] if facts.no_area else [Part.AREA]), Part.ASIDE]
    return [name] if facts.no_area else [name, Part.AREA]


def _of_both(facts: Facts) -> list[Part]:
    if facts.surely_area:
        return [Part.AREA]
    found = [] if facts.surely_no_area else [Part.AREA]
    if 2 * facts.on_system <= facts.system and not facts.constant:
        found.append(Part.ZONE_OR_PERSON)
    sure = found == [Part.ZONE_OR_PERSON] and facts.identity
    return found if sure else [*found, Part.ASIDE]
