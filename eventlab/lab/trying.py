"""What past alarms of a point would have come to under other rules."""

from collections.abc import Sequence

from eventlab.advice import COUNT, HOLD_OFF, Trial, WhatIf, what_if
from eventlab.lab.portfolio import Portfolio
from eventlab.lab.standing import Standing
from eventlab.settings import Settings

_USUAL = ((HOLD_OFF, (5.0, 10.0, 20.0, 40.0)), (COUNT, (10.0, 20.0, 40.0)))


def usual() -> list[Trial]:
    """Give the trials of who asks for none."""
    return [Trial(rule, seconds) for rule, many in _USUAL for seconds in many]


def replay(
    standing: Standing | Portfolio,
    settings: Settings,
    site: str,
    zone: str,
    tried: Sequence[Trial],
    area: str | None,
) -> WhatIf:
    """Replay the alarms of a point of one site; see `advice.what_if`."""
    if not isinstance(standing, Standing):
        raise TypeError("the alarms of one site are replayed at a time")
    return what_if(
        standing.ground,
        standing.context,
        settings,
        site=site,
        zone=zone,
        trials=tried,
        area=area,
    )
