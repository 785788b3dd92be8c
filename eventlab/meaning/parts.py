"""The parts of a wording: who and where it names, and the runs of words between separators."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

from eventlab.meaning.lexicon import Lexicon, Sort
from eventlab.meaning.marks import Mark, is_name, scan, tagged

LONG = 8
"""Unknown words in one run from which on it is prose, not a name."""

_CUTS = frozenset({"|", ":", ",", "(", ")", "person"})
_HELD = frozenset({"card", "code", "id", "number"})
_CUT_BY = {"zone": "zone", "area": "area", "user": "person"}


@dataclass(frozen=True, slots=True)
class Span:
    """Where a name or number stands: items from start to stop, behind a noun of ours."""

    start: int
    stop: int
    noun: str = ""


@dataclass
class Names:
    """Who and where, as far as numbers and ``by`` tell."""

    zones: list[Span] = field(default_factory=list)
    areas: list[Span] = field(default_factory=list)
    person: Span | None = None
    person_name: Span | None = None
    device: Span | None = None
    path: Span | None = None


@dataclass(frozen=True)
class Run:
    """Words between two separators.

    Parameters
    ----------
    marks : list of Mark
        In order.
    before, after : str
        What it is cut off by: a separator, ``zone``, ``area``, ``device`` or ``person`` for what is
        tagged, nothing at the ends of the wording.
    """

    marks: list[Mark]
    before: str = ""
    after: str = ""

    @cached_property
    def named(self) -> list[int]:
        """The places of words that nobody knows or that belong to a name."""
        return [i for i, mark in enumerate(self.marks) if is_name(mark)]

    @property
    def prefix(self) -> list[Mark]:
        """What stands before the first unknown word; nothing where all is known."""
        return self.marks[: self.named[0]] if self.named else []

    @property
    def suffix(self) -> list[Mark]:
        """What stands behind the last unknown word; everything where all is known."""
        return self.marks[self.named[-1] + 1 :] if self.named else self.marks

    @property
    def interior(self) -> list[Mark]:
        """Known words between unknown ones."""
        if not self.named:
            return []
        return [m for m in self.marks[self.named[0] : self.named[-1]] if not is_name(m)]

    def prose(self, template: tuple[str, ...], *, numbered: bool) -> bool:
        """Tell whether a run with a name is no name: too long, or with words that no name has."""
        if not self.named:
            return False
        soft = not numbered and any(mark.is_a(Sort.SOFT) for mark in self.marks)
        return soft or self.hedged(template)

    def hedged(self, template: tuple[str, ...]) -> bool:
        """Tell whether it holds what makes any reading of the whole wording unsafe."""
        if any(mark.is_a(Sort.HEDGE) or mark.what == "?" for mark in self.marks):
            return True
        items = {i for at in self.named for i in range(self.marks[at].start, self.marks[at].stop)}
        weight = {"xs": 3, "p": 2, "xl": LONG + 1}
        return sum(weight.get(template[i], 1) for i in items) > LONG


class Parts:
    """A template cut into its parts.

    Parameters
    ----------
    template : tuple of str
        As ``marks`` describes it.
    lexicon : Lexicon
        Words and rules.

    Attributes
    ----------
    names : Names
        Numbers and names of points, areas, people, devices.
    carriers : list of str
        What carries the thing spoken of, as far as it is tagged.
    runs : list of Run
        The words between separators, tags and names of people.
    """

    def __init__(self, template: tuple[str, ...], lexicon: Lexicon) -> None:
        self.template = template
        self.names = Names()
        self.carriers: list[str] = []
        self.all_marks = tagged(scan(template, lexicon), template)
        for mark in self.all_marks:
            if mark.what == "tag":
                self._take(mark)
        self.runs = list(self._cut(list(self._without_people())))

    def _take(self, mark: Mark) -> None:
        spans = [Span(i, i + 1) for i in mark.numbers]
        entry = mark.entry
        if mark.role == "zone":
            self.names.zones += spans
        elif mark.role == "area":
            self.names.areas += spans
        elif mark.role == "user":
            self.names.person = self.names.person or spans[0]
        elif mark.role == "own":
            self.names.device = Span(self._begin_of_name(mark), mark.stop)
        else:
            self.names.device = Span(spans[0].start, spans[0].stop, mark.role)
        if mark.role == "user":
            self.carriers.append("user")
        elif entry is not None and entry.rank == "carrier":
            self.carriers.append(entry.value)
        elif mark.role == "zone":
            self.carriers.append("zone")

    def _begin_of_name(self, tag: Mark) -> int:
        """Return where the name begins that ends in a noun with a number: ``hall door 2``."""
        start = tag.start
        for mark in reversed(self.all_marks[: self.all_marks.index(tag)]):
            if mark.stop != start or not is_name(mark):
                break
            start = mark.start
        return start

    # --- people ---------------------------------------------------------------------------------

    def _without_people(self) -> Iterator[Mark]:
        """Take the names of people out: behind ``by`` or ``user``, with or without a number."""
        marks = self.all_marks
        i = 0
        while i < len(marks):
            mark = marks[i]
            tag = mark.what == "tag" and mark.role == "user"
            if mark.is_a(Sort.BY) and self._beside(i):
                mark.to_name()
            if not tag and not (mark.is_a(Sort.BY) or mark.thing == "user"):
                before = self._name_before(i)
                if before:
                    yield Mark("person", mark.start, mark.stop)
                    i = before
                else:
                    yield mark
                    i += 1
                continue
            past = self._person(i, tag=tag)
            if past:
                if "user" not in self.carriers:
                    self.carriers.append("user")
                yield Mark("person", mark.start, marks[past - 1].stop)
                i = past
            else:
                yield mark
                i += 1

    def _beside(self, i: int) -> bool:
        """Tell whether ``by`` stands between two words of a name: ``hall by stairs``."""
        marks = self.all_marks
        if any(m.is_a(Sort.STATE, Sort.PHRASE) or (m.thing and not m.carrier) for m in marks[:i]):
            return False
        return 0 < i < len(marks) - 1 and is_name(marks[i - 1]) and is_name(marks[i + 1])

    def _person(self, i: int, *, tag: bool) -> int:
        """Take the person that begins here; return the place behind, or 0 for nobody."""
        marks = self.all_marks
        past = i + 1
        if not tag:
            while past < len(marks) and (marks[past].is_a(Sort.NOISE) or marks[past].what == ":"):
                past += 1
            if past < len(marks) and marks[past].what == "tag" and marks[past].role == "user":
                tag, past = True, past + 1
            elif past == i + 1 and self._held(marks[i]):
                return 0
        first, end, behind = self._name_at(past, apart=tag)
        if end > first:
            self.names.person_name = self.names.person_name or Span(
                marks[first].start, marks[end - 1].stop
            )
            following = behind
            if not tag and following + 1 < len(marks) and marks[following].what == "(":
                inner = marks[following + 1]
                if inner.what in {"#", "tag"} and inner.role in {"", "user"}:
                    self.names.person = self.names.person or Span(inner.stop - 1, inner.stop)
                    following = min(following + 3, len(marks))
            return following
        return past if tag else 0

    @staticmethod
    def _held(mark: Mark) -> bool:
        """Tell whether it is what a user holds, which no name follows at once: a card, a code."""
        return mark.entry is not None and mark.entry.pattern[-1] in _HELD

    def _name_at(self, i: int, *, apart: bool) -> tuple[int, int, int]:
        """Find a name that begins here; ``apart``: behind a separator or within brackets too."""
        marks = self.all_marks
        opened = apart and i < len(marks) and marks[i].what in {"(", ":", "|", ","}
        first = i + 1 if opened else i
        past = first
        while past < len(marks) and (
            is_name(marks[past])
            or (past > first and marks[past].is_a(Sort.NOISE))
            or (past > first and marks[past].thing in {"siren", "opening"})
        ):
            past += 1
        ends = past == len(marks) or marks[past].what in _CUTS
        if past == first or (opened and not ends):
            return 0, 0, 0
        bracket = opened and marks[i].what == "("
        closed = past < len(marks) and marks[past].what == ")"
        return first, past, past + 1 if bracket and closed else past

    def _name_before(self, i: int) -> int:
        """Take a name with its number in brackets behind: ``Kim Vale (user 4)``."""
        marks = self.all_marks
        past = i
        while past < len(marks) and is_name(marks[past]):
            past += 1
        if past == i or past + 2 >= len(marks) or marks[past].what != "(":
            return 0
        tag = marks[past + 1]
        if tag.what != "tag" or tag.role != "user" or marks[past + 2].what != ")":
            return 0
        self.names.person_name = Span(marks[i].start, marks[past - 1].stop)
        return past + 3

    # --- runs -----------------------------------------------------------------------------------

    def _cut(self, marks: list[Mark]) -> Iterator[Run]:
        """Cut at separators and at what is tagged; ``via gsm`` is taken out as the path."""
        run: list[Mark] = []
        before = ""
        i = 0
        while i < len(marks):
            mark = marks[i]
            carrier = mark.entry is None or mark.entry.rank == "carrier"
            cut = ""
            if mark.is_a(Sort.VIA) and i + 1 < len(marks) and marks[i + 1].thing == "comms":
                self.names.path = Span(marks[i + 1].start, marks[i + 1].stop)
                cut = "device"
                i += 1
            elif mark.what == "tag" and not carrier:
                entry = Mark("entry", mark.start, mark.stop, mark.entry)
                if mark.role == "zone":  # what follows the number of a point may be its name
                    if run:
                        yield Run(run, before, "zone")
                    yield Run([entry])
                    run, before = [], "zone"
                else:
                    run.append(entry)
            elif mark.what in _CUTS or mark.what == "tag":
                cut = _CUT_BY.get(mark.role, "device") if mark.what == "tag" else mark.what
            else:
                run.append(mark)
            if cut:
                if run:
                    yield Run(run, before, cut)
                run, before = [], cut
            i += 1
        if run:
            yield Run(run, before)
