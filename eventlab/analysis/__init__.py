"""Ground and context in, what was found out: figures and keys, no sentences."""

from eventlab.analysis.causes import causes
from eventlab.analysis.run import ANALYSES, ranked, run

__all__ = ["ANALYSES", "causes", "ranked", "run"]
