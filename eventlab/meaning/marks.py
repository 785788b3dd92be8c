"""A wording as a row of marks: what each stretch of it is, which numbers and names belong to whom.

A template is a wording whose words are those of the lexicon, with signs for the rest: ``x`` a word
nobody knows, ``xs`` a few and ``xl`` many of them, ``v`` one that ends as verbs do (``repainted``),
``p`` a name with a word for a place in it,
``l`` a single letter, ``#`` a number, ``#0`` one with zeros before it, ``n`` one with letters,
``t`` a clock time or date, ``?`` a question mark at its end, and ``: , & / | ( )`` for its
structure, where ``|`` stands for every strong separator.
"""

from dataclasses import dataclass, field

from eventlab.meaning.lexicon import Entry, Lexicon, Sort

UNKNOWN = frozenset({"x", "xs", "xl", "l", "p", "v"})
NUMBERS = frozenset({"#", "#0", "n"})
BREAKS = frozenset({"|", ":", ",", "/", "&", "(", ")"})
_SIGNS = BREAKS | {"p", "v", "?"}
OPENINGS = frozenset({"door", "window", "hatch", "gate", "shutter", "skylight", "pir"})
_PLACES = frozenset({"zone", "area"})
_PARTICLES = frozenset({("on",), ("over",), ("off",)})
_ENVIRONMENT = frozenset({"water", "plant"})
_PEOPLE = frozenset({"staff", "employee"})
_JOINED = frozenset({"keypad", "reader", "opening", "zone"})


@dataclass(slots=True)
class Mark:
    """One stretch of a wording.

    Parameters
    ----------
    what : str
        ``entry`` (of the lexicon), ``x`` (unknown), ``#`` (a number), ``tag`` (something with its
        number), ``person``, or one of the marks of structure.
    start, stop : int
        The items of the wording it covers.
    entry : Entry or None
        What the lexicon says.
    role : str
        Of a tag: ``zone``, ``area``, ``user`` or the noun of a label.
    numbers : list of int
        Of a tag: items of its numbers.

    Attributes
    ----------
    sort : Sort or None
        Of an entry.
    thing : str
        Of an entry that names one.
    """

    what: str
    start: int
    stop: int
    entry: Entry | None = None
    role: str = ""
    numbers: list[int] = field(default_factory=list)
    sort: Sort | None = field(init=False, default=None)
    thing: str = field(init=False, default="")

    def __post_init__(self) -> None:
        """Keep at hand what is asked for most: the sort of an entry and the thing it names."""
        if self.entry is not None and self.what == "entry":
            self.sort = self.entry.sort
            if self.sort is Sort.THING:
                self.thing = self.entry.value

    def is_a(self, *sorts: Sort) -> bool:
        """Tell whether this is an entry of one of these sorts."""
        return self.sort is not None and self.sort in sorts

    def to_name(self) -> None:
        """Make it a word of a name."""
        self.what, self.sort, self.thing = "x", None, ""

    @property
    def use(self) -> str:
        """What a word that adds nothing is for: ``auxiliary``, ``link``, ``noise``, ``aside``."""
        quiet = self.is_a(Sort.NOISE, Sort.ASIDE) and self.entry is not None
        return self.entry.value if quiet and self.entry is not None else ""

    @property
    def carrier(self) -> bool:
        """Whether it names what carries something: a zone, a keypad, a siren."""
        return bool(self.thing) and self.entry is not None and self.entry.rank == "carrier"


_OF_NAMES = frozenset({Sort.NAME, Sort.PLACE, Sort.LIFE})


def is_name(mark: Mark) -> bool:
    """Tell whether a mark is an unknown word or part of a name."""
    return mark.sort in _OF_NAMES if mark.sort is not None else mark.what in {"x", "p", "v"}


