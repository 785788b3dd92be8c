"""Exports unite as multisets; the cases are those measured for the rule."""

import random
from collections import Counter
from dataclasses import replace

import polars as pl
import pytest

from eventlab.errors import OtherAnswers, StoreError
from eventlab.store import Store
from tests.logbook import log
from tests.store.model import READER, Model, export_of, held, keep_and_take, pack, read

# A point that chatters: the same second more than once.
RUN = [["S1", second, ["7"]] for second in (0, 100, 100, 100, 200, 300, 300, 400, 500)]


@pytest.fixture
def store(tmp_path):
    return Store.create(tmp_path / "store", buckets=3)


def counts(store):
    return Counter(key for key, _ in held(store))


def take_both(store, *exports):
    """Take exports and hold the store to the model after each; return what was told."""
    model, told = Model(), []
    for rows in exports:
        taken = keep_and_take(store, pack(rows))
        expected = model.take(export_of(pack(rows)), pack(rows))
        assert (taken.read, taken.repeated, taken.unread) == expected
        assert taken.rows == taken.read + taken.repeated + taken.unread == len(rows)
        assert held(store) == model.rows()
        assert counts(store) == model.largest()
        told.append(taken)
    return told


@pytest.mark.parametrize("cut", range(1, len(RUN)))
def test_an_overlap_cut_anywhere_doubles_nothing_and_loses_nothing(store, cut):
    # The second export begins two rows before the cut, also inside the run of equal rows.
    take_both(store, RUN[:cut], RUN[max(0, cut - 2) :])
    if cut not in {2, 3, 4, 6}:
        assert sum(counts(store).values()) == len(RUN)


def test_a_second_strictly_inside_both_keeps_its_real_repeats(store):
    first, second = take_both(store, RUN[:7], RUN[1:])
    assert (first.read, second.read, second.repeated) == (7, 2, 6)
    assert counts(store)["S1", 100, "intrusion-alarm", "7", None] == 3


def test_a_filtered_export_first_is_filled_up(store):
    filtered = [row for row in RUN if row[1] != 300]
    _, second = take_both(store, filtered, RUN)
    assert second.read == 2


def test_a_file_glued_of_two_overlapping_exports_doubles_nothing(store):
    glued = RUN[:7] + RUN[1:]
    (taken,) = take_both(store, glued)
    assert (taken.read, taken.repeated) == (9, 6)
    assert counts(store) == Counter(("S1", s, "intrusion-alarm", "7", None) for _, s, _ in RUN)


def test_newest_first_is_cut_in_its_own_direction(store):
    glued = RUN[::-1][:7] + RUN[::-1][1:]
    (taken,) = take_both(store, glued)
    assert taken.read == len(RUN)


def test_a_step_back_within_a_minute_is_jitter_and_cuts_nothing(store):
    jitter = [["S1", second, ["7"]] for second in (0, 100, 160, 100, 200, 300)]
    (taken,) = take_both(store, jitter)
    assert taken.read == 6


def test_sites_are_cut_on_their_own(store):
    # By site, then time: going on to the next site is no turn.
    by_site = [["S1", s, ["1"]] for s in (0, 500, 500)] + [["S2", s, ["1"]] for s in (0, 500, 500)]
    (taken,) = take_both(store, by_site)
    assert taken.read == 6


