"""Ground and context in, what was found out: figures and keys, no sentences."""

from eventlab.analysis.causes import causes
from eventlab.analysis.run import ANALYSES, listed, ranked, run

__all__ = ["ANALYSES", "causes", "listed", "ranked", "run"]
