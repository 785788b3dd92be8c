"""What the words that count make together: things and states to one kind and phase.

A condition (tamper, mains, battery) decides before a subject (fire, intruder), a subject before
what carries it (a zone, a keypad). ``alarm`` is the weakest state: ``mains fail alarm`` is a mains
loss. A state that ends (``restored``, ``cleared``) turns the begin of another into its end. Where
two readings are left, nothing is decided.
"""

from collections.abc import Iterator
from functools import partial

from eventlab.meaning.carried import MORE_SAID, NOTHING, Carried, Resolved, torn
from eventlab.meaning.lexicon import Lexicon, Reading, Sort
from eventlab.meaning.marks import Mark
from eventlab.meaning.strangers import detector, equipment, foreign, never, watched
from eventlab.schema import LIFE_SAFETY, MOMENTS, Kind, Mode, Phase

_ENDING = frozenset({"restore", "normal", "ok"})
_ENDING_BEHIND = frozenset({"end", "remove", "close", "off"})
_POINT_STATES = frozenset(
    {"alarm", "restore", "normal", "ok", "open", "close", "active", "cancel", "confirm", "silence"}
)
_UP = frozenset({"open", "active", "on", "start"})
_STRONG = frozenset(
    {
        *("fail", "lost", "down", "low", "cancel", "confirm", "memory", "silence", "disable"),
        *("enable", "remove", "obstruct"),
    }
)
_OF_DEVICES = frozenset(
    {"battery", "tamper", "lid", "mask", "bypass", "unbypass", "supervision", "swinger"}
)
_OF_ONE_POINT = frozenset({Kind.SENSOR_FAULT, Kind.SUPERVISION_LOSS, Kind.MASKING})
_TESTS = frozenset({Kind.TEST_REPORT, Kind.MANUAL_TEST})
_TESTED = _TESTS | {Kind.WALK_TEST}
_ANSWERS = frozenset({Kind.CANCEL, Kind.RESET, Kind.WALK_TEST})
_QUIET = frozenset(
    {Kind.ARM, Kind.DISARM, Kind.ACCESS, Kind.CLOCK_SET, Kind.ON_SITE_WORK, Kind.RESET}
)
_EXPLICIT = frozenset(
    {"intruder", "entry", "forced", "glass", "unauthorised", "unauthorized", "closing"}
)
_MODES = (
    Mode.FORCED,
    Mode.PART,
    Mode.KEY,
    Mode.REMOTE,
    Mode.TIMED,
    Mode.QUICK,
    Mode.FULL,
)


def resolve(stretches: list[list[Mark]], carried: Carried, lexicon: Lexicon) -> Resolved:
    """Make one reading of the marks that count.

    Parameters
    ----------
    stretches : list of list of Mark
        Stretches of words that are all known, in order.
    carried : Carried
        What carries the thing spoken of.
    lexicon : Lexicon
        The rules.

    Returns
    -------
    Resolved
        One reading, or why there is none.
    """
    return _Resolver(stretches, carried, lexicon).run()


