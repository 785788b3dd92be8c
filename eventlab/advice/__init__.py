"""What to check, what it costs in detection, how to prove it, and what to mind."""

from eventlab.advice.advise import advise
from eventlab.advice.points import described
from eventlab.advice.proof import ASKED, PROOF, nights_of, proof
from eventlab.advice.training import TRAINED, trained
from eventlab.advice.trials import COUNT, HOLD_OFF, PAIR, Trial, WhatIf
from eventlab.advice.what_if import what_if

__all__ = [
    "ASKED",
    "COUNT",
    "HOLD_OFF",
    "PAIR",
    "PROOF",
    "TRAINED",
    "Trial",
    "WhatIf",
    "advise",
    "described",
    "nights_of",
    "proof",
    "trained",
    "what_if",
]
