"""The panel of a building: what is done to it goes in, what it logs comes out."""

import heapq
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from eventlab.schema import Cause, Kind, Mode, Phase, Use
from eventlab.simulate.model import Building, Point, Push, Record

CONFIRM_S = 1800
"""A second point within this time confirms the first (common practice)."""

_ALWAYS: dict[Use, Kind] = {
    Use.ALL_HOURS: Kind.INTRUSION_ALARM,
    Use.FIRE: Kind.FIRE,
    Use.HOLD_UP: Kind.HOLD_UP,
    Use.MEDICAL: Kind.MEDICAL,
}


@dataclass
class _Area:
    """State of one area."""

    state: str = "unarmed"
    mode: Mode | None = None
    person: str | None = None
    timer: int | None = None
    trips: dict[str, int] = field(default_factory=dict)
    alarms: list[Record] = field(default_factory=list)
    shut_out: list[str] = field(default_factory=list)
    bypassed: list[str] = field(default_factory=list)
    late: list[Record] = field(default_factory=list)
    period: int = 0
    confirmed: bool = False


def run(building: Building, pushes: Iterable[Push]) -> list[Record]:
    """Let a panel live through everything that is done to it.

    Parameters
    ----------
    building : Building
        Its points and its panel.
    pushes : iterable of Push
        In any order.

    Returns
    -------
    list of Record
        What the panel logs, in its order.
    """
    return _Panel(building).run(pushes)


