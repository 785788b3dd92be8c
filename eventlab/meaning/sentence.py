"""What one template says: kind and phase, and which of its items name point, area and person.

Runs of known words decide. One that stands alone between separators, or behind a name, counts;
one before a name counts only where no other does (``alarm main hall`` against ``open plan office |
alarm``); words between two names count only where they tell an arming. A word of life safety that
is no part of the reading makes a plain alarm unreadable, unless the name goes on to say that the
point is an ordinary one (``medical room door``): it may be such an alarm, it may be a name.
"""

from eventlab.meaning.carried import MORE_SAID, NOTHING, Carried, Resolved
from eventlab.meaning.leftover import LEFT_OVER, Said, leftover
from eventlab.meaning.lexicon import Lexicon, Reading, Sort
from eventlab.meaning.marks import BREAKS, OPENINGS, Mark, is_name
from eventlab.meaning.parts import Parts, Run, Span
from eventlab.meaning.resolve import resolve
from eventlab.meaning.told import AT_DEVICES, AT_POINTS, BY_NAME, GENERIC, Told
from eventlab.meaning.understood import LIFE_SAFETY_OF
from eventlab.schema import LIFE_SAFETY, Kind, Phase

UNKNOWN_WORDING = "no wording known for it"
LIFE_OR_NAME = "it could be a life-safety alarm or the name of a point"
POINT_OR_USER = "it does not say whether the number is a point's or a user's"
DOOR_OR_SYSTEM = "it may be a door that someone opened or closed, or an arming or disarming"
LIFE_OR_NOTE = "it could be a life-safety alarm or the note of an operator"

_OF_PEOPLE = frozenset({Kind.ARM, Kind.DISARM, Kind.CANCEL})
_DEVICE_WORDS = frozenset(
    {"button", "detector", "sensor", "point", "switch", "station", "device", "pendant", "unit"}
)
_SET_ASIDE = frozenset({Kind.ON_TEST, Kind.ON_SITE_WORK, Kind.WALK_TEST})
_NOUNS = ("module", "repeater", "receiver", "keypad", "reader", "siren")


def read_template(template: tuple[str, ...], lexicon: Lexicon) -> Told:
    """Tell what a template says.

    Parameters
    ----------
    template : tuple of str
        As ``marks`` describes it.
    lexicon : Lexicon
        Words and rules.

    Returns
    -------
    Told
        The reading with the places of its names, or the reason why there is none.
    """
    told = _Sentence(template, lexicon).read()
    if not _is_note(template, lexicon):
        return told
    if told.problem == LIFE_OR_NAME or (told.reading and told.reading.kind in LIFE_SAFETY):
        return Told(problem=LIFE_OR_NOTE)
    return Told(Reading(Kind.HANDLING, Phase.MOMENT), at_point=Kind.HANDLING)


def _is_note(template: tuple[str, ...], lexicon: Lexicon) -> bool:
    words = [word for item in template for word in item.split("_") if word not in lexicon.noise]
    return bool(words) and any(
        tuple(words[: len(pattern)]) == pattern for pattern in lexicon.handling.get(words[0], ())
    )


