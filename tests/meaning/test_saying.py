"""Cells of their own beside the text: who, where, and which of two tells more."""

import pytest

from tests.meaning.exports import reading, shown, told


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ("Set,1,004 Kim Ash", ("4", "Kim Ash")),
        ("Set,1,Kim Ash (004)", ("4", "Kim Ash")),
        ("Set,1,User 4", ("4", None)),
        ("Set,1,4", ("4", None)),
        ("Set,1,Kim Ash", ("Kim Ash", "Kim Ash")),
        ("Set,1,", (None, None)),
    ],
)
def test_number_and_name_of_a_user(cells, says):
    found = reading("Date/Time,Event,Area,User\n2025-03-13 18:00:00," + cells + "\n")
    (event,) = found.events.to_dicts()
    assert (event["person"], event["person_name"]) == says
    assert (event["kind"], event["area"]) == ("arm", "1")


@pytest.mark.parametrize(
    ("cell", "area"), [("1", "1"), ("01", "1"), ("Area 2", "2"), ("B", "B"), ("Attic", "Attic")]
)
def test_areas_in_one_form(cell, area):
    found = reading(f"Date/Time,Event,Partition\n2025-03-13 18:00:00,Armed Away,{cell}\n")
    assert found.events["area"].to_list() == [area]
    assert found.events["mode"].to_list() == ["full"]


@pytest.mark.parametrize(
    ("cell", "zone"),
    [
        ("007", "7"),
        ("Z07", "7"),
        ("Zone 7", "7"),
        ("Slip door", "Slip door"),
        ("007 Slip door", "7"),
    ],
)
def test_points_in_one_form(cell, zone):
    found = reading(f"Date/Time,Event,Zone\n2025-03-13 18:00:00,Alarm,{cell}\n")
    assert found.events["zone"].to_list() == [zone]


def test_a_number_is_taken_from_a_cell_though_other_cells_have_a_name_alone():
    text = "Date/Time,Event,Zone\n2025-03-13 18:00:00,Alarm,007 Slip door\n"
    text += "2025-03-13 18:01:00,Alarm,008 Attic\n2025-03-13 18:02:00,Alarm,Panel lid\n"
    assert reading(text).events["zone"].to_list() == ["7", "8", "Panel lid"]


def test_a_shared_field_is_a_user_for_openings_and_a_point_for_alarms():
    text = "Date/Time,Code,Zone/User\n2025-03-13 18:00:00,1130,007\n2025-03-13 18:01:00,1401,007\n"
    assert told(text) == ["intrusion-alarm/begin zone=7", "disarm person=7"]


def test_nought_stands_for_none_beside_codes():
    text = "Date/Time,Code,Group,Zone\n2025-03-13 18:00:00,1301,00,000\n"
    assert told(text) == ["mains-loss/begin"]


def test_columns_of_their_own_decide_over_the_text():
    found = reading("Date/Time,Event,Zone\n2025-03-13 18:00:00,Alarm at the slip door,7\n")
    assert found.events["zone"].to_list() == ["7"]


@pytest.mark.parametrize("heading", ["Zone", "Device"])
def test_a_name_in_a_column_of_points_does_not_take_the_place_of_a_number_told(heading):
    text = f"Date/Time,Event,{heading}\n2025-03-13 18:00:00,Zone 23 alarm,Slip door\n"
    text += "2025-03-13 20:00:00,Alarm,Slip door\n"
    assert told(text) == ["intrusion-alarm/begin zone=23", "intrusion-alarm/begin zone=Slip door"]


def test_a_weak_battery_beside_a_point_is_the_devices():
    text = "Date/Time,Event,Zone\n2025-03-13 18:00:00,Low battery,9\n"
    text += "2025-03-13 18:01:00,Low battery,\n"
    assert told(text) == ["device-battery-low/begin zone=9", "system-battery-low/begin"]


def test_text_code_and_path_as_logged():
    text = "Date/Time,Code,Description,Path\n2025-03-13 18:00:00,1301,AC loss,GPRS\n"
    found = reading(text)
    (event,) = found.events.to_dicts()
    assert (event["text"], event["code"], event["path"]) == ("AC loss", "1301", "GPRS")
    assert shown(found) == ["mains-loss/begin"]


@pytest.mark.parametrize(
    ("row", "says"),
    [
        # The third field of DC-05 is a user, a point, another device or nothing, by the code.
        ("E131,015", "intrusion-alarm/begin zone=15"),
        ("E301,015", "mains-loss/begin zone=module 15"),
        ("E602,015", "test-report"),
        ("R401,015", "arm person=15 mode=full"),
        ("E424,015", "access zone=door 15"),
        ("E131,000", "intrusion-alarm/begin"),
        ("BA,015", "intrusion-alarm/begin zone=15"),
        ("AT,015", "mains-loss/begin zone=module 15"),
        ("RP,015", "test-report"),
        ("CG,002", "arm area=2 mode=part"),
        ("DD,003", "access zone=door 3"),
    ],
)
def test_a_number_beside_a_code_is_what_the_code_says_as_in_one_field(row, says):
    code, number = row.split(",")
    assert told(f"Time,Code,Zone/User\n2025-03-13 18:00:00,{row}\n") == [says]
    field = f"{code} 00 {number}" if code[0] in "ER" and code[1:].isdigit() else code + number
    assert told(f"Time,Event\n2025-03-13 18:00:00,{field}\n") == [says]


def test_user_zero_beside_a_code_is_nobody():
    text = (
        "Time,Code,Zone,User\n2025-03-13 18:00:00,E131,015,000\n2025-03-13 18:01:00,R401,000,003\n"
    )
    assert told(text) == ["intrusion-alarm/begin zone=15", "arm person=3 mode=full"]


