"""What a simulated building is made of, what is done to its panel, and what the panel logs."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from eventlab.schema import Cause, Kind, Mode, Phase, Use, Witness
from eventlab.simulate.calendars import Calendar
from eventlab.simulate.clock import END, utc
from eventlab.simulate.draw import Draw
from eventlab.simulate.signalling import PLAIN, Cut, Line, Wrong
from eventlab.simulate.weather import Weather

if TYPE_CHECKING:
    from eventlab.simulate.lists import Amiss


@dataclass(frozen=True)
class Point:
    """One detector or contact.

    Parameters
    ----------
    zone : str
        Number in canonical form.
    name : str
        As the zone schedule has it.
    detector : str
        Technology.
    use : Use
        What it is for.
    area : str
        The area it belongs to.
    route : bool
        Whether it stands on the way to the keypad.
    facing : float or None
        Where it looks [deg].
    link : str
        ``wired`` or ``radio``.
    part : bool
        Whether a part-set arms it too.
    lockout_s : int
        How long it sleeps after a trip, to spare its battery [s].
    """

    zone: str
    name: str
    detector: str
    use: Use
    area: str = "1"
    route: bool = False
    facing: float | None = None
    link: str = "wired"
    part: bool = False
    lockout_s: int = 0


@dataclass(frozen=True)
class Person:
    """Somebody with a code.

    Parameters
    ----------
    number, name : str
        As the panel knows them.
    walk_s : float
        Usual time from the door to the keypad [s].
    hurried : float
        Share of entries that take longer than the entry time.
    dawdles : float
        Share of closings in which the door is still open when the exit time ends.
    lingers : float
        Share of closings that come one to three hours late.
    opens, closes : float
        Weight in the rota.
    """

    number: str
    name: str
    walk_s: float = 14.0
    hurried: float = 0.0
    dawdles: float = 0.0
    lingers: float = 0.0
    opens: float = 1.0
    closes: float = 1.0


@dataclass(frozen=True)
class Panel:
    """How a panel behaves and what it logs.

    Parameters
    ----------
    entry_s, exit_s : int
        Delays [s].
    trip_limit : int
        Alarms of one point in one armed period before it is shut out.
    latched : bool
        Whether a point that alarmed stays in alarm until the disarm, and so alarms but once.
    lifts : bool
        Whether it tells that a bypass, which lasts to the disarm, was lifted.
    activations : bool
        Whether it logs movement and doors while unarmed.
    restores : str
        ``live`` or ``at-disarm``.
    arm_at : str
        Whether ``armed`` is logged at the ``start`` or the ``end`` of the exit time.
    memory : bool
        Whether it writes the alarms again at the disarm.
    confirms : bool
        Whether it logs a confirmed alarm when a second point follows.
    resets : bool
        Whether it logs the reset after an alarm.
    report_s : int or None
        Wall time of the test report [s since midnight].
    report_every_s : int
        Time from one report to the next [s].
    """

    entry_s: int = 30
    exit_s: int = 45
    trip_limit: int = 3
    latched: bool = False
    lifts: bool = True
    activations: bool = False
    restores: str = "live"
    arm_at: str = "start"
    memory: bool = False
    confirms: bool = False
    resets: bool = False
    report_s: int | None = None
    report_every_s: int = 86_400


@dataclass(frozen=True)
class Push:
    """Something done to a panel: by a person, the weather, a fault.

    Parameters
    ----------
    at : int
        Seconds since 1970 UTC.
    act : str
        ``open``, ``shut``, ``move``, ``lid``, ``lid-shut``, ``bypass`` (to the next
        disarm), ``isolate``, ``isolate-end``, ``arm``,
        ``disarm``, ``wrong``,
        ``say`` (the panel tells ``kind`` and ``phase`` as they are).
    zone, person, area : str or None
        Where and who.
    mode : Mode or None
        Of arming.
    kind, phase : Kind, Phase or None
        What is said.
    cause : Cause or None
        What it truly comes from.
    driver : str
        In a word, what drives it.
    """

    at: int
    act: str
    zone: str | None = None
    person: str | None = None
    area: str | None = None
    mode: Mode | None = None
    kind: Kind | None = None
    phase: Phase | None = None
    cause: Cause | None = None
    driver: str = ""


@dataclass(frozen=True)
class Record:
    """One thing that a log tells, before any wording."""

    at: int
    kind: Kind
    phase: Phase
    zone: str | None = None
    area: str | None = None
    person: str | None = None
    mode: Mode | None = None
    witness: Witness = Witness.PANEL
    path: str | None = None
    note: str = ""
    cause: Cause | None = None
    driver: str = ""


@dataclass(frozen=True)
class Told:
    """One line of a building's story: what an analysis should find, or that nothing is."""

    pattern: str
    subject_kind: str
    subject: str
    since: int
    until: int
    standing: bool = False


