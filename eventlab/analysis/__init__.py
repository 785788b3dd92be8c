"""Ground and context in, what was found out: figures and keys, no sentences."""

from eventlab.analysis.calibration import Known, learn, unseen
from eventlab.analysis.causes import causes, evidence
from eventlab.analysis.odds import CAUSE_ORDER, base_rates, probabilities
from eventlab.analysis.outcomes import LEARNED, USE, matched
from eventlab.analysis.run import ANALYSES, listed, ranked, run

__all__ = [
    "ANALYSES",
    "CAUSE_ORDER",
    "LEARNED",
    "USE",
    "Known",
    "base_rates",
    "causes",
    "evidence",
    "learn",
    "listed",
    "matched",
    "probabilities",
    "ranked",
    "run",
    "unseen",
]