class _Sentence:
    """One template on its way to a reading."""

    def __init__(self, template: tuple[str, ...], lexicon: Lexicon) -> None:
        self.template = template
        self.lexicon = lexicon
        self.parts = Parts(template, lexicon)
        self.numbered = bool(self.parts.names.zones)
        self.runs = [self._alone(run) for run in self.parts.runs]

    def _alone(self, run: Run) -> Run:
        """Read a run that is one of the wordings that count only where nothing else is said."""
        words = tuple(
            word
            for mark in run.marks
            if not mark.is_a(Sort.NOISE)
            for item in self.template[mark.start : mark.stop]
            for word in item.split("_")
        )
        entry = self.lexicon.alone.get(words)
        if entry is None or (entry.group == "unpointed" and self.numbered):
            return run
        return Run(
            [Mark("entry", run.marks[0].start, run.marks[-1].stop, entry)], run.before, run.after
        )

    def read(self) -> Told:
        if any(run.hedged(self.template) for run in self.runs):
            return Told(problem=MORE_SAID)
        behind, before = self._stretches()
        found, used = self._first(behind)
        if not found.problem and (found.reading is None or found.weak):
            more = self._resolve([*before, *behind]) if self._telling(before, found) else NOTHING
            # What an unknown word adds to a test or to work on site may well be its end.
            if more.reading is not None and more.reading.kind in _SET_ASIDE and not self.numbered:
                more = NOTHING
            if more.reading is not None or (found.reading is None and more.problem):
                found, used = more, [*before, *behind]
        if found.reading is None and not found.problem:
            found, used = self._between()
        if found.reading is None:
            return Told(problem=self._why(found.problem))
        life, unsafe = self._life_safety(found, used)
        if not unsafe and self._plain(found):
            found, used = self._at_plant(found, used)
        if unsafe:
            devices = self._devices(used)
            found = self._resolve([*devices, *used]) if devices else NOTHING
            if found.reading is None or found.reading.kind not in LIFE_SAFETY:
                return Told(problem=LIFE_OR_NAME)
            life, used = LIFE_SAFETY_OF[found.reading.kind], [*devices, *used]
        if found.reading is None:
            return Told(problem=UNKNOWN_WORDING)
        if self._unnamed(found, used):
            return Told(problem=UNKNOWN_WORDING)
        if self._whose(found.reading.kind, used):
            return Told(problem=POINT_OR_USER)
        if self._door(found.reading.kind, used):
            return Told(problem=DOOR_OR_SYSTEM)
        names = self.parts.names
        named = names.person_name is not None and names.person is None
        told = found.reading.phase is Phase.END and not found.weak
        if named and not told and found.reading.kind not in BY_NAME:
            return Told(problem=LEFT_OVER)
        counted = {id(mark) for stretch in used for mark in stretch}
        bare = not self.numbered and not self._states(used) and found.thing != "phrase"
        if leftover(self.runs, Said(found.reading.kind, self.numbered, bare, counted)):
            return Told(problem=LEFT_OVER)
        return self._tell(found.reading, used, life)

    def _unnamed(self, found: Resolved, used: list[list[Mark]]) -> bool:
        """Tell whether an unknown word may name a kind of alarm, not a point: ``oven alarm``.

        Behind a separator or behind the state it is a name, and so are several words, or a place.
        """
        if not self._plain(found) or self._carried(used).things:
            return False
        counted = {id(mark) for stretch in used for mark in stretch}
        said = self._states(used)
        for run in self.runs:
            signs = [self.template[run.marks[i].start] for i in run.named]
            adjoins = run.named and run.marks[-1] is not run.marks[run.named[-1]]
            if signs == ["x"] and adjoins and id(run.marks[-1]) in counted:
                return not said & {"open", "close"}
        return False

    @staticmethod
    def _states(used: list[list[Mark]]) -> set[str]:
        marks = [mark for stretch in used for mark in stretch if mark.is_a(Sort.STATE)]
        return {mark.entry.value for mark in marks if mark.entry is not None}

    def _whose(self, kind: Kind, used: list[list[Mark]]) -> bool:
        """Tell whether a lone number behind ``open`` or ``closed`` may be a point's or a user's."""
        said = {
            m.entry.value for stretch in used for m in stretch if m.is_a(Sort.STATE) and m.entry
        }
        return (
            kind is Kind.ACTIVATION
            and bool(said & {"open", "close"})
            and not self._carried(used).things
            and self._label(used) is None
            and any(mark.what == "#" for run in self.runs for mark in run.marks)
        )

    def _door(self, kind: Kind, used: list[list[Mark]]) -> bool:
        """Tell whether it was a door that someone opened or closed: ``hall door opened by Kim``."""
        return (
            kind in {Kind.ARM, Kind.DISARM}
            and self._states(used) <= {"open", "close"}
            and not any(mark.is_a(Sort.PHRASE) for stretch in used for mark in stretch)
            and any(
                mark.entry is not None and mark.entry.pattern[-1] in OPENINGS
                for run in self.runs
                for mark in run.marks
            )
        )

    # --- which words count ----------------------------------------------------------------------

    def _stretches(self) -> tuple[list[list[Mark]], list[list[Mark]]]:
        """Give the stretches that count first, and those before a name."""
        behind, before = [], []
        for run in self.runs:
            if run.prose(self.template, numbered=self.numbered):
                continue
            if run.suffix:
                behind.append(run.suffix)
            if run.prefix:
                before.append(run.prefix)
        return behind, before

    def _first(self, behind: list[list[Mark]]) -> tuple[Resolved, list[list[Mark]]]:
        """Read what counts first; the end of a name must not stand against what is said outright.

        ``Intruder alarm restored, zone 9 lobby tamper`` speaks of an intruder alarm.
        """
        found = self._resolve(behind)
        if not found.problem or found.unsaid:
            return found, behind
        whole = [run.marks for run in self.runs if not run.named]
        again = self._resolve(whole) if len(whole) < len(behind) else NOTHING
        return (again, whole) if again.reading and again.explicit else (found, behind)

    def _telling(self, before: list[list[Mark]], found: Resolved) -> bool:
        """Tell whether what stands before a name may add to an end told alone."""
        if not found.weak:
            return bool(before)
        return any(
            (mark.thing and not mark.carrier)
            or mark.is_a(Sort.PHRASE)
            or (mark.is_a(Sort.STATE) and mark.entry is not None and mark.entry.value == "alarm")
            for stretch in before
            for mark in stretch
        )

    def _between(self) -> tuple[Resolved, list[list[Mark]]]:
        """Read an arming told between two names: ``Kim Vale disarmed Reading Room``."""
        inside = [run.interior for run in self.runs if not run.prose(self.template, numbered=False)]
        inside = [stretch for stretch in inside if stretch]
        found = self._resolve(inside) if len(inside) == 1 else NOTHING
        if found.reading is not None and found.reading.kind in _OF_PEOPLE:
            return found, inside
        return NOTHING, []

    def _resolve(self, stretches: list[list[Mark]]) -> Resolved:
        if not stretches:
            return NOTHING
        return resolve(stretches, self._carried(stretches), self.lexicon)

    def _carried(self, stretches: list[list[Mark]], *, pointed: bool = False) -> Carried:
        named = [m.thing for stretch in stretches for m in stretch if m.carrier]
        things = [*self.parts.carriers, *named]
        label = self._label(stretches) is not None and not {"system", "site"} & set(things)
        loosely = label and not self.numbered and not {"zone", "opening", "fob"} & set(things)
        # A smoke alarm's battery is the battery of a point.
        device = any(self._speaks_of_life(m) for stretch in stretches for m in stretch)
        return Carried(tuple(things), pointed or self.numbered or label or device, loosely)

    def _why(self, problem: str) -> str:
        return problem or UNKNOWN_WORDING

    # --- life safety ----------------------------------------------------------------------------

    def _life_safety(self, found: Resolved, used: list[list[Mark]]) -> tuple[str, bool]:
        """Give the life-safety kind of the point, and whether the reading is unsafe for it."""
        if found.reading is None:
            return "", False
        if found.reading.kind in LIFE_SAFETY:
            return LIFE_SAFETY_OF[found.reading.kind], False
        spoken = [
            mark.entry.life_safety for stretch in used for mark in stretch if mark.entry is not None
        ]
        told = next((life for life in spoken if life), "")
        counted = {id(mark) for stretch in used for mark in stretch}
        open_words = [
            (mark, run)
            for run in self.runs
            for i, mark in enumerate(run.marks)
            if self._speaks_of_life(mark)
            and id(mark) not in counted
            and not any(later.thing == "opening" for later in run.marks[i + 1 :])
        ]
        if told == "unknown" or not open_words:
            unsafe = bool(told) and told != "unknown" and self._plain(found)
            return told, unsafe
        first = open_words[0][0].entry
        life = (first.life_safety if first is not None else "") or "unknown"
        return told or life, self._plain(found)

    @staticmethod
    def _speaks_of_life(mark: Mark) -> bool:
        if mark.is_a(Sort.LIFE):
            return True
        return mark.entry is not None and mark.entry.life_safety not in {"", "unknown"}

    @staticmethod
    def _plain(found: Resolved) -> bool:
        """Tell whether a reading is that of any point, with no word for an intruder in it."""
        return found.reading is not None and found.reading.kind in GENERIC and not found.explicit

    def _at_plant(
        self, found: Resolved, used: list[list[Mark]]
    ) -> tuple[Resolved, list[list[Mark]]]:
        """Read the plain alarm of a device that watches over plant: ``flood detector cellar``."""
        devices = self._devices(used, life=False)
        more = self._resolve([*devices, *used]) if devices else NOTHING
        if more.reading is not None and more.reading.kind is Kind.ENVIRONMENT_ALARM:
            return more, [*devices, *used]
        return found, used

    def _devices(self, used: list[list[Mark]], *, life: bool = True) -> list[list[Mark]]:
        """Give the devices of life safety that a name begins with: ``panic button reception``."""
        counted = {id(mark) for stretch in used for mark in stretch}
        return [
            [mark]
            for run in self.runs
            for mark in run.marks
            if id(mark) not in counted
            and mark.entry is not None
            and (mark.entry.life_safety if life else mark.entry.rank == "subject")
            and mark.entry.pattern[-1] in _DEVICE_WORDS
        ]

    # --- names ----------------------------------------------------------------------------------

    def _tell(self, reading: Reading, used: list[list[Mark]], life: str) -> Told:
        names = self.parts.names
        at_point = reading.kind
        if not self.numbered:
            other = resolve(used, self._carried(used, pointed=True), self.lexicon)
            at_point = other.reading.kind if other.reading is not None else at_point
        return Told(
            reading,
            zones=self._zones(reading.kind, used),
            areas=tuple(names.areas) or self._area_name(),
            person=names.person,
            person_name=names.person_name,
            path=names.path,
            life_safety=life,
            at_point=at_point,
        )

    def _zones(self, kind: Kind, used: list[list[Mark]]) -> tuple[Span, ...]:
        names = self.parts.names
        if kind in {Kind.ARM, Kind.DISARM}:
            return ()
        if names.zones:
            return tuple(names.zones)
        if names.device is not None:
            return (names.device,)
        if kind not in AT_POINTS:
            return ()
        loose = [m for run in self.runs for m in run.marks if m.what == "#"]
        if loose and len({mark.start for mark in loose}) <= 16:
            return tuple(Span(mark.start, mark.stop) for mark in loose)
        label = self._label(used)
        if label is not None:
            return (label,)
        if kind in AT_DEVICES:
            carried = self._carried(used).things
            noun = next((noun for noun in _NOUNS if noun in carried), "")
            return (Span(0, 0, noun),) if noun else ()
        return ()

    def _label(self, used: list[list[Mark]]) -> Span | None:
        """Find the name of a point that has no number: the words that nobody counts."""
        counted = {id(mark) for stretch in used for mark in stretch}
        best: Span | None = None
        for run in self.runs:
            if not run.named or run.marks[0].thing in {"area", "user"}:
                continue
            if run.before == "area" and run.after in BREAKS and len(run.named) == len(run.marks):
                continue  # "area 1 library: alarm" names the area
            first = 0
            while first < run.named[0] and (
                id(run.marks[first]) in counted
                or run.marks[first].is_a(Sort.NOISE)
                or run.marks[first].thing == "zone"
            ):
                first += 1
            last = run.named[-1]
            while last + 1 < len(run.marks) and run.marks[last + 1].thing in {"opening", "zone"}:
                last += 1
            span = Span(run.marks[first].start, run.marks[last].stop)
            if any(mark.thing == "opening" for mark in run.marks[first : last + 1]):
                return span
            best = best or span
        return best

    def _area_name(self) -> tuple[Span, ...]:
        for run in self.runs:
            if run.marks[0].thing == "area" and len(run.marks) > 1 and is_name(run.marks[1]):
                return (Span(run.marks[1].start, run.marks[run.named[-1]].stop),)
        return ()
