"""What leaves a panel, and how a path and a clock may be wrong."""

import polars as pl
import pytest

from eventlab.schema import Kind, Mode, Pattern, Phase, Timing, Witness
from eventlab.simulate import ordinary
from eventlab.simulate.model import Record
from eventlab.simulate.signalling import Cut, Line, Sending, Wrong

ALARM = Record(1000, Kind.INTRUSION_ALARM, Phase.BEGIN, "7", "1")


def leaves(line, *log):
    records = sorted([ALARM, *log], key=lambda record: record.at)
    return Sending(line, records).leaves(ALARM.at, ALARM.kind, ALARM.phase, ALARM.area)


def act(at, kind, **more):
    return Record(at, kind, Phase.MOMENT, area="1", **more)


@pytest.mark.parametrize(
    ("line", "log", "at"),
    [
        (Line(), (), 1000),
        (Line(abort_s=30), (act(1029, Kind.DISARM),), None),
        (Line(abort_s=30), (act(1031, Kind.DISARM),), 1000),
        (Line(part_local=True), (act(10, Kind.ARM, mode=Mode.PART),), None),
        (Line(part_local=True), (act(10, Kind.ARM, mode=Mode.FULL),), 1000),
        (Line(confirmed_only=True), (), None),
        (Line(confirmed_only=True), (act(1400, Kind.CONFIRMED_ALARM),), 1400),
    ],
)
def test_what_leaves_a_panel(line, log, at):
    assert leaves(line, *log) == at


def test_a_cut_and_a_wrong_clock():
    assert [Cut(10, 20).holds(at) for at in (9, 10, 19, 20)] == [False, True, True, False]
    assert Cut(10, None).holds(10**9)
    assert Wrong(0, 5.0, 2.0).at(10 * 86_400) == 25


def test_planted_troubles_stand_in_the_logs():
    asked = (Pattern.PATH_DOWN, Pattern.CLOCK_FAULT)
    made = ordinary(3, sites=8, troubles=asked, both=True)
    assert set(made.planted["pattern"]) >= {Pattern.PATH_DOWN}
    # What a lost path did not bring, and what lies between exports, stands in no row.
    assert (made.planted.filter(pl.col("pattern").is_in(asked))["told"] > 0).all()
    lost = made.events.filter(pl.col("timing") == Timing.DOUBTFUL)
    assert (lost["wall"].dt.year() == 2000).all()
    assert lost["at"].null_count() == lost.height
    assert (lost["witness"] == Witness.PANEL).all()
    assert made.events["placed"].null_count() == 0