@dataclass(frozen=True)
class Visit:
    """A service visit as the visits file has it."""

    at: int
    zones: tuple[str, ...]
    work: str
    technician: str


@dataclass
class World:
    """What the happenings of one building can draw upon.

    Parameters
    ----------
    seed : int
        Of the simulation.
    days : list of datetime.date
        The days that are told, and a few before in which the building is set going.
    start : int
        When the logs begin, seconds since 1970 UTC.
    weather : Weather
        Of the valley.
    site : str
        Whose world it is.
    told, visits, on_test
        What its story put in: the truth, visits, times on test with the centre.
    dead : list of tuple of int
        From when to when the panel had no power at all and told nothing.
    deaf : list of (str, int, int)
        Which point was not heard, from when to when: it told nothing but that.
    amiss : Amiss or None
        How the zone schedule differs from what is there.
    cuts : list of Cut
        When which path to the centre did not carry.
    clock : list of Wrong
        How the panel's clock is wrong, by time; right where nothing is said.
    calendar : Calendar
        On which days the people of the building keep other hours than its own.
    """

    seed: int
    days: list[date]
    start: int
    weather: Weather
    site: str = ""
    told: list[Told] = field(default_factory=list)
    visits: list[Visit] = field(default_factory=list)
    on_test: list[tuple[int, int | None]] = field(default_factory=list)
    dead: list[tuple[int, int]] = field(default_factory=list)
    deaf: list[tuple[str, int, int]] = field(default_factory=list)
    amiss: "Amiss | None" = None
    cuts: list[Cut] = field(default_factory=list)
    clock: list[Wrong] = field(default_factory=list)
    calendar: Calendar = field(default_factory=Calendar)
    _draws: dict[str, Draw] = field(default_factory=dict)

    def silent(self, record: Record) -> bool:
        """Say whether a record never came to be told: a dead panel, a device not heard."""
        return any(since <= record.at < until for since, until in self.dead) or any(
            record.zone == zone and since < record.at < until
            for zone, since, until in self.deaf
            if record.kind is not Kind.SUPERVISION_LOSS
        )

    def tell(
        self,
        pattern: str,
        subject: str,
        since: int,
        until: int | None = None,
        *,
        kind: str = "zone",
    ) -> None:
        """Write one line of the truth; without an end it still stands when the log is taken."""
        end = self.end if until is None else until
        if end > self.start:
            self.told.append(
                Told(pattern, kind, subject, max(since, self.start), end, until is None)
            )

    @property
    def end(self) -> int:
        """When the logs are taken."""
        return utc(END, 60)

    def draw(self, *names: str | int) -> Draw:
        """Return the stream of this building for a purpose."""
        key = "/".join(str(name) for name in names)
        if key not in self._draws:
            self._draws[key] = Draw(self.seed, self.site, *names)
        return self._draws[key]


Story = Callable[[World, "Building"], Iterable[Push]]


@dataclass(frozen=True)
class Building:
    """A building with its panel, its people and what happens to it.

    Parameters
    ----------
    site, name, trade, grade : str
        As the site list has them.
    place : tuple of float
        Latitude and longitude [deg].
    hours : tuple
        Opening and closing [h] by weekday from Monday, None where closed.
    points, people : tuple
        What and who.
    story : callable
        What happens beside the daily routine.
    panel : Panel
        What the panel does.
    keyholder : str
        Who comes out at night.
    late : tuple of str
        Days on which it closes two hours late.
    next_service : str
        Date of the next service.
    told_days : int
        The most days that its log holds; 0 where it holds all.
    line : Line
        What reaches the monitoring centre.
    part_share : float
        Share of closings that arm in part only, since somebody stays.
    """

    site: str
    name: str
    trade: str
    place: tuple[float, float]
    hours: tuple[tuple[float, float] | None, ...]
    points: tuple[Point, ...]
    people: tuple[Person, ...]
    story: Story
    panel: Panel = Panel()
    keyholder: str = "1"
    late: tuple[str, ...] = ()
    grade: str = "2"
    next_service: str = ""
    told_days: int = 0
    line: Line = PLAIN
    part_share: float = 0.0

    @property
    def areas(self) -> tuple[str, ...]:
        """The areas in their order."""
        return tuple(dict.fromkeys(point.area for point in self.points))

    def point(self, zone: str) -> Point:
        """Return a point by its number."""
        return next(point for point in self.points if point.zone == zone)

    def person(self, number: str) -> Person:
        """Return a person by number."""
        return next(person for person in self.people if person.number == number)

    def door(self) -> Point:
        """Return the door that people use."""
        return next(point for point in self.points if point.use is Use.ENTRY)
