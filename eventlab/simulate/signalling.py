"""How alarms travel to the monitoring centre, and what may be wrong with a path or a clock."""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from eventlab.schema import Kind, Mode, Phase

CONFIRMED_S = 1800
"""Within this time a confirmation speaks for an alarm (common practice)."""

ORDINARY = frozenset({Kind.INTRUSION_ALARM, Kind.ENTRY_EXIT_ALARM})


@dataclass(frozen=True)
class Line:
    """What a panel sends, and how well it gets through.

    Parameters
    ----------
    abort_s : int
        An alarm that is disarmed within this time is not sent [s].
    part_local : bool
        Whether alarms of a part-armed area stay on site.
    confirmed_only : bool
        Whether an alarm is sent only when a second point confirms it.
    late, lost : float
        Share of signals that come minutes to hours late, or never.
    """

    abort_s: int = 0
    part_local: bool = False
    confirmed_only: bool = False
    late: float = 0.0
    lost: float = 0.0


PLAIN = Line()
"""Everything is sent at once and gets through."""


@dataclass(frozen=True)
class Cut:
    """A stretch in which a path did not carry.

    Parameters
    ----------
    since : int
        Seconds since 1970 UTC.
    until : int or None
        None where it never came back.
    path : str or None
        Which; None where alarms are lost on every path and nobody notices.
    keeps : bool
        Whether the panel keeps what it could not send, and sends it when the path is back.
    driver : str
        In a word, what drives it.
    """

    since: int
    until: int | None
    path: str | None = None
    keeps: bool = False
    driver: str = ""

    def holds(self, at: int) -> bool:
        """Say whether it holds at a moment."""
        return self.since <= at and (self.until is None or at < self.until)


@dataclass(frozen=True)
class Wrong:
    """How a panel's clock is wrong from a moment on, until the next such line.

    Parameters
    ----------
    since : int
        Seconds since 1970 UTC.
    offset_s : float
        Told minus true then [s].
    drift : float
        Change of it [s per day].
    anew : bool
        Whether it started again at the first of January 2000.
    """

    since: int
    offset_s: float = 0.0
    drift: float = 0.0
    anew: bool = False

    def at(self, moment: int) -> int:
        """Give told minus true at a moment [s]."""
        return round(self.offset_s + self.drift * (moment - self.since) / 86_400)


class Sending:
    """What becomes of the alarms of one panel before they leave it.

    Parameters
    ----------
    line : Line
        What the panel sends.
    log : iterable of record
        What it logs, by time.
    """

    def __init__(self, line: Line, log: Iterable) -> None:  # type: ignore[type-arg]  # records
        self._line = line
        self._disarms: dict[str | None, list[int]] = defaultdict(list)
        self._confirmed: dict[str | None, list[int]] = defaultdict(list)
        self._modes: dict[str | None, list[tuple[int, Mode | None]]] = defaultdict(list)
        for record in log:
            if record.kind is Kind.DISARM:
                self._disarms[record.area].append(record.at)
            elif record.kind is Kind.CONFIRMED_ALARM:
                self._confirmed[record.area].append(record.at)
            elif record.kind is Kind.ARM:
                self._modes[record.area].append((record.at, record.mode))

    def leaves(self, at: int, kind: Kind, phase: Phase, area: str | None) -> int | None:
        """Say when a signal leaves the panel, None where it never does."""
        if kind not in ORDINARY or phase is Phase.END:
            return at
        line = self._line
        if line.abort_s and _within(self._disarms[area], at, at + line.abort_s) is not None:
            return None
        if line.part_local and self._mode(at, area) is Mode.PART:
            return None
        if not line.confirmed_only:
            return at
        confirmed = _within(self._confirmed[area], at - CONFIRMED_S, at + CONFIRMED_S)
        return None if confirmed is None else max(at, confirmed)

    def _mode(self, at: int, area: str | None) -> Mode | None:
        armed = self._modes[area]
        place = bisect_left(armed, at, key=lambda one: one[0])
        return armed[place - 1][1] if place else None


def _within(times: list[int], low: int, high: int) -> int | None:
    place = bisect_left(times, low)
    return times[place] if place < len(times) and times[place] <= high else None
