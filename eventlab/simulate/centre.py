"""The monitoring centre: what reaches it, by which path, and what its people write."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from eventlab.schema import Kind, Phase, Witness
from eventlab.simulate.model import Building, Record, World
from eventlab.simulate.signalling import Cut, Line, Sending

MAINS_HOLD_S = 900
"""A loss of mains is sent only when it has lasted this long (common practice)."""

_KEPT_AT_SITE = frozenset(
    {
        Kind.ACTIVATION,
        Kind.WALK_TEST,
        Kind.WRONG_CODE,
        Kind.CLOCK_SET,
        Kind.ON_SITE_WORK,
        Kind.RESET,
        Kind.ARM_FAILED,
        Kind.ON_TEST,
    }
)
_URGENT = frozenset(
    {
        Kind.INTRUSION_ALARM,
        Kind.ENTRY_EXIT_ALARM,
        Kind.TAMPER_ALARM,
        Kind.CONFIRMED_ALARM,
        Kind.HOLD_UP,
        Kind.FIRE,
    }
)


def history(world: World, building: Building, log: Iterable[Record]) -> list[Record]:
    """Return what the centre writes about one account.

    Parameters
    ----------
    world : World
        Draws, and when the account was on test.
    building : Building
        Whose account it is.
    log : iterable of Record
        What the panel logged.

    Returns
    -------
    list of Record
        By time of receipt; alarms come over two paths, operators' lines between them.
    """
    records = list(log)
    heard = list(_signals(world, building, records))
    for since, until in world.on_test:
        heard.append(_own(since - 120, Kind.ON_TEST, Phase.BEGIN))
        if until is not None:
            heard.append(_own(until, Kind.ON_TEST, Phase.END))
    for cut in world.cuts:
        heard += _noticed(cut)
    heard += _operators(world, building, heard)
    return sorted(heard, key=lambda record: record.at)


def _noticed(cut: Cut) -> Iterator[Record]:
    """Let the centre notice within two minutes that a path is gone, and at once that it is back."""
    if cut.path is None:
        return
    lost = _own(cut.since + 120, Kind.COMMS_FAIL, Phase.BEGIN)
    yield replace(lost, path=cut.path, driver=cut.driver)
    if cut.until is not None:
        yield replace(lost, at=cut.until, phase=Phase.END)


def _own(at: int, kind: Kind, phase: Phase, note: str = "") -> Record:
    return Record(at, kind, phase, witness=Witness.RECEIVER, note=note)


def _signals(world: World, building: Building, records: list[Record]) -> Iterator[Record]:
    lost = 0
    silent = False
    sending = Sending(building.line, records)
    kept: dict[int, int] = {}
    for record in records:
        if record.kind in _KEPT_AT_SITE or record.note:
            continue
        sent = record.at
        if record.kind is Kind.MAINS_LOSS:
            if record.phase is Phase.BEGIN:
                lost = record.at
                ends = [r.at for r in records if r.kind is Kind.MAINS_LOSS and r.at > lost]
                silent = bool(ends) and ends[0] - lost < MAINS_HOLD_S
                sent += MAINS_HOLD_S
            if silent:
                continue
        leaves = sending.leaves(sent, record.kind, record.phase, record.area)
        if leaves is None:
            continue
        draw = world.draw("path", record.at, record.kind, record.zone or "")
        heard = replace(record, at=leaves + draw.whole(2, 6), witness=Witness.RECEIVER, path="IP")
        urgent = record.kind in _URGENT and record.phase is not Phase.END
        both = [heard]
        if urgent:
            both.append(replace(heard, at=leaves + draw.whole(9, 40), path="Radio"))
        yield from _carried(world, building.line, record, both, kept)


def _carried(
    world: World, line: Line, record: Record, both: list[Record], kept: dict[int, int]
) -> Iterator[Record]:
    """Lose and delay signals; what a panel keeps goes out in a burst when its path is back."""
    if line.lost or line.late:
        draw = world.draw("line", record.at, record.kind, record.zone or "")
        if draw.chance(line.lost):
            return
        if draw.chance(line.late):
            wait = draw.whole(200, 3 * 3600)
            both = [replace(one, at=one.at + wait) for one in both]
    for one in both:
        cut = next(
            (
                cut
                for cut in world.cuts
                if cut.holds(one.at)
                and (cut.path == one.path or (cut.path is None and one.kind in _URGENT))
            ),
            None,
        )
        if cut is None:
            yield one
        elif cut.keeps and cut.until is not None:
            kept[cut.since] = kept.get(cut.since, 0) + 1
            yield replace(one, at=cut.until + 3 + kept[cut.since])


def _operators(world: World, building: Building, heard: list[Record]) -> Iterator[Record]:
    """Let an operator act once on every run of alarms, unless the account is on test."""
    alarms = [r for r in heard if r.kind in _URGENT and r.phase is not Phase.END]
    quiet_until = 0
    for alarm in sorted(alarms, key=lambda record: record.at):
        if alarm.at < quiet_until:
            continue
        quiet_until = alarm.at + 1800
        draw = world.draw("operator", alarm.at)
        tested = any(s <= alarm.at and (u is None or alarm.at < u) for s, u in world.on_test)
        if tested:
            note = "Signal filed without action, account on test"
            yield _own(alarm.at + draw.whole(1, 4), Kind.HANDLING, Phase.MOMENT, note)
            continue
        at = alarm.at + draw.whole(50, 140)
        name = building.person(building.keyholder).name
        yield _own(at, Kind.HANDLING, Phase.MOMENT, f"Called keyholder {name}, no answer")
        after = [r for r in heard if r.kind is Kind.CONFIRMED_ALARM and 0 <= r.at - alarm.at < 900]
        if after:
            note = "Passed to response authority"
            yield _own(after[0].at + draw.whole(60, 120), Kind.HANDLING, Phase.MOMENT, note)
        at += draw.whole(180, 400)
        yield _own(at, Kind.HANDLING, Phase.MOMENT, f"Called keyholder {name}, will attend")