def scan(template: tuple[str, ...], lexicon: Lexicon) -> list[Mark]:
    """Cut a template into marks, the longest pattern first.

    Parameters
    ----------
    template : tuple of str
        One item for each word; an item may hold several words joined by ``_``.
    lexicon : Lexicon
        The patterns.

    Returns
    -------
    list of Mark
        In the order of the wording; together they cover all its items.
    """
    words = [(word, i) for i, item in enumerate(template) for word in item.split("_")]
    marks: list[Mark] = []
    place = 0
    while place < len(words):
        word, item = words[place]
        found = None
        if word not in UNKNOWN and word not in NUMBERS and word not in BREAKS:
            found = _match(words, place, lexicon)
        if found is not None:
            entry, past = found
            marks.append(Mark("entry", item, words[past - 1][1] + 1, entry))
            place = past
            continue
        what = word if word in _SIGNS else "#" if word in NUMBERS else "x"
        # A question mark behind a name may stand for a letter that an export lost.
        asked = word != "?" or (bool(marks) and not is_name(marks[-1]))
        if word != "t" and asked:
            marks.append(Mark(what, item, item + 1))
        place += 1
    _name_compounds(marks, lexicon)
    _prepositions(marks, lexicon)
    return marks


def _prepositions(marks: list[Mark], lexicon: Lexicon) -> None:
    """Tell ``on`` and ``over`` that join words from what is switched on or is over."""
    for i, mark in enumerate(marks):
        pattern = mark.entry.pattern if mark.entry is not None else ()
        number = i + 2 < len(marks) and marks[i + 2].what == "#"
        if pattern == ("alarm", "on") and number and marks[i + 1].thing == "zone":
            marks[i] = Mark("entry", mark.start, mark.stop, lexicon.entries["alarm",][0])
        if not mark.is_a(Sort.STATE) or pattern not in _PARTICLES:
            continue
        if i + 1 == len(marks):
            if pattern != ("on",) and i > 0 and marks[i - 1].what in {"x", "v"}:
                mark.to_name()  # painted over, going off
            continue
        if pattern == ("off",):
            continue
        following = marks[i + 1]
        article = following.is_a(Sort.NOISE) and following.entry is not None
        joined = following.thing in _JOINED and pattern == ("on",)  # an alarm is over at a zone
        if is_name(following) or article or joined:
            marks[i] = Mark("entry", mark.start, mark.stop, lexicon.entries["in",][0])


def _name_compounds(marks: list[Mark], lexicon: Lexicon) -> None:
    """Let words belong to the name of a place or an opening that follows them at once.

    A server room, a bell tower; and a smoke hatch, a water tank hatch: what opens is no detector,
    whatever its name.
    """
    last = Mark("", 0, 0)
    for i in range(len(marks) - 1, -1, -1):
        mark, following = marks[i], marks[i + 1] if i + 1 < len(marks) else last
        entry = mark.entry
        if entry is None or mark.what != "entry":
            continue
        watched = entry.life_safety not in {"", "unknown"} or mark.thing in _ENVIRONMENT
        told = i > 0 and marks[i - 1].is_a(Sort.STATE, Sort.PHRASE)
        head = len(entry.pattern) == 1 and entry.pattern[0] in lexicon.heads and not told
        # The staff is nobody, staff 4 is somebody.
        if entry.pattern[0] in _PEOPLE and following.what != "#":
            mark.to_name()
        opens = following.entry is not None and following.entry.pattern[-1] in OPENINGS
        # A silver case, a manhole cover: behind a name these are lids only where a state follows.
        lid = mark.thing == "lid" and i > 0 and is_name(marks[i - 1])
        if lid and not following.is_a(Sort.STATE):
            mark.to_name()
        if (watched and opens) or (head and (following.what == "p" or following.is_a(Sort.PLACE))):
            mark.to_name()


