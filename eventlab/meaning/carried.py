"""What carries the thing a wording speaks of, and the outcome of reading it."""

from collections.abc import Iterable
from dataclasses import dataclass

from eventlab.meaning.lexicon import Reading
from eventlab.schema import Kind

MORE_SAID = "it says more than its words tell us apart"

_MODULES = frozenset({"module", "repeater", "receiver", "keypad", "reader", "output", "supply"})
_ORDER = (
    *("module", "repeater", "receiver", "keypad", "reader", "output", "supply", "printer", "siren"),
    *("opening", "fob", "user", "area", "system", "site"),
)


@dataclass(frozen=True, slots=True)
class Resolved:
    """The outcome: one reading, or the reason why there is none.

    Parameters
    ----------
    reading : Reading or None
        Kind, phase and mode.
    problem : str
        Why nothing is decided; empty where nothing was said at all.
    explicit : bool
        Whether the words themselves name an intruder, and no alarm of just any point.
    thing : str
        What the reading speaks of.
    weak : bool
        Whether only an end was told, with nothing that ended.
    unsaid : bool
        Whether a rule says that these words have two readings.
    """

    reading: Reading | None = None
    problem: str = ""
    explicit: bool = False
    thing: str = ""
    weak: bool = False
    unsaid: bool = False


NOTHING = Resolved()


@dataclass(frozen=True, slots=True)
class Carried:
    """What carries the thing spoken of.

    Parameters
    ----------
    things : tuple of str
        Carriers named, those of tags first.
    pointed : bool
        Whether a point is named: by number, by name, or in another column.
    loosely : bool
        Whether it is named by words alone that need not be a name.
    """

    things: tuple[str, ...] = ()
    pointed: bool = False
    loosely: bool = False

    @property
    def at(self) -> tuple[str, ...]:
        """The narrowings of rules that hold, most telling first."""
        names: list[str] = []
        if "zone" in self.things:
            return ("point", "")
        if "keypad" in self.things:
            names += ["keypad", "module", "point"]
        elif _MODULES & set(self.things):
            names.append("module")
        elif {"siren", "fob", "opening"} & set(self.things) or (
            self.pointed and not {"system", "site"} & set(self.things)
        ):
            names.append("point")
        if "user" in self.things:
            names.append("user")
        if {"system", "site"} & set(self.things) and not names:
            names.append("system")
        return (*names, "")

    @property
    def default(self) -> tuple[str, ...]:
        """What is spoken of where no thing is named, most telling first."""
        if "zone" in self.things:
            return ("zone",)
        named = [name for name in _ORDER if name in self.things]
        told = [
            "module" if n in {"repeater", "receiver", "keypad", "reader", "supply"}
            else "zone" if n == "opening" else n
            for n in named
        ]  # fmt: skip
        if "fob" in told:
            told.append("zone")
        return (*told, "zone") if self.pointed else (*told, "")


def torn(readings: Iterable[Reading]) -> Resolved:
    """Say which readings are left; an arming that leaves points out is an arming."""
    readings = list(readings)
    arming = next((reading for reading in readings if reading.kind is Kind.ARM), None)
    if arming is not None and {r.kind for r in readings} == {Kind.ARM, Kind.BYPASS}:
        return Resolved(arming, thing="arm")
    both = " or ".join(sorted(f"{reading.kind} ({reading.phase})" for reading in readings))
    return Resolved(problem=f"two readings: {both}")