def test_a_file_in_no_order_at_all_is_not_cut_to_pieces(store):
    shuffled = [["S1", n // 3 * 100, ["7"]] for n in range(60)]
    random.Random(1).shuffle(shuffled)
    taken = keep_and_take(store, pack(shuffled))
    assert taken.read == 60


def test_a_clock_that_was_set_back_does_not_cut(store):
    events = log("""
        2026-03-01 10:00:00 activation zone=1
        2026-03-01 10:00:00 activation zone=1
        2026-03-01 10:10:00 clock-set
        2026-03-01 10:00:00 activation zone=1
        2026-03-01 10:20:00 activation zone=1
    """)
    data = b"[1, 2, 3, 4, 5]"
    export = export_of(data)
    store.keep(data, sha256=export.sha256, name="set.csv")
    assert store.take(events, export).read == 5


def test_rows_that_meet_in_a_second_are_told_as_seam(store):
    first, second = take_both(store, RUN[:3], RUN[3:])
    assert first.seam == 0
    assert second.seam == 1
    assert second.repeated == 1  # of the three in that second two are kept: the larger count


def test_a_seam_inside_a_third_export_is_no_seam(store):
    assert [taken.seam for taken in take_both(store, RUN[:6], RUN[:3], RUN[3:])] == [0, 0, 0]


def test_one_row_with_several_events_is_repeated_only_when_all_are_known(store):
    first, second, third = take_both(
        store, [["S1", 0, ["1"]]], [["S1", 0, ["1", "2"]]], [["S1", 0, ["2", "1"]]]
    )
    assert (first.read, second.read, second.events) == (1, 1, 1)
    assert (third.read, third.repeated) == (0, 1)


def test_unread_rows_unite_by_their_text(store):
    rows = [["S1", 0, "what?"], ["S1", 0, "what?"], ["S1", 5, "what?"], ["", None, "???"]]
    first, second = take_both(store, rows, [*rows, ["", None, "???"], ["S1", 9, ["1"]]])
    assert (first.read, first.unread) == (0, 4)
    assert (second.read, second.repeated, second.unread) == (1, 4, 1)


def take_told(store, name, text):
    """Take events told the short way; a row of the year 2000 stands behind the row above it."""
    events = log(text)
    unsure = pl.col("wall").dt.year() == 2000
    before = pl.when(~unsure).then("placed").forward_fill().backward_fill()
    steps = pl.duration(microseconds=pl.col("row") - pl.when(~unsure).then("row").forward_fill())
    events = events.with_columns(
        at=pl.when(~unsure).then("at"),
        placed=before + steps.fill_null(pl.duration(microseconds=-1)),
        reading=pl.lit(READER),
    )
    data = str([name, *range(events["row"].n_unique() - 1)]).replace("'", '"').encode()
    export = export_of(data)
    store.keep(data, sha256=export.sha256, name=name)
    return store.take(events, export)


RESET = """
    2026-03-01 10:00:00 arm
    2000-01-01 00:00:00 system-restart
    2000-01-01 00:00:05 mains-loss
    2026-03-02 10:00:00 arm
"""
RESET_AGAIN = RESET.replace("03-02", "03-04").replace("03-01", "03-03")


def test_a_clock_that_begins_anew_is_told_once_where_both_exports_show_it(store):
    take_told(store, "a", RESET)
    taken = take_told(store, "b", RESET + RESET_AGAIN.strip("\n"))
    assert (taken.read, taken.repeated) == (4, 4)


def test_two_times_that_a_clock_began_anew_stay_two(store):
    """The clock says the same after each loss of power; what stands before it does not."""
    take_told(store, "a", RESET)
    taken = take_told(store, "b", RESET_AGAIN)
    assert (taken.read, taken.repeated) == (4, 0)
    kinds = store.events().collect()["kind"]
    assert (kinds == "system-restart").sum() == (kinds == "mains-loss").sum() == 2
    assert store.check() == []


def test_a_clock_that_begins_anew_before_the_first_sure_row(store):
    """Nothing stands before it in either: then what comes next decides."""
    cut = RESET.partition("arm\n")[2]
    take_told(store, "a", cut)
    assert take_told(store, "b", cut + "    2026-03-09 10:00:00 arm\n").repeated == 3


def test_the_same_again_changes_nothing(store):
    data = pack([*RUN, ["S1", 900, "what?"]])
    keep_and_take(store, data)
    before, version = held(store), store.version()
    again = keep_and_take(store, data)
    assert again.already
    assert (again.rows, again.read, again.repeated, again.unread) == (10, 0, 10, 0)
    assert (held(store), store.version()) == (before, version)


def test_the_same_bytes_with_other_answers_are_refused_with_the_way_out(store):
    data = pack(RUN)
    keep_and_take(store, data)
    version = store.version()
    for how in ({"answers": {"dates": "day-first"}}, {"site": "S2"}):
        with pytest.raises(OtherAnswers, match="eventlab retake"):
            keep_and_take(store, data, **how)
    assert store.version() == version


def test_an_export_of_nothing_new_is_still_in_the_store(store):
    keep_and_take(store, pack(RUN))
    taken = keep_and_take(store, pack(RUN[2:6]))
    assert (taken.read, taken.repeated) == (0, 4)
    assert keep_and_take(store, pack(RUN[2:6])).already
    assert store.exports()["repeated"].to_list() == [0, 4]


def test_an_empty_export_is_taken_too(store):
    assert keep_and_take(store, b"[]").rows == 0
    assert keep_and_take(store, b"[]").already


def test_events_that_do_not_account_for_every_row_are_refused(store):
    data = pack(RUN)
    export = export_of(data)
    store.keep(data, sha256=export.sha256, name="log.csv")
    with pytest.raises(StoreError, match="8 of 9 rows"):
        store.take(read(export, data).filter(pl.col("row") != 4), export)
    assert store.events().collect().is_empty()


def test_an_export_whose_original_was_not_kept_is_refused(store):
    with pytest.raises(StoreError, match="not kept"):
        store.take(read(export_of(pack(RUN)), pack(RUN)), export_of(pack(RUN)))


def test_rows_of_another_reader_are_refused_until_the_site_is_rebuilt(store):
    keep_and_take(store, pack(RUN[:3]))
    data = pack(RUN[4:])
    export = export_of(data)
    newer = read(export, data).with_columns(reading=pl.lit("reader-2+answers"))
    store.keep(data, sha256=export.sha256, name="log.csv")
    export = replace(export, reading="reader-2+answers")
    with pytest.raises(StoreError, match="another version of the reader"):
        store.take(newer, export)
    assert store.readings(["S1"]).rows() == [("S1", "reader-1")]
    store.rebuild(["S1"], lambda e, d: read(e, d).with_columns(reading=pl.lit("reader-2")))
    assert store.take(newer, export).read == 5


def test_twenty_thousand_sites_in_one_export(store):
    rows = [[f"S{n:05d}", n, ["1"]] for n in range(20_000)]
    data = pack(rows)
    assert keep_and_take(store, data).read == 20_000
    assert store.events(sites=["S00007"]).collect().height == 1
    data = pack([*rows[10_000:], ["S00007", 7, ["2"]]])
    taken = keep_and_take(store, data)
    assert (taken.read, taken.repeated) == (1, 10_000)
