"""``eventlab alive``, the way a person types it."""

import json

from tests.cli.test_proof import SITES, WORDS

ZONES = "site,zone,name,use\nA,5,Reading room,interior\nA,7,Rear door,perimeter\n"
LOG = """Date/Time,Event,Zone,User
2025-03-01 18:00:00,Armed,,1
2025-03-02 08:00:00,Disarmed,,1
2025-03-03 10:00:00,Walk test,5,
2025-03-03 18:00:00,AC power lost,,
2025-03-04 08:00:00,Test report,,
"""


def test_lanes_come_as_text_tables_and_json(run, tmp_path):
    assert WORDS["walk-test"] == "Walk test"
    for name, text in {"a.csv": LOG, "sites.csv": SITES, "zones.csv": ZONES}.items():
        (tmp_path / name).write_text(text)
    store = tmp_path / "s"
    told = run("intake", tmp_path, "--store", store, "--site", "A")
    assert told.status == 0, told.err + told.out
    text = run("alive", "A", "--store", store)
    assert text.status == 0, text.err
    flat = " ".join(text.out.split())
    assert "Nothing is known of this site now: its newest log is" in flat
    assert "Walk test of 3 Mar 2025: 1 of 2 points answered; not seen: 7." in flat
    assert flat.index("NOT WELL") < flat.index("NOT COVERED")
    rows = json.loads(run("alive", "A", "--store", store, "--format", "json").out)
    mains = next(row for row in rows if row["family"] == "mains")
    assert (mains["health"], mains["since"]) == ("not well", "2025-03-03T18:00:00Z")
    assert {row["health"] for row in rows} <= {"not well", "not recorded", "not covered"}
    table = run("alive", "A", "--store", store, "--format", "csv", "-o", tmp_path / "o.csv")
    assert table.status == 0
    assert (tmp_path / "o.csv").read_text().startswith("site,family,zone")
    assert run("alive", "B", "--store", store).status == 1
