"""Late entries with the margin that people have and the way they come; common practice."""

from datetime import date, timedelta

from eventlab.analysis import entry_margin
from tests.analysis.standing import context, found

START = date(2025, 1, 6)
KNOWN = context("1 entry Main_door", "2 follower Hall", entry_delay_s=30)


def mornings(days, late, *, seen):
    """Armed every evening; of the mornings some are late, doors and movement told or not."""
    lines = []
    for number in range(days):
        day = START + timedelta(days=number)
        lines.append(f"{day} 18:00:00 arm person=1")
        day += timedelta(days=1)
        if seen:
            lines.append(f"{day} 08:00:00 activation zone=1")
            lines.append(f"{day} 08:00:08 activation zone=2")
        if number in late:
            lines.append(f"{day} 08:00:30 entry-exit-alarm zone=1")
            lines.append(f"{day} 08:00:45 disarm person=1")
        else:
            lines.append(f"{day} 08:00:24 disarm person=1")
    return "\n".join(lines)


def told(text):
    rows = [row for row in found(entry_margin, text, known=KNOWN) if row["subject_kind"] == "site"]
    (row,) = rows
    return {line["what"]: (line["figure"], line["basis"]) for line in row["evidence"]}


def test_the_margin_in_seconds_and_the_way_in_are_evidence():
    lines = told(mornings(40, {5, 11, 17, 23, 29}, seen=True))
    figure, basis = lines["time from the first door to the disarm"]
    assert figure == "half within 24 s of the 30 s allowed: 6 s left"
    assert "against the listed entry delay" in basis
    assert lines["way in of late entries"][0] == (
        "point 1 (Main_door) first on 5 of 5, then mostly point 2"
    )


def test_where_only_alarms_are_told_the_margin_is_not_recorded():
    lines = told(mornings(40, {5, 11, 17, 23, 29}, seen=False))
    assert lines["time that people have left"][0] == "not recorded"
    assert lines["way in of late entries"][0] == "point 1 (Main_door) first on 5 of 5"


def test_without_a_finding_there_is_none():
    assert found(entry_margin, mornings(20, (), seen=True), known=KNOWN) == []
