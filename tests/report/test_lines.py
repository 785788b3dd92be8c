"""Events and episodes on a terminal: a line says when, where, what, and how sure."""

import polars as pl

from eventlab.report import episodes_as_text, events_as_text
from eventlab.schema import Timing
from tests.logbook import log


def test_an_event_line_tells_when_what_where_and_the_wording():
    text = events_as_text(log("2025-03-01 22:00:05 intrusion-alarm area=1 zone=7"))
    assert text.startswith("2025-03-01 22:00:05Z  S1  intrusion-alarm begin  area 1, zone 7  “")


def test_a_doubtful_time_is_marked_and_control_characters_reach_no_terminal():
    frame = log("2025-03-01 22:00:05 arm").with_columns(
        timing=pl.lit(str(Timing.DOUBTFUL)), text=pl.lit("set \x1b[31mred")
    )
    text = events_as_text(frame)
    assert "(doubtful)" in text
    assert "\x1b" not in text


def test_no_episode_is_said_in_words():
    assert episodes_as_text(pl.DataFrame()) == "No alarm is stored.\n"
