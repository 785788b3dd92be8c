"""What says again what another finding says more of is left out."""

import json
from datetime import UTC, datetime, timedelta

import polars as pl
import pytest

from eventlab.analysis.folding import folded
from eventlab.schema import FOUND, Pattern, conform

BEGAN = datetime(2025, 3, 10, 8, tzinfo=UTC)


def finding(pattern, subject, since, **figures):
    return {
        "site": "S1",
        "pattern": str(pattern),
        "subject_kind": "zone",
        "subject": subject,
        "since": since,
        "figures": json.dumps(figures),
    }


@pytest.mark.parametrize(
    ("renumbered", "quiet_days", "left"),
    [(7, 1, 0), (7, 12, 0), (7, 40, 1), (0, 1, 1)],
)
def test_numbers_that_others_took_over_are_not_dead(renumbered, quiet_days, left):
    silent = finding(Pattern.SILENT_ZONE, "4", BEGAN - timedelta(days=quiet_days))
    lists = finding(Pattern.LIST_MISMATCH, "S1", BEGAN, renumbered=renumbered)
    told = folded(conform(pl.DataFrame([silent, lists]), FOUND))
    assert told.filter(pl.col("pattern") == Pattern.SILENT_ZONE).height == left
    assert told.height == 1 + left