@pytest.mark.parametrize("codes", [("E131", "R131", "R401", "E110"), ("BA", "BR", "CL", "FA")])
def test_point_and_person_come_from_the_wording_where_the_code_names_none(codes):
    texts = ["Burglary zone 5", "Restore zone 5", "Armed by user 3 Kim Ash", "Fire alarm zone 9"]
    rows = "".join(
        f"2025-03-13 18:0{n}:00,{code},{text}\n"
        for n, (code, text) in enumerate(zip(codes, texts, strict=True))
    )
    assert told("Time,Code,Event\n" + rows) == [
        "intrusion-alarm/begin zone=5",
        "intrusion-alarm/end zone=5",
        "arm person=3 mode=full",
        "fire/begin zone=9",
    ]


@pytest.mark.parametrize(
    ("heading", "new", "over"),
    [
        ("E/R", "E", "R"),
        ("Condition", "Fail", "OK"),
        ("Type", "A", "R"),
        ("Way", "Alarm", "Reset"),
    ],
)
def test_a_restore_told_beside_a_bare_code_is_no_new_event(heading, new, over):
    rows = f"18:00:00,{new},110,01,015\n2025-03-13 18:01:00,{over},110,01,015\n"
    rows += f"2025-03-13 18:02:00,{new},301,00,000\n"
    text = f"Time,{heading},Code,Group,Zone\n2025-03-13 {rows}"
    assert told(text) == [
        "fire/begin zone=15 area=1",
        "fire/end zone=15 area=1",
        "mains-loss/begin",
    ]


@pytest.mark.parametrize(
    "rows",
    [
        ["E131,01,015", "R131,01,015", "R401,01,003"],
        ["1,131,01,015", "3,131,01,015", "3,401,01,003"],
        ["BA,01,015", "BR,01,015", "CL,01,003"],
    ],
)
def test_a_table_without_headings_has_the_fields_in_the_order_of_the_standard(rows):
    text = "".join(f"2025-03-13 18:0{n}:00,{row}\n" for n, row in enumerate(rows))
    assert told(text) == [
        "intrusion-alarm/begin zone=15 area=1",
        "intrusion-alarm/end zone=15 area=1",
        "arm area=1 person=3 mode=full",
    ]


def test_codes_of_one_class_are_codes_where_nothing_else_tells():
    text = "Time,Code,Zone\n2025-03-13 18:00:00,110,015\n2025-03-13 18:01:00,111,016\n"
    assert told(text) == ["fire/begin zone=15", "fire/begin zone=16"]
    # Beside a wording they may be anything, users' codes for one.
    text = "Time,Code,Event\n2025-03-13 18:00:00,110,Disarmed\n2025-03-13 18:01:00,111,Armed\n"
    assert [event.split()[0] for event in told(text)] == ["disarm", "arm"]


def test_control_characters_inside_a_wording_are_never_read_over():
    text = "Time,Event\n2025-03-13 18:00:00,Al\0arm\n2025-03-13 18:01:00,Alarm\0\0\n"
    found = reading(text)
    assert shown(found) == ["unread", "intrusion-alarm/begin"]
    assert "control characters" in found.events["problem"][0]


def test_a_table_of_very_many_columns_is_looked_at_in_a_short_time():
    headings, cells = ",spare" * 20_000, ",8.5" * 20_000
    text = f"Time,Event{headings}\n2025-03-13 18:00:00,Zone 3 alarm{cells}\n"
    assert told(text) == ["intrusion-alarm/begin zone=3"]


@pytest.mark.parametrize(
    "form",
    [
        "{code} {text}",
        "{code} - {text}",
        "{code}: {text}",
        "[{code}] {text}",
        "{text} ({code})",
        "{text} [{code}]",
    ],
)
@pytest.mark.parametrize("codes", ["E131 R131 E110 R110 E124 R401", "BA BR FA FR HA CL"])
def test_the_code_decides_where_code_and_wording_stand_in_one_cell(form, codes):
    # Without the code the restores would be read as new alarms, and the duress as an entry.
    texts = ["Hall window zone 5 burglary"] * 2 + ["Smoke in the store zone 6"] * 2
    texts += ["Entry granted zone 7", "Closing by user 3"]
    cells = [form.format(code=c, text=t) for c, t in zip(codes.split(), texts, strict=True)]
    rows = "".join(f"2025-03-13 18:0{n}:00,{cell}\n" for n, cell in enumerate(cells))
    found = reading("Time,Event\n" + rows)
    duress = "duress" if codes.startswith("E") else "hold-up/begin zone=7"
    assert shown(found) == [
        "intrusion-alarm/begin zone=5",
        "intrusion-alarm/end zone=5",
        "fire/begin zone=6",
        "fire/end zone=6",
        duress,
        "arm person=3 mode=full",
    ]
    assert found.events["text"].to_list() == cells


def test_rooms_with_numbers_are_no_codes():
    rows = ["101 Office alarm", "102 Store alarm", "101 Office alarm restored", "103 Hall tamper"]
    text = "".join(f"2025-03-13 18:0{n}:00,{row}\n" for n, row in enumerate(rows))
    kinds = [event.split("/")[0] for event in told("Time,Event\n" + text)]
    assert not set(kinds) & {"medical", "fire"}


def test_the_name_of_a_point_is_kept_with_what_is_told_of_it():
    text = "Time,Event,Zone,Zone name\n2025-03-13 18:00:00,Alarm,7,Slip door\n"
    text += "2025-03-13 18:01:00,Slip door alarm,7,Slip door\n2025-03-13 18:02:00,Mains fail,,\n"
    assert reading(text).events["text"].to_list() == [
        "Alarm | Slip door",
        "Slip door alarm",
        "Mains fail",
    ]
