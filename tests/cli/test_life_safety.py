"""A life-safety alarm keeps its kind wherever its name stands (common practice)."""

LOG = """Date,Time,Event,Zone,Location
13/03/2025,18:40:00,Alarm,7,Kitchen Smoke
13/03/2025,18:40:05,Restore,7,Kitchen Smoke
13/03/2025,18:41:00,Alarm,8,Reading Room PIR
13/03/2025,18:42:00,Alarm,9,Fire Exit
13/03/2025,18:43:00,Alarm,10,Medical Room
13/03/2025,18:44:00,Intruder alarm,11,Gas Store
13/03/2025,18:45:00,Low battery,7,Kitchen Smoke
13/03/2025,18:47:00,Alarm,12,Panic Button Desk
"""


def test_the_name_in_another_column_tells_the_kind_and_is_never_guessed(run, tmp_path):
    log = tmp_path / "export.csv"
    log.write_text(LOG)
    store = tmp_path / "s"
    done = run("intake", log, "--store", store, "--site", "A", "--time-zone", "UTC")
    assert done.status == 0, done.out
    events = run("events", "--store", store, "--format", "json").json()
    assert [(e["kind"], e["phase"], e["zone"]) for e in events] == [
        ("fire", "begin", "7"),
        ("fire", "end", "7"),
        ("intrusion-alarm", "begin", "8"),
        ("intrusion-alarm", "begin", "9"),
        ("unread", "moment", None),
        ("intrusion-alarm", "begin", "11"),
        ("device-battery-low", "begin", "7"),
        ("hold-up", "begin", "12"),
    ]
