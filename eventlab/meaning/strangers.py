"""Things that a reading is never about: whoever names them beside it says something else."""

from collections.abc import Callable, Collection, Iterable, Mapping

from eventlab.meaning.lexicon import Reading
from eventlab.meaning.marks import Mark
from eventlab.schema import LIFE_SAFETY, Kind

_MEANS = frozenset({"comms", "link", "psu", "supply"})
"""What an event may come by or from: ``on test by ARC``, ``PSU 1 mains fail``."""
_DETECTORS = frozenset({"detector", "sensor", "button", "head", "point", "zone"})
_EQUIPMENT = frozenset({"panel", "system", "loop"})


def never(
    thing: str, kinds: Collection[Kind], rules: Mapping[tuple[str, str, str], Reading]
) -> bool:
    """Tell whether no rule makes any of some kinds of a thing: no heating engineer is a heating.

    Parameters
    ----------
    thing : str
        As the lexicon names it.
    kinds : collection of Kind
        What was read.
    rules : mapping
        (thing, state, at) to a reading.

    Returns
    -------
    bool
        Whether the thing is foreign to all of these kinds.
    """
    if thing in _MEANS:
        return False
    return all(rule.kind not in kinds for key, rule in rules.items() if key[0] == thing)


def foreign(
    told: Iterable[tuple[Mark, Reading, int]],
    things: Iterable[tuple[int, Mark]],
    rules: Mapping[tuple[str, str, str], Reading],
) -> bool:
    """Tell whether a condition is left over that what was read is never about.

    Parameters
    ----------
    told : iterable of (Mark, Reading, int)
        The things that made the reading, what they made, and their places.
    things : iterable of (int, Mark)
        All things that count, with their places.
    rules : mapping
        (thing, state, at) to a reading.

    Returns
    -------
    bool
        Whether something else is spoken of: a life-safety alarm beside an arming, a service beside
        a line.
    """
    told = list(told)
    kinds = {reading.kind for _, reading, _ in told}
    used = {mark.thing for mark, _, _ in told}
    for _, mark in things:
        if mark.thing in used or mark.entry is None:
            continue
        acts = bool(kinds & {Kind.ARM, Kind.DISARM}) and bool(mark.entry.life_safety)
        if acts or (mark.entry.rank == "condition" and never(mark.thing, kinds, rules)):
            return True
    return False


def equipment(thing: Mark) -> bool:
    """Tell whether a thing is what watches over a danger: a fire panel is no fire.

    Parameters
    ----------
    thing : Mark
        What is named, with no word for what it did.

    Returns
    -------
    bool
        Whether its name is that of equipment.
    """
    return thing.entry is not None and thing.entry.pattern[-1] in _EQUIPMENT


def detector(thing: Mark) -> bool:
    """Tell whether a thing is a device at a point: a "smoke detector 8 dirty" is no fire.

    Parameters
    ----------
    thing : Mark
        What is named, with no word for what it did.

    Returns
    -------
    bool
        Whether its name is that of a detector or a button.
    """
    return thing.entry is not None and thing.entry.pattern[-1] in _DETECTORS


Read = tuple[Mark, Reading, int]


def watched(
    told: list[Read],
    things: Iterable[tuple[int, Mark]],
    read: Callable[[list[tuple[int, Mark]]], Iterable[Read]],
) -> list[Read]:
    """Let an alarm of what watches over life stand before one of the plant that it stands at.

    A gas detector at a boiler tells gas; whether a fire pump tells a fire nobody knows.

    Parameters
    ----------
    told : list of (Mark, Reading, int)
        What was read of subjects.
    things : iterable of (int, Mark)
        All things that count, with their places.
    read : callable
        Reads the states with some things only.

    Returns
    -------
    list of (Mark, Reading, int)
        What is told; readings of both kinds where it is not known.
    """
    if all(reading.kind is not Kind.ENVIRONMENT_ALARM for _, reading, _ in told):
        return told
    life = [
        (at, mark)
        for at, mark in things
        if mark.entry is not None
        and mark.entry.rank == "subject"
        and mark.entry.life_safety not in {"", "unknown"}
    ]
    heard = [one for one in read(life) if one[1].kind in LIFE_SAFETY] if life else []
    if heard and any(detector(mark) for _, mark in life):
        told = [one for one in told if one[1].kind is not Kind.ENVIRONMENT_ALARM]
    return [*told, *heard]
