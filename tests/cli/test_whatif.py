"""``eventlab whatif`` as it is typed."""

import pytest

LOG = "\n".join(
    ["date;time;event;zone;user"]
    + [
        line
        for day in range(1, 21)
        for line in (
            f"2025-03-{day:02};18:00:00;Armed;;1",
            f"2025-03-{day:02};22:10:00;Burglary alarm;5;",
            f"2025-03-{day:02};22:10:02;Burglary alarm restored;5;",
            f"2025-03-{day:02};22:10:30;Burglary alarm;5;",
            f"2025-03-{day:02};22:10:33;Burglary alarm restored;5;",
            f"2025-03-{day:02};23:00:00;Disarmed;;1",
        )
    ]
)


@pytest.fixture
def store(run, tmp_path):
    (tmp_path / "log.csv").write_text(LOG + "\n")
    made = run(
        "intake", tmp_path / "log.csv", "--store", tmp_path / "s", "--site", "S1",
        "--time-zone", "UTC",
    )  # fmt: skip
    assert made.status == 0, made.out + made.err
    return tmp_path / "s"


def test_text_tells_figures_and_cautions(run, store):
    got = run("whatif", "S1", "--zone", "5", "--store", store, "--hold-off", "10",
              "--count-within", "40")  # fmt: skip
    assert got.status == 0
    words = " ".join(got.out.split())
    assert "A hold-off of 10 s (it must stay tripped so long): 40 of 40 alarms" in words
    assert "A count of two within 40 s: 20 of 40 alarms would not have been raised" in words
    assert "20 would have come late, by 30 s at most" in words
    assert "Mind:" in got.out


def test_json_has_a_row_per_trial(run, store):
    got = run("whatif", "S1", "--zone", "5", "--store", store, "--format", "json")
    rows = got.json()
    assert [row["trial"] for row in rows] == ["hold-off"] * 4 + ["count-of-two"] * 3
    assert {row["alarms"] for row in rows} == {40}
    assert rows[0]["in_force"][0] == "Hold-off: unknown"


def test_wrong_words(run, store):
    assert run("whatif", "S1", "--zone", "99", "--store", store).status == 1
    assert run("whatif", "S9", "--zone", "5", "--store", store).status == 1
    pair = run("whatif", "S1", "--zone", "5", "--store", store, "--with-within", "5")
    assert pair.status == 2


def test_a_log_of_even_rows_cut_off_in_its_last_is_taken(run, tmp_path):
    # the last row has no time then; whether rows stand twice is told by the others
    (tmp_path / "log.csv").write_text(LOG)
    made = run(
        "intake", tmp_path / "log.csv", "--store", tmp_path / "s", "--site", "S1",
        "--time-zone", "UTC", "--format", "json",
    )  # fmt: skip
    assert made.status == 0
    assert made.json()["files"][0]["read"] == 119
