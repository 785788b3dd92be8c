"""A share of the fuzz run: 2,000 inputs to rows of cells, some of these on to events.

``python -m tests.fuzz`` runs 200,000 all the way, spread over processes.
"""

import pytest
from hypothesis import HealthCheck, given, settings

from tests.fuzz.inputs import make
from tests.fuzz.reading import read_whole
from tests.fuzz.running import Ran, run
from tests.intake.test_property import tables

NUMBER = 2_000
EACH = 2  # of these one goes on to events: that takes eight times as long


@pytest.mark.timeout(900)
def test_many_inputs_are_read_or_refused_with_a_reason():
    ran = Ran()
    for n in range(NUMBER):
        ran.one(n, make(n), sheet_only=n % EACH > 0)
    assert not ran.wrong, "\n".join(ran.wrong)
    assert ran.rows > 10 * NUMBER
    assert ran.refused < NUMBER / 10


@pytest.mark.timeout(900)
@settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck))
@given(tables())
def test_made_up_tables_are_read_to_the_end(text):
    ran = Ran()
    ran.one(text, text.encode())
    assert not ran.wrong, "\n".join(ran.wrong)


def test_an_input_is_the_same_each_time():
    numbers = [n for n in range(60) if not make(n).startswith(b"PK")]  # these hold the time
    assert len(numbers) > 50
    assert [make(n) for n in numbers] == [make(n) for n in numbers]


@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_many_inputs_are_read_to_the_end():
    ran = run(0, NUMBER)
    assert not ran.wrong, "\n".join(ran.wrong)


def test_two_columns_that_could_be_the_same_one_thing_only_are_asked_about():
    _, reading = read_whole(make(143_296), "log.csv")
    assert [question.key for question in reading.questions] == ["columns"]
    assert [choice.value for choice in reading.questions[0].choices] == ["3:user", "6:user"]