class _Panel:
    def __init__(self, building: Building) -> None:
        self._points = {point.zone: point for point in building.points}
        self._panel = building.panel
        self._areas = {area: _Area() for area in building.areas}
        self._open: dict[str, Push] = {}
        self._raised: dict[str, Kind] = {}
        self._lids: dict[str, Kind] = {}
        self._asleep: dict[str, int] = {}
        self._isolated: set[str] = set()
        self._queue: list[tuple[int, int, Push]] = []
        self._number = 0
        self.log: list[Record] = []

    def run(self, pushes: Iterable[Push]) -> list[Record]:
        for push in sorted(pushes, key=lambda push: push.at):
            self._later(push)
        acts = {
            "open": self._opened,
            "move": self._moved,
            "shut": self._shut,
            "lid": self._lid,
            "lid-shut": self._lid_shut,
            "bypass": self._bypass,
            "isolate": self._isolate,
            "isolate-end": self._isolate_end,
            "arm": self._arm,
            "disarm": self._disarm,
            "wrong": self._said,
            "say": self._said,
            "exit-over": self._exit_over,
            "entry-over": self._entry_over,
        }
        while self._queue:
            _, _, push = heapq.heappop(self._queue)
            acts[push.act](push)
        return self.log

    def _later(self, push: Push) -> None:
        heapq.heappush(self._queue, (push.at, self._number, push))
        self._number += 1

    def _write(self, push: Push, kind: Kind, phase: Phase, **more: str | Mode | None) -> Record:
        record = Record(push.at, kind, phase, cause=push.cause, driver=push.driver)
        record = replace(record, **more)  # type: ignore[arg-type]  # field names are given here
        self.log.append(record)
        return record

    def _of(self, push: Push) -> tuple[Point, _Area]:
        point = self._points[push.zone or ""]
        return point, self._areas[point.area]

    # Points -----------------------------------------------------------------------------

    def _opened(self, push: Push) -> None:
        self._open[push.zone or ""] = push
        self._active(push)

    def _moved(self, push: Push) -> None:
        self._active(push)
        # A detector is quiet again a few seconds after the movement.
        self._later(replace(push, at=push.at + 3 + push.at % 4, act="shut"))

    def _active(self, push: Push) -> None:
        point, area = self._of(push)
        if push.at < self._asleep.get(point.zone, push.at):
            return
        if point.lockout_s:
            self._asleep[point.zone] = push.at + point.lockout_s
        if point.use in _ALWAYS:
            self._alarm(push, point, area, _ALWAYS[point.use])
        elif area.state == "unarmed":
            if self._panel.activations:
                self._write(push, Kind.ACTIVATION, Phase.BEGIN, zone=point.zone, area=point.area)
                self._raised[point.zone] = Kind.ACTIVATION
        elif area.state == "exit" or (area.mode is Mode.PART and not point.part):
            return
        elif point.use is Use.ENTRY:
            if area.timer is None:
                self._start_entry(push, area)
        elif area.timer is None or not point.route:
            self._alarm(push, point, area, Kind.INTRUSION_ALARM)

    def _start_entry(self, push: Push, area: _Area) -> None:
        area.timer = push.at
        self._later(replace(push, at=push.at + self._panel.entry_s, act="entry-over"))

    def _entry_over(self, push: Push) -> None:
        point, area = self._of(push)
        if area.timer is None or area.timer + self._panel.entry_s != push.at:
            return
        area.timer = None
        self._alarm(push, point, area, Kind.ENTRY_EXIT_ALARM)
        if point.zone not in self._open and point.zone in self._raised:
            self._end(replace(push, at=push.at + 1), point)

    def _alarm(self, push: Push, point: Point, area: _Area, kind: Kind) -> None:
        ordinary = point.use not in _ALWAYS
        if ordinary and point.zone in [*area.shut_out, *area.bypassed, *self._isolated]:
            return
        if ordinary and self._panel.latched and point.zone in area.trips:
            return
        record = self._write(push, kind, Phase.BEGIN, zone=point.zone, area=point.area)
        self._raised[point.zone] = kind
        if not ordinary:
            return
        others = [a for a in area.alarms if a.zone != point.zone and push.at - a.at <= CONFIRM_S]
        area.alarms.append(record)
        if self._panel.confirms and others and not area.confirmed:
            area.confirmed = True
            self._write(push, Kind.CONFIRMED_ALARM, Phase.MOMENT, zone=point.zone, area=point.area)
        area.trips[point.zone] = area.trips.get(point.zone, 0) + 1
        if area.trips[point.zone] == self._panel.trip_limit and not self._panel.latched:
            area.shut_out.append(point.zone)
            self._write(push, Kind.SHUTDOWN, Phase.BEGIN, zone=point.zone, area=point.area)

    def _shut(self, push: Push) -> None:
        self._open.pop(push.zone or "", None)
        point, _ = self._of(push)
        if point.zone in self._raised:
            self._end(push, point)

    def _end(self, push: Push, point: Point) -> None:
        kind = self._raised.pop(point.zone)
        told = Record(push.at, kind, Phase.END, point.zone, point.area)
        told = replace(told, cause=push.cause, driver=push.driver)
        live = self._panel.restores == "live" and not self._panel.latched
        # Whatever is still open at the disarm ends when it shuts.
        live = live or self._areas[point.area].state == "unarmed"
        if kind is Kind.ACTIVATION or point.use in _ALWAYS or live:
            self.log.append(told)
        else:
            self._areas[point.area].late.append(told)

    def _bypass(self, push: Push) -> None:
        point, area = self._of(push)
        area.bypassed.append(point.zone)
        self._write(push, Kind.BYPASS, Phase.BEGIN, zone=point.zone, area=point.area,
                    person=push.person)  # fmt: skip

    def _isolate(self, push: Push) -> None:
        """Leave a point out until somebody puts it back, whatever is disarmed meanwhile."""
        point, _ = self._of(push)
        self._isolated.add(point.zone)
        self._write(push, Kind.BYPASS, Phase.BEGIN, zone=point.zone, area=point.area,
                    person=push.person)  # fmt: skip

    def _isolate_end(self, push: Push) -> None:
        point, _ = self._of(push)
        self._isolated.discard(point.zone)
        self._write(push, Kind.BYPASS, Phase.END, zone=point.zone, area=point.area)

    def _lid(self, push: Push) -> None:
        point, area = self._of(push)
        kind = Kind.TAMPER if area.state == "unarmed" else Kind.TAMPER_ALARM
        self._lids[point.zone] = kind
        record = self._write(push, kind, Phase.BEGIN, zone=point.zone, area=point.area)
        if kind is Kind.TAMPER_ALARM:
            area.alarms.append(record)

    def _lid_shut(self, push: Push) -> None:
        point, _ = self._of(push)
        kind = self._lids.pop(point.zone, Kind.TAMPER)
        self._write(push, kind, Phase.END, zone=point.zone, area=point.area)

    # People -----------------------------------------------------------------------------

    def _names(self, push: Push) -> list[str]:
        return [push.area] if push.area else list(self._areas)

    def _arm(self, push: Push) -> None:
        for name in self._names(push):
            area = self._areas[name]
            if area.state != "unarmed":
                continue
            unready = [
                zone
                for zone in self._open
                if self._points[zone].area == name
                and self._points[zone].use is Use.PERIMETER
                and zone not in self._isolated
            ]
            if unready and push.mode is Mode.FORCED:
                for zone in unready:
                    area.bypassed.append(zone)
                    self._write(push, Kind.BYPASS, Phase.BEGIN, zone=zone, area=name)
            elif unready:
                self._write(
                    push, Kind.ARM_FAILED, Phase.MOMENT, zone=unready[0], area=name,
                    person=push.person,
                )  # fmt: skip
                continue
            period = area.period + 1
            self._areas[name] = _Area(
                "exit", push.mode, push.person, period=period, bypassed=area.bypassed
            )
            if self._panel.arm_at == "start":
                self._write(
                    push, Kind.ARM, Phase.MOMENT, area=name, person=push.person, mode=push.mode
                )
            over = replace(push, at=push.at + self._panel.exit_s, act="exit-over", area=name)
            self._later(replace(over, driver=str(period)))

    def _exit_over(self, push: Push) -> None:
        name = push.area or ""
        area = self._areas[name]
        if area.state != "exit" or str(area.period) != push.driver:
            return
        area.state = "armed"
        plain = replace(push, driver="", cause=None)
        if self._panel.arm_at == "end":
            self._write(
                plain, Kind.ARM, Phase.MOMENT, area=name, person=area.person, mode=area.mode
            )
        for zone, opened in self._open.items():
            point = self._points[zone]
            if point.area == name and point.use is Use.ENTRY:
                left = replace(opened, at=push.at, cause=Cause.PERSON_LEAVING)
                self._write(
                    left, Kind.EXIT_ERROR, Phase.MOMENT, zone=zone, area=name, person=area.person
                )
                self._start_entry(left, area)

    def _disarm(self, push: Push) -> None:
        for name in self._names(push):
            area = self._areas[name]
            if area.state == "unarmed":
                continue
            period = area.period
            self._areas[name] = _Area(person=push.person, period=period)
            self._write(push, Kind.DISARM, Phase.MOMENT, area=name, person=push.person)
            if self._panel.lifts:
                for zone in area.bypassed:
                    self._write(push, Kind.BYPASS, Phase.END, zone=zone, area=name)
            if area.alarms:
                self._after_alarm(push, name, area)

    def _after_alarm(self, push: Push, name: str, area: _Area) -> None:
        if push.at - area.alarms[-1].at <= 900:
            self._write(push, Kind.CANCEL, Phase.MOMENT, area=name, person=push.person)
        for late in area.late:
            self.log.append(replace(late, at=push.at + 1))
        if self._panel.memory:
            for number, alarm in enumerate(area.alarms):
                self.log.append(replace(alarm, at=push.at + 2 + number // 2, note="memory"))
        for zone in area.shut_out:
            self._write(
                replace(push, at=push.at + 1), Kind.SHUTDOWN, Phase.END, zone=zone, area=name
            )
        if self._panel.resets:
            reset = replace(push, at=push.at + 6 + push.at % 9, act="say", kind=Kind.RESET)
            self._later(replace(reset, phase=Phase.MOMENT, area=name))

    def _said(self, push: Push) -> None:
        kind = push.kind or Kind.WRONG_CODE
        self._write(
            push, kind, push.phase or Phase.MOMENT, zone=push.zone, area=push.area,
            person=push.person, mode=push.mode,
        )  # fmt: skip
