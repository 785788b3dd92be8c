"""Random exports in any order, taken, answered otherwise, read again and dropped: one model."""

import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from eventlab.errors import OtherAnswers
from eventlab.store import Store
from tests.store.model import Model, export_of, held, keep_and_take, pack, read

# Steps of the log: the same second, jitter below a minute, more than a minute.
STEPS = st.sampled_from([0, 0, 1, 30, 61, 200])
ROWS = st.one_of(
    st.lists(st.sampled_from(["1", "2"]), min_size=1, max_size=2),
    st.sampled_from(["odd", "what?"]),
)


@st.composite
def histories(draw):
    """What happened at two sites, and rows that nobody knows the site of."""
    second, rows = 0, []
    for _ in range(draw(st.integers(4, 25))):
        second += draw(STEPS)
        what = draw(ROWS)
        site = draw(st.sampled_from(["S1", "S1", "S2"]))
        if isinstance(what, str) and draw(st.booleans()):
            site = ""
        rows.append([site, second, what])
    return rows


class Exports(RuleBasedStateMachine):
    def __init__(self):
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.store = Store.create(self.folder / "store", buckets=2)
        self.model = Model()
        self.log = []

    def teardown(self):
        try:
            self.order_does_not_matter()
            self.a_rebuild_of_all_changes_nothing()
        finally:
            shutil.rmtree(self.folder)

    @initialize(log=histories())
    def something_happened(self, log):
        self.log = log

    def slice_of(self, data):
        first, last = sorted(data.draw(st.integers(0, len(self.log))) for _ in range(2))
        return self.log[first:last]

    def take(self, rows):
        data = pack(rows)
        export = export_of(data)
        if any(export.sha256 == known.sha256 for known, _ in self.model.exports):
            return
        taken = keep_and_take(self.store, data)
        expected = self.model.take(export, data)
        assert (taken.read, taken.repeated, taken.unread) == expected
        assert taken.rows == len(rows)

    @rule(data=st.data())
    def cut(self, data):
        self.take(self.slice_of(data))

    @rule(data=st.data())
    def newest_first(self, data):
        self.take(self.slice_of(data)[::-1])

    @rule(data=st.data())
    def filtered(self, data):
        without = data.draw(st.sampled_from([["1"], ["2"], "odd", "what?"]))
        self.take([row for row in self.slice_of(data) if row[2] != without])

    @rule(data=st.data())
    def glued(self, data):
        self.take(self.slice_of(data) + self.slice_of(data))

    @rule(data=st.data())
    def cut_short(self, data):
        """The original is written, the rest never happens; the next take finishes it."""
        packed = pack(self.slice_of(data))
        export = export_of(packed)
        self.store.keep(packed, sha256=export.sha256, name=export.name)

    def pick(self, data):
        return data.draw(st.sampled_from(self.model.exports))

    @precondition(lambda self: self.model.exports)
    @rule(data=st.data())
    def taken_twice(self, data):
        export, packed = self.pick(data)
        version = self.store.version()
        again = self.store.take(read(export, packed), export)
        assert again.already
        assert again.repeated == again.rows == export.rows
        with pytest.raises(OtherAnswers):
            self.store.take(read(export, packed), replace(export, answers={"x": "y"}))
        assert self.store.version() == version

    @precondition(lambda self: self.model.exports)
    @rule(data=st.data())
    def read_again(self, data):
        self.store.rebuild([data.draw(st.sampled_from(["S1", "S2", "S3", ""]))], read)

    @precondition(lambda self: self.model.exports)
    @rule(data=st.data())
    def dropped(self, data):
        export, packed = self.pick(data)
        self.store.rebuild([], read, drop=frozenset({export.sha256}))
        self.model.exports.remove((export, packed))
        assert self.store.export(export.sha256) is None

    @precondition(lambda self: self.model.exports)
    @rule(data=st.data(), site=st.sampled_from([None, "S1", "S3"]), odd=st.booleans())
    def answered_otherwise(self, data, site, odd):
        before, packed = self.pick(data)
        after = replace(before, site=site, answers={"odd": "test report"} if odd else {})
        self.store.rebuild([], read, change={before.sha256: after})
        self.model.exports[self.model.exports.index((before, packed))] = (after, packed)
        assert self.store.export(before.sha256) == after

    @rule()
    def tidied(self):
        assert self.store.tidy().problem is None

    @invariant()
    def the_store_holds_what_the_model_holds(self):
        rows = self.model.rows()
        assert held(self.store) == rows
        assert len(rows) == sum(self.model.largest().values())

    @invariant()
    def every_row_is_accounted_for(self):
        listed = self.store.exports()
        assert listed["sha256"].to_list() == [e.sha256 for e, _ in self.model.exports]
        assert (listed["rows"] == listed["read"] + listed["repeated"] + listed["unread"]).all()
        assert (listed["repeated"] >= 0).all()

    @invariant()
    def nothing_is_wrong(self):
        assert {problem.what for problem in self.store.check()} <= {
            "an export was kept but not taken, or not to the end"
        }
        for export, packed in self.model.exports:
            assert self.store.original(export.sha256) == packed

    def order_does_not_matter(self):
        other = Store.create(self.folder / "other", buckets=3)
        for export, packed in reversed(self.model.exports):
            other.keep(packed, sha256=export.sha256, name=export.name)
            other.take(read(export, packed), export)
        assert held(other).keys() == held(self.store).keys()

    def a_rebuild_of_all_changes_nothing(self):
        before = held(self.store)
        self.store.rebuild(["S1", "S2", "S3", ""], read)
        assert held(self.store) == before


quick = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
Exports.TestCase.settings = settings(max_examples=10, stateful_step_count=8, **quick)
TestExports = Exports.TestCase


class ManyExports(Exports):
    """The same for longer."""


ManyExports.TestCase.settings = settings(max_examples=120, stateful_step_count=15, **quick)
asked_for = pytest.mark.skipif("'slow' not in config.getoption('markexpr')", reason="-m slow")
TestManyExports = pytest.mark.slow(asked_for(pytest.mark.timeout(3600)(ManyExports.TestCase)))