class _Resolver:
    """The marks sorted, and the steps from them to a reading."""

    def __init__(self, stretches: list[list[Mark]], carried: Carried, lexicon: Lexicon) -> None:
        self.rules = lexicon.rules
        self.carried = carried
        self.phrases: list[tuple[int, Mark]] = []
        self.things: list[tuple[int, Mark]] = []
        self.states: list[tuple[int, Mark]] = []
        self.modes: list[str] = []
        self.hedges: list[bool] = []
        place = 0
        for stretch in stretches:
            for mark in stretch:
                place += 1
                if mark.is_a(Sort.PHRASE):
                    self.phrases.append((place, mark))
                elif mark.is_a(Sort.STATE):
                    self.states.append((place, mark))
                elif mark.is_a(Sort.MODE) and mark.entry is not None:
                    self.modes.append(mark.entry.value)
                elif mark.is_a(Sort.HEDGE, Sort.SOFT):
                    # "Tested" says nothing new of a test.
                    self.hedges.append(mark.entry is not None and mark.entry.pattern == ("test",))
                elif mark.thing and not mark.carrier:
                    self.things.append((place, mark))
            place += 10  # words of one stretch belong together
        if any(mark.thing in {"comms", "link"} for _, mark in self.things):
            # "GSM: signal lost" is told of the path, not of a detector.
            self.things = [(at, mark) for at, mark in self.things if mark.thing != "signal"]

    def run(self) -> Resolved:
        found = self._phrased() if self.phrases else self._composed()
        if found.reading is None:
            return found
        if found.reading.problem:
            return Resolved(problem=found.reading.problem)
        reading = found.reading
        if any(not (tested and reading.kind in _TESTED) for tested in self.hedges):
            return Resolved(problem=MORE_SAID)
        if reading.kind in {Kind.ARM, Kind.DISARM} and reading.mode is None:
            said = [mode for mode in _MODES if mode.value in self.modes]
            told = said if reading.kind is Kind.ARM else [m for m in said if m in _MODES[2:6]]
            reading = Reading(reading.kind, reading.phase, told[0] if told else None)
        return Resolved(reading, "", found.explicit, found.thing, found.weak)

    # --- fixed wordings -------------------------------------------------------------------------

    def _phrased(self) -> Resolved:
        readings: dict[tuple[Kind, Phase], Reading] = {}
        for place, mark in self.phrases:
            if mark.entry is None or mark.entry.reading is None:
                continue
            reading = mark.entry.reading
            if reading.problem:
                return Resolved(problem=reading.problem)
            if reading.phase is Phase.BEGIN and self._ended(place):
                reading = Reading(reading.kind, Phase.END)
            held = readings.get((reading.kind, reading.phase))
            if held is None or held.mode is None:
                readings[reading.kind, reading.phase] = reading
        rest = self._composed(within_phrase=True)
        main = next(iter(readings.values()))
        if rest.unsaid:
            return rest
        beside = any(never(mark.thing, {main.kind}, self.rules) for _, mark in self.things)
        if rest.reading is None and beside and not self._names_the_alarm(main):
            return Resolved(problem=MORE_SAID)
        again = main.kind is Kind.CONFIRMED_ALARM or self._words() & {"memory"}
        if again and rest.reading is not None and rest.reading.kind in LIFE_SAFETY:
            return rest
        if len(readings) == 1 and rest.reading is not None and not self._agrees(main, rest):
            turned = self._turned(main)
            if turned is not None:
                return Resolved(turned)
            readings[rest.reading.kind, rest.reading.phase] = rest.reading
        if len(readings) > 1:
            return torn(readings.values())
        first = self.phrases[0][1].entry
        explicit = first is not None and bool(_EXPLICIT & set(first.pattern))
        return Resolved(main, explicit=explicit, thing="phrase")

    def _agrees(self, main: Reading, rest: Resolved) -> bool:
        """Tell whether what else is said adds nothing to a fixed wording."""
        if rest.reading is None or rest.weak or rest.reading.kind is main.kind:
            return True
        if (
            main.kind in _OF_ONE_POINT
            and not self.states
            and all(detector(m) for _, m in self.things)
        ):
            return True
        if self._names_the_alarm(main) or rest.thing == "motion":
            return True
        if rest.thing not in {"", "zone", "system", "area", "user", "site", "module"}:
            return False
        said = {mark.entry.value for _, mark in self.states if mark.entry is not None}
        plain = said <= {"alarm", *_UP, *_ENDING, *_ENDING_BEHIND}
        if main.kind in _QUIET:
            return plain and "alarm" not in said
        failing = said <= {"alarm", "fail", *_UP, *_ENDING, *_ENDING_BEHIND}
        return plain or (failing and main.kind not in _TESTS | {Kind.LOG_STATE})

    def _names_the_alarm(self, main: Reading) -> bool:
        """Tell whether a subject only says which alarm was cancelled, reset, silenced, tested."""
        words = {
            word
            for _, mark in self.phrases
            if mark.entry is not None
            for word in mark.entry.pattern
        }
        answered = main.kind in _ANSWERS | _TESTS or bool(words & {"silence", "acknowledge"})
        return (
            answered
            and bool(self.things)
            and all(abs(place - at) < 10 for place, _ in self.phrases for at, _ in self.things)
        )

    def _words(self) -> set[str]:
        """Return the words of all fixed wordings found."""
        return {w for _, mark in self.phrases if mark.entry is not None for w in mark.entry.pattern}

    def _turned(self, main: Reading) -> Reading | None:
        """Read a test or an arming that failed as what it is."""
        bad = any(mark.entry is not None and mark.entry.group == "bad" for _, mark in self.states)
        if bad and not self.things and main.kind in _TESTS:
            return Reading(Kind.COMMS_FAIL, Phase.BEGIN)
        if bad and not self.things and main.kind is Kind.ARM:
            return Reading(Kind.ARM_FAILED, Phase.MOMENT)
        return None

    # --- things and states ----------------------------------------------------------------------

    def _composed(self, *, within_phrase: bool = False) -> Resolved:
        states = self._telling_states()
        conditions = [(p, m) for p, m in self.things if m.entry and m.entry.rank == "condition"]
        subjects = [(p, m) for p, m in self.things if m.entry and m.entry.rank == "subject"]
        told = list(self._pairs(states, [*conditions, *subjects]))
        by_condition = [x for x in told if x[0].entry and x[0].entry.rank == "condition"]
        by_subject = [x for x in told if x[0].entry and x[0].entry.rank == "subject"]
        by_subject = watched(by_subject, self.things, partial(self._pairs, states))
        if not by_condition and not self._bare_blocked(by_subject):
            by_condition = list(self._bare(conditions, states))
        if by_condition:
            return self._decide(by_condition, self._split(by_subject, by_condition))
        if by_subject:
            # Movement is what an intruder alarm comes from.
            others = [x for x in by_subject if x[0].thing != "motion"]
            return self._decide(others or by_subject, [])
        bare = list(self._bare(subjects, states))
        if bare:
            return self._decide(bare, [])
        if self.things and not within_phrase and not self.carried.pointed:
            return NOTHING
        return self._plain(states)

    def _telling_states(self) -> list[tuple[int, Mark]]:
        """Leave out the states that say nothing beside a stronger one."""
        said = {mark.entry.value for _, mark in self.states if mark.entry is not None}
        dropped: set[str] = set()
        if said & (_STRONG | {"high"}):
            dropped |= {"on", "start"} | (set() if self.things else {"alarm"})
        if "alarm" in said:
            dropped |= _UP
        if "restore" in said:
            dropped |= {"normal", "ok", "end"}
        if said - dropped - _ENDING - _ENDING_BEHIND:
            dropped |= _ENDING | (_ENDING_BEHIND if self._last_ends() else set())
        return [(p, m) for p, m in self.states if m.entry and m.entry.value not in dropped]

    def _last_ends(self) -> bool:
        last = self.states[-1][1].entry
        return last is not None and last.value in _ENDING_BEHIND | _ENDING

    def _ended(self, place: int) -> bool:
        """Tell whether a state that ends belongs to what stands at this place."""
        return any(
            mark.entry is not None
            and (mark.entry.value in _ENDING or (mark.entry.value in _ENDING_BEHIND and p > place))
            for p, mark in self.states
        )

    def _rule(self, thing: str, state: Mark | None) -> Reading | None:
        names: tuple[str, ...] = ("",)
        if state is not None and state.entry is not None:
            names = (state.entry.value, state.entry.group)
        for name in names:
            if state is not None and not name:
                continue
            for at in self.carried.at:
                reading = self.rules.get((thing, name, at))
                if reading is not None:
                    return reading
        return None

    def _flip(self, reading: Reading, place: int, state: Mark | None) -> Reading:
        own = state.entry.value if state is not None and state.entry is not None else ""
        ending = own in _ENDING | _ENDING_BEHIND
        if reading.kind in MOMENTS or ending or not self._ended(place):
            return reading
        return Reading(reading.kind, Phase.END)

    def _pairs(
        self, states: list[tuple[int, Mark]], things: list[tuple[int, Mark]]
    ) -> Iterator[tuple[Mark, Reading, int]]:
        """Give each state to the nearest thing that a rule knows with it."""
        strong: set[int] = set()
        found: list[tuple[Mark, Reading, int, str]] = []
        for place, state in states:
            name = state.entry.value if state.entry is not None else ""
            near = sorted(things, key=partial(_distance, place=place, low=name == "low"))
            for at, thing in near:
                reading = self._rule(thing.thing, state)
                if reading is not None:
                    found.append((thing, self._flip(reading, place, state), at, name))
                    strong |= {at} if name in _STRONG else set()
                    break
        # A "fire alarm fault" is a fault: "alarm" only names the device there.
        for thing, reading, at, name in found:
            if name != "alarm" or at not in strong:
                yield thing, reading, at

    def _bare(
        self, things: list[tuple[int, Mark]], states: list[tuple[int, Mark]]
    ) -> Iterator[tuple[Mark, Reading, int]]:
        """Read things that say enough by themselves, with no state or one that adds nothing."""
        said = {mark.entry.value for _, mark in states if mark.entry is not None}
        said -= _ENDING | _ENDING_BEHIND
        for place, thing in things:
            reading = self._rule(thing.thing, None)
            # "Alarm set", "alarm system armed": an act is told, and of what.
            act = reading is not None and reading.kind in {Kind.ARM, Kind.DISARM}
            if reading is not None and reading.kind in LIFE_SAFETY and equipment(thing):
                continue
            if reading is not None and (not said or (act and said <= {"alarm", "active", "on"})):
                yield thing, self._flip(reading, place, None), place

    def _bare_blocked(self, by_subject: list[tuple[Mark, Reading, int]]) -> bool:
        """Tell whether a subject has a state of its own that a lone condition must not take."""
        if not by_subject:
            return False
        conditions = [p for p, m in self.things if m.entry and m.entry.rank == "condition"]
        if not conditions:
            return True
        nearest = min(abs(p - at) for p in conditions for _, _, at in by_subject)
        return nearest >= 10

    def _split(
        self,
        by_subject: list[tuple[Mark, Reading, int]],
        by_condition: list[tuple[Mark, Reading, int]],
    ) -> list[tuple[Mark, Reading, int]]:
        """Give the alarms of life safety that a condition does not belong to.

        A "smoke alarm battery low" speaks of the battery; a "panic alarm mains fail" of both.
        """
        return [
            told
            for told in by_subject
            if told[1].kind in LIFE_SAFETY
            and any(
                abs(told[2] - other[2]) >= 10 or other[0].thing not in _OF_DEVICES
                for other in by_condition
            )
        ]

    def _decide(
        self,
        told: list[tuple[Mark, Reading, int]],
        more: list[tuple[Mark, Reading, int]],
    ) -> Resolved:
        readings = {(r.kind, r.phase): r for _, r, _ in [*told, *more]}
        unsaid = next((r for r in readings.values() if r.problem), None)
        if unsaid is not None:
            return Resolved(problem=unsaid.problem, unsaid=True)
        beside = foreign(told, self.things, self.rules)
        if {kind for kind, _ in readings} == {Kind.BYPASS, Kind.SHUTDOWN}:
            # A bypass for too many trips is a shutdown.
            readings = {key: r for key, r in readings.items() if r.kind is Kind.SHUTDOWN}
            told = [x for x in told if x[1].kind is Kind.SHUTDOWN]
        if len(readings) > 1:
            return torn(readings.values())
        if beside:
            return Resolved(problem=MORE_SAID)
        thing = told[0][0].thing
        return Resolved(told[0][1], explicit=thing in {"intruder", "entry-exit"}, thing=thing)

    @staticmethod
    def _of_alarms(state: Mark) -> bool:
        """Tell whether a state is one that points have, whatever their name."""
        return state.entry is not None and state.entry.value in _POINT_STATES

    def _plain(self, states: list[tuple[int, Mark]]) -> Resolved:
        """Read states alone, by what carries them."""
        readings: dict[tuple[Kind, Phase], Reading] = {}
        used = ""
        # A door is not closed by telephone: an area is.
        acted = ("area",) if self.modes and not self.carried.pointed else self.carried.default
        for place, state in states:
            for thing in acted:
                if self.carried.loosely and thing == "zone" and not self._of_alarms(state):
                    continue
                reading = self._rule(thing, state)
                if reading is not None:
                    flipped = self._flip(reading, place, state)
                    readings[flipped.kind, flipped.phase] = flipped
                    used = thing
                    break
        if len(readings) > 1:
            return torn(readings.values())
        if not readings:
            return NOTHING
        said = {mark.entry.value for _, mark in states if mark.entry is not None}
        weak = said <= _ENDING | {"end", "remove"}
        return Resolved(next(iter(readings.values())), thing=used, weak=weak)


def _distance(held: tuple[int, Mark], *, place: int, low: bool) -> tuple[float, bool]:
    """Measure how far a thing is from a state; what is low is a battery before anything else."""
    battery = low and held[1].thing in {"battery", "standby"}
    return abs(held[0] - place) - (1.5 if battery else 0.0), held[0] > place
