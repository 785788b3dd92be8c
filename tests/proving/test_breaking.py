"""No break-in is missed that a log can show: a tenth of them, and two worlds of two hundred each.

The full figures: ``python -m tests.proving.breaking``.
"""

import pytest

from tests.proving.breaking import EACH, HELD_OUT, table, told

ALONE = "shut again"
"""A window that was forced and pulled to: told as one that alarmed alone, and as no more."""


def hold(judged):
    """None is missed; all but those no log can tell from a rattle are possible intrusions."""
    print(table(judged))
    for one in table(judged).to_dicts():
        assert one["missed"] == 0, one
        assert one["way"] == ALONE or one["possible_intrusion"] == one["break_ins"], one


def test_a_tenth_of_the_break_ins_is_told_each_time():
    judged = told(7, EACH // 10)
    assert judged.height > 0.9 * judged["way"].n_unique() * EACH / 10
    hold(judged)


@pytest.mark.slow
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("shifted", [False, True])
def test_two_hundred_break_ins_of_each_way_are_told_each_time(shifted):
    hold(told(HELD_OUT, EACH, shifted=shifted))
