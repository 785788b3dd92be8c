"""The parts that columns of a log play, and which column plays which."""

from dataclasses import dataclass, field
from enum import StrEnum

from eventlab.meaning.switches import Switch


class Part(StrEnum):
    """The part that a column plays."""

    WHEN = "when"
    DATE = "date"
    TIME = "time"
    RECEIVED = "received"
    SITE = "site"
    CODE = "code"
    QUALIFIER = "qualifier"
    AREA = "area"
    ZONE = "zone"
    MEMBER = "member"
    """What the point belongs to: a building, a bus, a module; together they name the point."""
    ZONE_NAME = "zone_name"
    PERSON = "person"
    PERSON_NAME = "person_name"
    ZONE_OR_PERSON = "zone_or_person"
    WORDS = "words"
    STATE = "state"
    """Whether what another column tells begins or ends."""
    PATH = "path"
    HANDLING = "handling"
    SERIAL = "serial"
    ASIDE = "aside"
    """What says nothing of what happened: a priority, whether it was printed."""


@dataclass(frozen=True)
class Roles:
    """The columns of a log by part.

    Parameters
    ----------
    columns : dict of Part to list of str
        Column names of ``Sheet.cells``, in the order of the file; members from the widest (a
        building) to the narrowest.
    evidence : tuple of str
        How the parts were found.
    open : tuple of str
        Columns that no heading tells and whose cells may name a point, an area, a person, a site.
    inverted : bool or None
        Of a column of states that do not say themselves what they mean (``Y``, ``0``): whether
        the first of its pair ends (true) or begins; None where it is not decided.
    switch : Switch or None
        What the cells of the column of states stand for.
    plural : frozenset of str
        Columns whose heading speaks of several (``Zones``).
    levels : dict of str to int
        How wide what a member names is: a building 1, a module 7.
    """

    columns: dict[Part, list[str]] = field(default_factory=dict)
    evidence: tuple[str, ...] = ()
    open: tuple[str, ...] = ()
    inverted: bool | None = None
    switch: Switch | None = None
    plural: frozenset[str] = frozenset()
    levels: dict[str, int] = field(default_factory=dict)

    def one(self, part: Part) -> str | None:
        """Return the first column that plays a part, if any."""
        found = self.columns.get(part)
        return found[0] if found else None

    @property
    def meant(self) -> Switch | None:
        """What the cells of the column of states stand for, the way round it was settled."""
        return self.switch.turned() if self.switch is not None and self.inverted else self.switch

    def but(self, left_out: Part) -> dict[Part, list[str]]:
        """Return the columns of all parts but one."""
        return {part: list(held) for part, held in self.columns.items() if part != left_out}

    @property
    def timed(self) -> bool:
        """Whether each row can tell when it happened."""
        return bool(self.one(Part.WHEN) or self.one(Part.RECEIVED) or self.one(Part.DATE))

    @property
    def telling(self) -> bool:
        """Whether each row can tell what happened."""
        return bool(self.one(Part.CODE) or self.one(Part.WORDS))
