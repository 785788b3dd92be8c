"""What to check, what it costs in detection, how to prove it, and what to mind."""

from eventlab.advice.advise import advise
from eventlab.advice.points import described
from eventlab.advice.proof import ASKED, PROOF, nights_of, proof

__all__ = ["ASKED", "PROOF", "advise", "described", "nights_of", "proof"]
