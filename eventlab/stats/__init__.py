"""Arrays in, numbers out: no frames, no alarm words.

Every function takes plain numbers or arrays of any shape and answers for each element.
"""

from eventlab.stats.anchored import LEAST_DRAWN, Anchored, View, anchored_scan, redrawn
from eventlab.stats.changes import busiest, busiest_p, change_p, change_point
from eventlab.stats.chatter import chatter_index
from eventlab.stats.counts import Interval, count_interval, rate_interval, share_interval
from eventlab.stats.discovery import adjusted
from eventlab.stats.levels import LEVELS, Level, level_p, level_scan
from eventlab.stats.ratios import RateRatio, rate_ratio
from eventlab.stats.reliability import (
    Bins,
    bins,
    brier,
    calibration_error,
    calibration_interval,
)
from eventlab.stats.selection import selected_bar
from eventlab.stats.shrinking import Shrunk, gamma_interval, shrunk_rates
from eventlab.stats.silence import Silent, silent_chance, spell_chance
from eventlab.stats.spacing import Floor, spacing_floor
from eventlab.stats.survival import (
    Remaining,
    Survival,
    Weibull,
    failing,
    remaining_time,
    survival,
    weibull,
)
from eventlab.stats.tails import binomial_tail, gain
from eventlab.stats.together import combined, span_chance
from eventlab.stats.trends import PowerLaw, Trend, power_law, trend
from eventlab.stats.windows import count_within

__all__ = [
    "LEAST_DRAWN",
    "LEVELS",
    "Anchored",
    "Bins",
    "Floor",
    "Interval",
    "Level",
    "PowerLaw",
    "RateRatio",
    "Remaining",
    "Shrunk",
    "Silent",
    "Survival",
    "Trend",
    "View",
    "Weibull",
    "adjusted",
    "anchored_scan",
    "binomial_tail",
    "bins",
    "brier",
    "busiest",
    "busiest_p",
    "calibration_error",
    "calibration_interval",
    "change_p",
    "change_point",
    "chatter_index",
    "combined",
    "count_interval",
    "count_within",
    "failing",
    "gain",
    "gamma_interval",
    "level_p",
    "level_scan",
    "power_law",
    "rate_interval",
    "rate_ratio",
    "redrawn",
    "remaining_time",
    "selected_bar",
    "share_interval",
    "shrunk_rates",
    "silent_chance",
    "spacing_floor",
    "span_chance",
    "spell_chance",
    "survival",
    "trend",
    "weibull",
]
