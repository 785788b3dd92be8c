"""Arrays in, numbers out: no frames, no alarm words.

Every function takes plain numbers or arrays of any shape and answers for each element.
"""

from eventlab.stats.chatter import chatter_index
from eventlab.stats.counts import Interval, count_interval, rate_interval, share_interval
from eventlab.stats.discovery import adjusted
from eventlab.stats.ratios import RateRatio, rate_ratio
from eventlab.stats.windows import count_within

__all__ = [
    "Interval",
    "RateRatio",
    "adjusted",
    "chatter_index",
    "count_interval",
    "count_within",
    "rate_interval",
    "rate_ratio",
    "share_interval",
]
