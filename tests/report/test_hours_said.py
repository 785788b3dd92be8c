"""A window of the clock is told whatever its hour."""

import pytest

from eventlab.report.said import Said
from eventlab.report.sentences import sentence


@pytest.mark.parametrize("low", [0, 6.5, 7, 12, 23.5])
def test_a_window_of_any_hour_is_told(low):
    figures = {"driver": "clock", "from": low, "to": low + 1, "hits": 5, "days": 6}
    said = Said("point 5", "zone", "site S1", True, "1 May", "2 Jun", figures)
    assert "between" in sentence("follows-clock", said)
