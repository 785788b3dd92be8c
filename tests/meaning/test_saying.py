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
