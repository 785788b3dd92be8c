"""What several analyses ask of the same ground is worked out once, and goes with it."""

import gc
import weakref

from eventlab.analysis.kept import kept
from eventlab.context import Context
from eventlab.ground import lay
from eventlab.schema import EVENT, empty
from eventlab.settings import Settings


def laid():
    return lay(empty(EVENT), Context.empty(), Settings())


def test_an_answer_is_worked_out_once_for_each_ground_and_question():
    asked = []

    @kept
    def answer(ground, kinds, *, near=1):
        asked.append((kinds, near))
        return ground.sites

    first, second = laid(), laid()
    assert answer(first, ["a"]) is answer(first, ["a"])
    answer(first, ["b"])
    answer(first, ["a"], near=2)
    assert answer(second, ["a"]) is second.sites
    assert asked == [(["a"], 1), (["b"], 1), (["a"], 2), (["a"], 1)]


def test_what_was_kept_goes_with_its_ground():
    @kept
    def answer(_ground):
        return {"some"}

    ground = laid()
    answer(ground)
    gone = weakref.ref(ground)
    del ground
    gc.collect()
    assert gone() is None
