"""Several columns of times without headings: which says when it happened."""

import pytest

from tests.meaning.exports import asked, reading, told

ALARMS = ["Zone 1 alarm", "Zone 2 alarm", "Mains failure", "Zone 1 alarm"]


def clocks(*columns):
    return "".join(",".join(row) + "\n" for row in zip(*columns, strict=True))


HAPPENED = [f"13/03/2025 18:{n}0:00" for n in range(4)]


@pytest.mark.parametrize("first", [True, False])
def test_what_was_received_is_not_what_happened(first):
    received = [f"13/03/2025 18:{n}0:07" for n in range(4)]
    order = [HAPPENED, received] if first else [received, HAPPENED]
    found = reading(clocks(order[0], ALARMS, order[1]))
    assert not found.questions
    assert found.events["wall"].dt.second().to_list() == [0] * 4


def test_times_of_which_neither_is_always_first_are_asked_about():
    other = [
        "13/03/2025 18:00:07",
        "13/03/2025 18:09:00",
        "13/03/2025 18:20:07",
        "13/03/2025 18:31:00",
    ]
    text = clocks(HAPPENED, ALARMS, other)
    assert asked(text) == ["times"]
    for answer, second in (("1", [0, 0, 0, 0]), ("3", [7, 0, 7, 0])):
        found = reading(text, answers={"times": answer})
        assert found.events["wall"].dt.second().to_list() == second
        assert found.settled["times"] == answer
        assert found.answered == {"times"}


@pytest.mark.parametrize("first", [True, False])
def test_how_long_it_lasted_is_not_when_it_happened(first):
    days = ["13/03/2025"] * 4
    lasted = ["00:00:09", "00:03:00", "00:00:02", "01:00:00"]
    when = ["18:00:00", "18:10:00", "18:20:00", "18:30:00"]
    order = [lasted, when] if first else [when, lasted]
    found = reading(clocks(days, order[0], ALARMS, order[1]))
    assert not found.questions
    assert found.events["wall"].dt.hour().to_list() == [18] * 4


def test_the_same_time_twice_is_no_question():
    assert len(told(clocks(HAPPENED, ALARMS, HAPPENED))) == 4
