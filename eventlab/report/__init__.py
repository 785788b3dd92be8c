"""Findings as sentences, text, tables and files."""

from eventlab.report.alive import (
    alive_as_text,
    alive_in_words,
    alive_sentence,
    state_of,
    walk_sentence,
)
from eventlab.report.coming_going import hours_notes, hours_sentence, hours_words, once_in
from eventlab.report.cover import coverage_sentence
from eventlab.report.files import safe, to_csv, to_json
from eventlab.report.heard import fleet_as_text, heard_in_words
from eventlab.report.lines import episodes_as_text, events_as_text, odds_from
from eventlab.report.profiling import chart_sentences, of_hours, point_limits, point_sentence
from eventlab.report.proving import proof_as_text, proof_in_words
from eventlab.report.state import state
from eventlab.report.text import as_text
from eventlab.report.what_if import Tried, trial_sentences, what_if_as_text
from eventlab.report.words import certainty

__all__ = [
    "Tried",
    "alive_as_text",
    "alive_in_words",
    "alive_sentence",
    "as_text",
    "certainty",
    "chart_sentences",
    "coverage_sentence",
    "episodes_as_text",
    "events_as_text",
    "fleet_as_text",
    "heard_in_words",
    "hours_notes",
    "hours_sentence",
    "hours_words",
    "odds_from",
    "of_hours",
    "once_in",
    "point_limits",
    "point_sentence",
    "proof_as_text",
    "proof_in_words",
    "safe",
    "state",
    "state_of",
    "to_csv",
    "to_json",
    "trial_sentences",
    "walk_sentence",
    "what_if_as_text",
]
