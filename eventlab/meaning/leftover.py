"""Whether a reading accounts for every word of its wording.

A log line is no sentence: what it does not say with words of the trade is a name, and names stand
where names stand. Behind the number of a point, or between separators, any words may be a name. In
the middle of a line only a place or an opening shows that it is one (``Alarm Main Hall``,
``Boathouse door opened``); a person stands before what was done (``Kim Vale disarmed``). Whatever
else is left makes the line a note, and its reading a guess: of ``alarm contract renewed`` the last
noun is what is spoken of, and no name is joined as the words of ``the cat sat on the keypad`` are.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from eventlab.meaning.lexicon import Sort
from eventlab.meaning.marks import Mark
from eventlab.meaning.parts import Run
from eventlab.meaning.told import AT_POINTS, BY_PEOPLE
from eventlab.schema import Kind

LEFT_OVER = "it holds words that are neither known nor in the place of a name"

_AUXILIARY, _LINK, _QUANTITY = "auxiliary", "link", "quantity"
_TAGS = frozenset({"zone", "area", "device", "person"})
_DEVICES = frozenset({"opening", "zone", "motion"})
_ARTICLES = frozenset({"the", "a", "an"})
_WITHIN = frozenset({"of", "to", "the", "and"})
_ACTS = BY_PEOPLE - {Kind.DURESS}
_SETTING = frozenset({Kind.ARM, Kind.DISARM, Kind.ARM_FAILED})
_OF_SYSTEMS = frozenset(
    {
        *(Kind.MAINS_LOSS, Kind.SYSTEM_BATTERY_LOW, Kind.TEST_REPORT, Kind.MANUAL_TEST),
        *(Kind.ON_TEST, Kind.ON_SITE_WORK, Kind.CLOCK_SET, Kind.SYSTEM_RESTART, Kind.ARM_FAILED),
    }
)


@dataclass(frozen=True, slots=True)
class Said:
    """What was read, and from what.

    Parameters
    ----------
    kind : Kind
        The kind of the event.
    numbered : bool
        Whether a point is named by its number.
    bare : bool
        Whether a thing was named with no word for what it did.
    used : collection of int
        The marks that made the reading, by identity.
    """

    kind: Kind
    numbered: bool
    bare: bool
    used: Collection[int]


def leftover(runs: Sequence[Run], said: Said) -> bool:
    """Tell whether a wording holds words that its reading does not account for.

    Parameters
    ----------
    runs : sequence of Run
        The words between separators, tags and names of people.
    said : Said
        What was read from them.

    Returns
    -------
    bool
        Whether the wording says more than was understood.
    """
    return any(_Rest(run, said).unfit() for run in runs)


class _Rest:
    """One run, its names told from the words that count."""

    def __init__(self, run: Run, said: Said) -> None:
        self.run = run
        self.marks = run.marks
        self.said = said
        self.counted = [i for i, mark in enumerate(self.marks) if self._counts(mark)]

    def unfit(self) -> bool:
        if self._asks() or self._measures():
            return True
        names = self.run.named
        if not names:
            return self._strange_device()
        if not self.said.numbered and any(mark.is_a(Sort.SOFT) for mark in self.marks):
            return True
        if not self.counted:
            return self._unfit_alone(names)
        groups = list(self._groups(names))
        if any(self._told(group) for group in groups) or self._strange_device():
            return True
        first = groups[0]
        leading = first[0] < self.counted[0]
        if leading and len(groups) > 1 and not (self._anchored or self.said.kind in _ACTS):
            return True
        if leading and self._unfit_before(first):
            return True
        return any(self._unfit_behind(group) for group in groups[leading:])

    # --- what a mark is -------------------------------------------------------------------------

    def _counts(self, mark: Mark) -> bool:
        """Tell whether a mark is one of the words that made the reading."""
        telling = mark.is_a(Sort.STATE, Sort.PHRASE, Sort.MODE) or (mark.thing and not mark.carrier)
        return bool(telling) and id(mark) in self.said.used

    def _noise(self, first: int, past: int) -> list[Mark]:
        return [m for m in self.marks[first:past] if m.is_a(Sort.NOISE) or self._is(m, "to")]

    @staticmethod
    def _is(mark: Mark, *words: str) -> bool:
        entry = mark.entry
        return entry is not None and len(entry.pattern) == 1 and entry.pattern[0] in words

    @property
    def _anchored(self) -> bool:
        """Whether any words may be the name of a point here."""
        if self.run.before in {"zone", "area"}:
            return True
        return self.said.numbered and self.run.before not in _TAGS | {""}

    def _groups(self, names: list[int]) -> Iterator[list[int]]:
        """Give the names that no word that counts divides."""
        group: list[int] = []
        for i in names:
            if group and any(group[-1] < k < i for k in self.counted):
                yield group
                group = []
            group.append(i)
        yield group

    def _placed(self, group: list[int]) -> bool:
        """Tell whether a place or an opening shows that words are the name of a point."""
        past = group[-1] + 1
        while past < len(self.marks) and self.marks[past].what in {"#", "x"}:
            past += 1
        device = past < len(self.marks) and self._of_point(self.marks[past])
        labelled = group[0] > 0 and self._is(self.marks[group[0] - 1], "zone", "point", "input")
        inner = self.marks[group[0] : past]
        return (
            device
            or labelled
            or any(
                mark.what == "p" or mark.is_a(Sort.PLACE, Sort.NAME) or self._of_point(mark)
                for mark in inner
            )
        )

    @staticmethod
    def _of_point(mark: Mark) -> bool:
        numbers_points = mark.entry is not None and mark.entry.number == "zone"
        return mark.thing in _DEVICES or (bool(mark.thing) and numbers_points)

    # --- what makes a sentence ------------------------------------------------------------------

    def _asks(self) -> bool:
        """Tell whether an auxiliary verb asks, or says something that is no state."""
        for i, mark in enumerate(self.marks):
            if mark.use == "until" and i + 1 < len(self.marks):
                return True
            if mark.use != _AUXILIARY:
                continue
            if i == 0 and not self.run.before:
                return True
            following = next(
                (m for m in self.marks[i + 1 :] if not m.is_a(Sort.NOISE, Sort.ASIDE)), None
            )
            if following is None:
                if self.run.after not in _TAGS:
                    return True
            elif not following.is_a(Sort.STATE, Sort.PHRASE, Sort.MODE) and not following.thing:
                return True
            if any(at > i for at in self.run.named):
                return True
        return False

    def _measures(self) -> bool:
        """Tell whether a number is a time or a quantity: ``fire drill at 10``, ``delay 120``."""
        return any(
            mark.what == "#"
            and i > 0
            and (
                self.marks[i - 1].use in {_AUXILIARY, _LINK, _QUANTITY}
                or self.marks[i - 1].thing == "memory"
                or self.marks[i - 1].is_a(Sort.SOFT)
                or self._is(self.marks[i - 1], "to")
            )
            for i, mark in enumerate(self.marks)
        )

    def _told(self, group: list[int]) -> bool:
        """Tell whether a name ends in a verb, or goes on behind one: ``medical room repainted``."""
        for i in group:
            following = self.marks[i + 1] if i + 1 < len(self.marks) else None
            ends = following is None or following.is_a(Sort.NOISE, Sort.ASIDE)
            if self.marks[i].what == "v" and ends:
                return True
        return False

    def _strange_device(self) -> bool:
        """Tell whether an opening stands in what no point does: ``shutter engineer on site``."""
        return self.said.kind in _OF_SYSTEMS and any(mark.thing == "opening" for mark in self.marks)

    # --- where names stand ----------------------------------------------------------------------

    def _unfit_alone(self, names: list[int]) -> bool:
        """Judge a run that holds a name and nothing that counts."""
        before, after = self.run.before, self.run.after
        if any(mark.use == _AUXILIARY for mark in self.marks):
            return True
        if self.said.kind not in _ACTS and self._told(names):
            return True
        if self._placed(names):
            return False
        if before in {"device", "person"}:
            return True
        beside = after in _TAGS and before not in {"zone", "area"}
        return beside and bool(self._noise(names[0], names[-1]))

    def _unfit_before(self, group: list[int]) -> bool:
        """Judge a name and what is said of it: ``main hall open``, ``Kim Vale disarmed``."""
        past = next(k for k in self.counted if k > group[-1])
        apart = self._noise(group[-1] + 1, past)
        if any(mark.use != _AUXILIARY for mark in apart):
            return True
        if self._anchored:
            return False
        opening = self._noise(0, group[0])
        if any(not self._is(mark, *_ARTICLES) for mark in opening):
            return True
        if self._mixed(group):
            return True
        joined = self._noise(group[0], group[-1])
        placed = self._placed(group)
        if any(not self._is(mark, *_WITHIN) for mark in joined) or (joined and not placed):
            return True
        # Kim Vale disarmed, Kim Vale cancelled the alarm; but who knows what booking cancelled?
        acted = self.said.kind in _SETTING or (self.said.kind in _ACTS and len(self.counted) > 1)
        return not placed and not acted

    def _unfit_behind(self, group: list[int]) -> bool:
        """Judge what is said and the name behind it: ``alarm main hall``, ``fault in archive``."""
        last = max(k for k in self.counted if k < group[0])
        linking = self._noise(last + 1, group[0])
        if any(mark.use != _LINK for mark in linking) or self._mixed(group):
            return True
        if linking and self.said.bare:
            return True  # a leak in the cellar: it may be told of, not logged
        if self.said.kind in _ACTS and any(self._is(mark, "of") for mark in linking):
            return True  # the opening of an exhibition
        ended = next((k for k in self.counted if k > group[-1]), len(self.marks))
        trailing = self._noise(group[-1] + 1, ended)
        joined = self._noise(group[0], group[-1])
        if trailing or any(not self._is(mark, *_WITHIN) for mark in joined):
            return True
        free = self.said.numbered and self.said.kind in AT_POINTS and not linking and not joined
        return not free and not self._placed(group)

    def _mixed(self, group: list[int]) -> bool:
        """Tell whether words that could have counted stand among those of a name."""
        return any(
            mark.is_a(Sort.STATE, Sort.PHRASE)
            or (mark.thing and not mark.carrier and not self._of_point(mark))
            for mark in self.marks[group[0] : group[-1]]
        )
