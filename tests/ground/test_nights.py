"""Local wall time and the night that a thing belongs to."""

from datetime import date, datetime

from tests.ground.laid import laid

SYDNEY = [{"site": "S1", "time_zone": "Australia/Sydney"}]


def test_a_night_runs_from_noon_to_noon_and_bears_the_date_of_its_start():
    ground = laid(
        """
        2024-07-01 01:59:59 mains-loss
        2024-07-01 02:00:00 mains-loss end
        2024-07-01 15:00:00 reset
        """,
        sites=SYDNEY,
    )
    told = ground.occurrences
    assert told["local"].to_list() == [
        datetime(2024, 7, 1, 11, 59, 59),  # noqa: DTZ001 - a wall time
        datetime(2024, 7, 1, 12, 0, 0),  # noqa: DTZ001 - a wall time
        datetime(2024, 7, 2, 1, 0, 0),  # noqa: DTZ001 - a wall time
    ]
    assert told["night"].to_list() == [date(2024, 6, 30), date(2024, 7, 1), date(2024, 7, 1)]


def test_the_night_of_a_clock_change_is_one_night():
    # Australia/Sydney 2025-04-05T16:00Z: 03:00 becomes 02:00 (tzdata, references section 8).
    ground = laid(
        """
        2025-04-05 15:30:00 mains-loss
        2025-04-05 16:30:00 mains-loss end
        """,
        sites=SYDNEY,
    )
    assert ground.occurrences["local"].dt.hour().to_list() == [2, 2]
    assert ground.occurrences["night"].to_list() == [date(2025, 4, 5)] * 2


def test_without_a_time_zone_utc_is_read():
    ground = laid("2024-07-01 11:00:00 reset")
    assert ground.occurrences["night"].to_list() == [date(2024, 6, 30)]
