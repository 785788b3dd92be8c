"""The register of work: progress, failures, stopping, forgetting."""

from threading import Event

import pytest

from dashboards.jobs import Jobs, State
from eventlab.errors import StoreBusy
from tests.dashboards.test_upload import wait


@pytest.fixture
def register():
    made = Jobs(workers=1, keep=3)
    yield made
    made.close()


def test_work_tells_how_far_it_is_and_what_came_out(register):
    seen, go = Event(), Event()

    def work(progress):
        progress("a.csv", 1, 3)
        seen.set()
        go.wait(5)
        return "result"

    key = register.start(work)
    assert seen.wait(5)
    now = register.ask(key)
    assert (now.state, now.what, now.done, now.total) == (State.RUNNING, "a.csv", 1, 3)
    later = register.start(lambda _: None)
    assert register.ask(later).state is State.QUEUED
    go.set()
    assert wait(register, key).result == "result"
    assert wait(register, later).state is State.DONE


def test_an_error_for_people_is_told_and_any_other_is_not_shown(register, caplog):
    def busy(_):
        raise StoreBusy("other writers never left a turn", do="Try again.")

    def wrong(_):
        raise ZeroDivisionError("secret inside")

    assert wait(register, register.start(busy)).error == (
        "other writers never left a turn. Try again."
    )
    told = wait(register, register.start(wrong))
    assert told.state is State.FAILED
    assert "secret" not in told.error
    assert "secret inside" in caplog.text


def test_work_stops_at_its_next_step(register):
    begun, go = Event(), Event()

    def work(progress):
        progress("a", 0, 2)
        begun.set()
        go.wait(5)
        progress("b", 1, 2)

    key = register.start(work)
    begun.wait(5)
    assert register.stop(key).stopping
    assert register.ask(key).stopping
    go.set()
    over = wait(register, key)
    assert over.state is State.STOPPED
    assert over.passed == ("a",)
    assert not register.stop("never").stopping


def test_a_wish_that_came_in_the_last_step_takes_no_result_away(register):
    begun, go = Event(), Event()

    def work(progress):
        progress("a", 0, 1)
        begun.set()
        go.wait(5)
        progress("", 1, 1)
        return "result"

    key = register.start(work)
    begun.wait(5)
    register.stop(key)
    go.set()
    assert wait(register, key).result == "result"


def test_what_is_not_known_is_lost_and_old_work_is_forgotten(register):
    assert register.ask("never").state is State.LOST
    register.stop("never")
    keys = [register.start(lambda _: None) for _ in range(6)]
    for key in keys[-2:]:
        wait(register, key)
    register.start(lambda _: None)
    assert register.ask(keys[0]).state is State.LOST
    assert wait(register, keys[-1]).state is State.DONE