def _match(words: list[tuple[str, int]], place: int, lexicon: Lexicon) -> tuple[Entry, int] | None:
    """Find the longest pattern that begins here; noise may stand between its words."""
    skipped = lexicon.skipped
    word = words[place][0]
    keys: list[tuple[str, ...]] = []
    ahead = place + 1
    while ahead < len(words):
        keys.append((word, words[ahead][0]))
        if words[ahead][0] not in skipped:
            break
        ahead += 1
    keys.append((word,))
    best: tuple[Entry, int] | None = None
    for key in keys:
        for entry in lexicon.entries.get(key, ()):
            if best is not None and len(entry.pattern) <= len(best[0].pattern):
                break
            past = place + 1
            for wanted in entry.pattern[1:]:
                while past < len(words) and words[past][0] != wanted and words[past][0] in skipped:
                    past += 1
                if past == len(words) or words[past][0] != wanted:
                    break
                past += 1
            else:
                best = entry, past
    return best


def tagged(marks: list[Mark], template: tuple[str, ...]) -> list[Mark]:
    """Join what has a number with its number: ``zone 7``, ``user no. 4``, ``area b``, ``by 4``.

    Parameters
    ----------
    marks : list of Mark
        As ``scan`` gives them.
    template : tuple of str
        The items they cover.

    Returns
    -------
    list of Mark
        With ``tag`` marks; numbers that belong to a name (``room 12``) are unknown words now.
    """
    out: list[Mark] = []
    i = 0
    while i < len(marks):
        mark = marks[i]
        role = ""
        if mark.is_a(Sort.THING) and mark.entry is not None:
            role = mark.entry.number
        elif mark.is_a(Sort.BY):
            role = "user"
        numbers, past = _numbers(marks, i + 1, role, template) if role else ([], i)
        if numbers:
            out.append(Mark("tag", mark.start, marks[past - 1].stop, mark.entry, role, numbers))
            i = past
            continue
        # A padded number at the very beginning numbers the point: "003 main entrance".
        padded = template[mark.start] == "#0" and mark.start == 0
        if mark.what == "#" and not padded and _within_name(marks, i, out):
            mark.to_name()
        out.append(mark)
        i += 1
    return out


def _numbers(
    marks: list[Mark], i: int, role: str, template: tuple[str, ...]
) -> tuple[list[int], int]:
    """Find the numbers that follow a noun: at once, after ``no.``, ``:`` or within brackets."""
    lettered = False
    while i < len(marks):
        lettered = role == "area" and _letter(template[marks[i].start])
        noise = marks[i].is_a(Sort.NOISE) and marks[i].use not in {"auxiliary", "link"}
        if lettered or not (noise or template[marks[i].start] in {":", "no"}):
            break
        i += 1
    if i == len(marks):
        return [], i
    if marks[i].what != "#" and not lettered:
        return [], i
    if role not in _PLACES and role != "user" and template[marks[i].start] == "n":
        return [], i
    numbers = [marks[i].start]
    i += 1
    while role in _PLACES and i + 1 < len(marks):
        joint = marks[i].what in {",", "&"} or template[marks[i].start] == "and"
        ends = i + 2 == len(marks) or not is_name(marks[i + 2])
        another = marks[i + 1].what == "#" or (lettered and _letter(template[marks[i + 1].start]))
        if not (joint and another and ends):
            break
        numbers.append(marks[i + 1].start)
        i += 2
    return numbers, i


def _letter(item: str) -> bool:
    """Tell whether an item is a single letter (``x`` and ``p`` are signs)."""
    return item == "l" or (len(item) == 1 and item.isalpha() and item not in UNKNOWN)


def _within_name(marks: list[Mark], i: int, before: list[Mark]) -> bool:
    """Tell whether a number stands beside a word that nobody knows: ``room 12``, ``2 main``."""
    behind = bool(before) and is_name(before[-1])
    ahead = i + 1 < len(marks) and is_name(marks[i + 1])
    return behind or (ahead and not (before and before[-1].what == "entry"))
