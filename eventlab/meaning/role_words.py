"""Which columns of a log say what happened, and which says whether it begins or ends."""

from collections.abc import Sequence

import polars as pl

from eventlab.meaning.fit import changed, joined, named, understood
from eventlab.meaning.part import Part
from eventlab.meaning.shapes import are_paths
from eventlab.meaning.switches import switch_of


def settle_telling(
    parts: dict[str, Part], filled: Sequence[str], sample: pl.DataFrame, *, headed: bool
) -> None:
    """Find the columns whose words say what happened, and the one of states beside them.

    Parameters
    ----------
    parts : dict of str to Part
        What is known of columns; added to.
    filled : sequence of str
        Columns that hold anything, in file order.
    sample : polars.DataFrame
        Some of the rows.
    headed : bool
        Whether the table has headings.
    """
    switches = _switches(parts, filled, sample)
    held = {name: parts.pop(name, None) for name in switches}
    rest = [name for name in filled if name not in held]
    settle_words(parts, rest, sample, headed=headed)
    if any(part in {Part.WORDS, Part.CODE} for part in parts.values()):
        for name in _states(switches, held):
            parts[name] = Part.STATE
        for name in switches:
            parts.setdefault(name, Part.ASIDE)
        return
    # Nothing else tells: the states are what is told, of things that other columns name.
    for name, part in held.items():
        if part is not None:
            parts[name] = Part.WORDS
    settle_words(parts, filled, sample, headed=headed)
    told = [name for name, part in parts.items() if part is Part.WORDS]
    state = [name for name in told if name in switches]
    if len(told) > 1 and state:
        parts[state[0]] = Part.STATE


def _switches(
    parts: dict[str, Part], filled: Sequence[str], sample: pl.DataFrame
) -> dict[str, bool]:
    """Give the columns whose cells are states, and whether these do not say what they mean."""
    found = {}
    for name in filled:
        if parts.get(name) in {None, Part.WORDS, Part.STATE}:
            switch = switch_of(sample[name])
            if switch is not None:
                found[name] = switch.bare
            elif parts.get(name) is Part.STATE:
                # The heading says that it tells an end; its cells tell nothing of the kind.
                parts[name] = Part.WORDS
    return found


def _states(switches: dict[str, bool], held: dict[str, Part | None]) -> list[str]:
    """Choose the columns of states: words before bare signs, under a heading before without."""
    worded = [name for name, bare in switches.items() if not bare]
    some = worded or list(switches)
    headed = [name for name in some if held[name] is not None]
    return headed or some


def settle_words(
    parts: dict[str, Part], filled: Sequence[str], sample: pl.DataFrame, *, headed: bool
) -> None:
    """Find the columns whose words say what happened.

    Parameters
    ----------
    parts : dict of str to Part
        What is known of columns; added to.
    filled : sequence of str
        Columns that may be words.
    sample : polars.DataFrame
        Some of the rows.
    headed : bool
        Whether the table has headings.
    """
    for name in filled:
        if name not in parts and not headed:
            _settle_bare(parts, name, sample[name].drop_nulls())
    words = [name for name in filled if parts.get(name) is Part.WORDS]
    if len(words) > 1:
        _settle_several(parts, words, sample)
    elif words:
        _settle_partner(parts, words[0], filled, sample)
    if any(part is Part.WORDS or part is Part.CODE for part in parts.values()):
        return
    # No heading that we know: the column whose wordings are best understood tells.
    best = max(
        ((understood(sample[name].drop_nulls()), name) for name in filled if name not in parts),
        default=(0.0, ""),
    )
    if best[0] >= 0.3:
        parts[best[1]] = Part.WORDS
        _settle_partner(parts, best[1], filled, sample)


def _settle_several(parts: dict[str, Part], words: list[str], sample: pl.DataFrame) -> None:
    """Keep the columns that together say what happened; another one may name the point."""
    alone = {name: understood(sample[name].drop_nulls()) for name in words}
    kept = [name for name in words if alone[name] >= 0.2]
    reached = understood(joined(sample, kept).drop_nulls()) if kept else 0.0
    for name in words:
        if name not in kept:
            more = [other for other in words if other in kept or other == name]
            share = understood(joined(sample, more).drop_nulls())
            more_named = named(joined(sample, more)) > named(joined(sample, kept)) + 0.2
            if (
                share > reached + 0.1
                or (share >= reached and changed(sample, kept, more) > 0.1)
                or (share >= reached - 0.05 and more_named)
            ):
                kept, reached = more, share
    for name in words:
        if kept and name not in kept:
            taken = Part.ZONE_NAME in parts.values()
            parts[name] = Part.HANDLING if taken else Part.ZONE_NAME


def _settle_partner(
    parts: dict[str, Part], states: str, filled: Sequence[str], sample: pl.DataFrame
) -> None:
    """Find the column that names the things whose states another one tells.

    ``Failed`` alone is a fault of the system, beside ``Mains supply`` it is another thing.
    """
    cells = sample[states].drop_nulls().unique()
    if cells.len() == 0 or not cells.str.contains(_STATE).all():
        return
    reached = understood(cells)
    for name in filled:
        if parts.get(name) in {None, Part.SERIAL, Part.ZONE, Part.ZONE_NAME}:
            things = sample[name].drop_nulls()
            if parts.get(name) is Part.ZONE and things.str.contains(r"^\s*\d").any():
                continue  # numbered points, not things of the system
            worded = things.str.contains(r"\p{L}{2}").mean()
            both = [other for other in sample.columns if other in {states, name}]
            if (
                isinstance(worded, float)
                and worded > 0.5
                and understood(joined(sample, both).drop_nulls()) >= reached
                and changed(sample, [states], both) > 0.1
            ):
                parts[name] = Part.WORDS
                return


_STATE = (
    r"(?i)^\s*(?:in |to |is |not )?(?:alarms?|restor\w+|resets?|fail\w*|fault\w*|troubles?|lost|"
    r"loss|low|high|ok|okay|good|bad|normal|abnormal|open(?:ed)?|closed?|arm(?:ed)?|disarm(?:ed)?|set|unset|"
    r"tamper\w*|on|off|begin|began|start(?:ed)?|ends?|ended|stop(?:ped)?|cleared|active|inactive|"
    r"activated|deactivated|present|absent|missing|bypass\w*|unbypass\w*|isolated|up|down|dead)\s*$"
)


def _settle_bare(parts: dict[str, Part], name: str, cells: pl.Series) -> None:
    """Give a column without heading the part that its cells allow."""
    if are_paths(cells):
        parts[name] = Part.PATH
    elif understood(cells) >= 0.5:
        parts[name] = Part.WORDS
