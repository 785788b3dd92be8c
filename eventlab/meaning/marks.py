"""A wording as a row of marks: what each stretch of it is, which numbers and names belong to whom.

A template is a wording whose words are those of the lexicon, with signs for the rest:
``x`` a word or words nobody knows (``xl`` many), ``l`` a single letter, ``#`` a number, ``n`` a
number with letters, ``t`` a clock time or date, and the marks ``: , & / | ( )`` of its structure,
where ``|`` stands for every strong separator.
"""

from dataclasses import dataclass, field

from eventlab.meaning.lexicon import Entry, Lexicon, Sort

UNKNOWN = frozenset({"x", "xl", "l"})
NUMBERS = frozenset({"#", "n"})
BREAKS = frozenset({"|", ":", ",", "/", "&", "(", ")"})
_PLACES = frozenset({"zone", "area"})


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
    """

    what: str
    start: int
    stop: int
    entry: Entry | None = None
    role: str = ""
    numbers: list[int] = field(default_factory=list)

    def is_a(self, *sorts: Sort) -> bool:
        """Tell whether this is an entry of one of these sorts."""
        return self.entry is not None and self.what == "entry" and self.entry.sort in sorts

    @property
    def thing(self) -> str:
        """The thing it names, or nothing."""
        return self.entry.value if self.entry is not None and self.is_a(Sort.THING) else ""

    @property
    def carrier(self) -> bool:
        """Whether it names what carries something: a zone, a keypad, a siren."""
        return self.is_a(Sort.THING) and self.entry is not None and self.entry.rank == "carrier"


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
        what = word if word in BREAKS else "#" if word in NUMBERS else "x"
        if word != "t":
            marks.append(Mark(what, item, item + 1))
        place += 1
    return marks


def _match(words: list[tuple[str, int]], place: int, lexicon: Lexicon) -> tuple[Entry, int] | None:
    noise = lexicon.noise
    for entry in lexicon.entries.get(words[place][0], ()):
        past = place + 1
        for wanted in entry.pattern[1:]:
            while past < len(words) and words[past][0] != wanted and words[past][0] in noise:
                past += 1
            if past == len(words) or words[past][0] != wanted:
                break
            past += 1
        else:
            return entry, past
    return None


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
        if mark.what == "#" and _within_name(marks, i, out):
            mark.what = "x"
        out.append(mark)
        i += 1
    return out


def _numbers(
    marks: list[Mark], i: int, role: str, template: tuple[str, ...]
) -> tuple[list[int], int]:
    """Find the numbers that follow a noun: at once, after ``no.``, ``:`` or within brackets."""
    while i < len(marks) and (marks[i].is_a(Sort.NOISE) or template[marks[i].start] in {":", "no"}):
        i += 1
    if i == len(marks):
        return [], i
    lettered = role == "area" and template[marks[i].start] in {"l", "a"}
    if marks[i].what != "#" and not lettered:
        return [], i
    if role not in _PLACES and role != "user" and template[marks[i].start] == "n":
        return [], i
    numbers = [marks[i].start]
    i += 1
    while role in _PLACES and i + 1 < len(marks):
        joint = marks[i].what in {",", "&"} or template[marks[i].start] == "and"
        ends = i + 2 == len(marks) or marks[i + 2].what != "x"
        if not (joint and marks[i + 1].what == "#" and ends):
            break
        numbers.append(marks[i + 1].start)
        i += 2
    return numbers, i


def _within_name(marks: list[Mark], i: int, before: list[Mark]) -> bool:
    """Tell whether a number stands beside a word that nobody knows: ``room 12``, ``2 main``."""
    behind = bool(before) and before[-1].what == "x"
    ahead = i + 1 < len(marks) and marks[i + 1].what == "x"
    return behind or (ahead and not (before and before[-1].what == "entry"))
