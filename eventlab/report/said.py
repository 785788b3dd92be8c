"""What a sentence may use of one finding."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Said:
    """What a sentence may use of one finding.

    Parameters
    ----------
    subject : str
        The point, area, person or site, named for people.
    subject_kind : str
        What it is.
    site : str
        The site, named for people.
    standing : bool
        It still holds where the log ends.
    since, until : str
        Wall times of the site.
    figures : mapping
        As the analysis packed them.
    ratio, ratio_low, ratio_high : float or None
        Against the rest of the site.
    q_value : float or None
        Adjusted p-value, where one was tested.
    """

    subject: str
    subject_kind: str
    site: str
    standing: bool
    since: str
    until: str
    figures: Mapping[str, Any] = field(default_factory=dict)
    ratio: float | None = None
    ratio_low: float | None = None
    ratio_high: float | None = None
    q_value: float | None = None

    def number(self, name: str) -> float | None:
        """Return a figure, or None where it is missing."""
        value = self.figures.get(name)
        return None if value is None else float(value)

    def get(self, name: str) -> float:
        """Return a figure, 0 where it is missing."""
        return self.number(name) or 0.0
