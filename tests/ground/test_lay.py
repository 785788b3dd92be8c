"""The whole ground: nothing in it depends on who else is loaded, or in which order."""

from dataclasses import fields

import polars as pl
import pytest

from eventlab.ground import Ground
from eventlab.schema import EVENT, empty
from tests.ground.laid import laid, nights
from tests.logbook import log

NIGHTS = nights(
    6,
    """{d} 16:59:00 bypass zone=3
{d} 17:00:00 arm person=3 area=1
{d} 17:00:30 arm person=3 area=2
{d} 20:00:00 intrusion-alarm zone=1 area=1
{d} 20:00:10 intrusion-alarm end zone=1 area=1
{d} 22:00:00 intrusion-alarm zone=2 area=2
{d} 22:00:20 intrusion-alarm zone=2 area=2 witness=receiver
{n} 07:00:00 disarm person=4 area=1
{n} 07:00:10 disarm person=4 area=2
{n} 10:00:00 activation zone=1
{n} 11:00:00 on-test witness=receiver
{n} 12:00:00 on-test end witness=receiver""",
)
OTHER = nights(4, "{d} 18:00:00 arm\n{d} 23:00:00 intrusion-alarm zone=1\n{n} 06:00:00 disarm")
ZONES = [
    {"zone": "1", "area": ["1"]},
    {"zone": "2", "area": ["2"]},
    {"zone": "3", "area": ["1", "2"], "area_rule": "all"},
]


def frames(ground, site):
    return {
        f.name: getattr(ground, f.name).filter(pl.col("site") == site) for f in fields(ground)
    } | {"exposed": ground.exposed([site])}


def test_a_site_stands_on_the_same_ground_alone_and_among_others():
    alone = frames(laid(NIGHTS, zones=ZONES), "S1")
    both = pl.concat([log(OTHER, site="S0"), log(NIGHTS), log(OTHER, site="S2")])
    among = frames(laid(both, zones=ZONES), "S1")
    for name, frame in alone.items():
        assert frame.equals(among[name]), name


def test_the_order_of_the_rows_given_does_not_matter():
    both = pl.concat([log(OTHER, site="S0"), log(NIGHTS)])
    one = laid(both, zones=ZONES)
    two = laid(both.sample(fraction=1, shuffle=True, seed=1), zones=ZONES)
    for f in fields(Ground):
        assert getattr(one, f.name).equals(getattr(two, f.name)), f.name


def test_nothing_gives_empty_frames_of_the_same_shape():
    full, none = laid(NIGHTS, zones=ZONES), laid(empty(EVENT))
    for f in fields(Ground):
        frame = getattr(none, f.name)
        assert frame.is_empty(), f.name
        assert frame.schema == getattr(full, f.name).schema, f.name
    assert none.exposed().schema == full.exposed().schema


def test_unread_rows_alone_give_no_site():
    ground = laid("2024-03-01 10:00:00 unread raw=what")
    assert ground.events.height == 1
    assert ground.sites.is_empty()


def test_frames_are_sorted_by_site_and_time():
    ground = laid(pl.concat([log(NIGHTS), log(OTHER, site="S0")]), zones=ZONES)
    for name in ("occurrences", "coverage", "armed", "aside", "episodes"):
        time = "placed" if name == "occurrences" else "since"
        told = getattr(ground, name).select("site", time)
        assert told.equals(told.sort("site", time)), name


def test_every_row_is_counted_in_exactly_one_occurrence():
    ground = laid(NIGHTS, zones=ZONES)
    assert ground.occurrences["rows"].sum() == ground.events.height


def test_what_the_log_covers_is_told_of_the_site():
    """Trait, ring buffer: this log covers so many days and so many armed hours."""
    site = laid(NIGHTS, zones=ZONES).sites.row(0, named=True)
    assert site["covered_hours"] == pytest.approx(24 * 5 + 19 + 1 / 60)
    # Area 1 from 17:00, area 2 to 07:00:10: one of them is armed.
    assert site["armed_hours"] == pytest.approx(6 * (14 + 10 / 3600))
