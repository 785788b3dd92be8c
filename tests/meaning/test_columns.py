"""A log reads the same in whatever order its columns stand, with headings or without.

Or it is asked about; it is never read otherwise in silence.
"""

import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from eventlab.errors import InputError
from tests.meaning.exports import asked, reading, shown, told
from tests.meaning.measuring import answerable, judge
from tests.meaning.written import HEADINGS, MEMBERS, ODD, STATES, Layout, happenings, written

LAYOUTS = st.builds(
    Layout,
    language=st.sampled_from([*HEADINGS, None, None, None]),
    state=st.sampled_from([None, *(pair for pairs in STATES.values() for pair in pairs)]),
    path=st.booleans(),
    extras=st.lists(st.sampled_from(["", "7", "X", "2025", "ok"]), max_size=2),
    shuffle=st.integers(0, 10_000),
    backward=st.booleans(),
    odd=st.sampled_from([None, *ODD]),
)
QUIET = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}


def verdict(layout, seed):
    rng = random.Random(seed)
    return judge(*written(rng, happenings(rng, days=rng.choice([1, 3, 12])), layout))[0]


@settings(max_examples=5, **QUIET)
@given(LAYOUTS, st.integers(0, 10_000))
def test_any_order_with_or_without_headings(layout, seed):
    assert verdict(layout, seed) in {"right", "asked"}


@pytest.mark.slow
@settings(max_examples=400, **QUIET)
@given(LAYOUTS, st.integers(0, 10_000))
def test_any_order_at_length(layout, seed):
    assert verdict(layout, seed) in {"right", "asked"}


@pytest.mark.parametrize("language", HEADINGS)
def test_headings_in_eight_languages(language):
    names = HEADINGS[language]
    text = (
        ";".join(names[:6]) + "\n13/03/2025;18:00:00;Alarm;7;2;\n13/03/2025;19:00:00;Armed;;2;4\n"
    )
    assert told(text) == ["intrusion-alarm/begin zone=7 area=2", "arm area=2 person=4"]


def bare(seed=3, **how):
    rng = random.Random(seed)
    return written(rng, happenings(rng), Layout(language=None, **how))


def test_a_bare_table_whose_rows_tell_every_column():
    text, truth = bare()
    assert judge(text, truth)[0] == "right"


SHORT = """13/03/2025,18:00:00,Burglary alarm,7,2
13/03/2025,18:00:09,Burglary restored,7,2
13/03/2025,19:00:00,Tamper,5,1
"""


def test_two_columns_of_small_numbers_are_asked_about():
    (question,) = reading(SHORT).questions
    assert question.key == "columns"
    assert "4 (7, 5)" in question.text
    values = {choice.value for choice in question.choices}
    assert {"4:point+5:area", "4:area+5:point"} <= values
    assert told(SHORT, answers={"columns": "4:point+5:area"})[0] == (
        "intrusion-alarm/begin zone=7 area=2"
    )
    assert told(SHORT, answers={"columns": "4:area+5:point"})[0] == (
        "intrusion-alarm/begin zone=2 area=7"
    )
    assert told(SHORT, answers={"columns": "5:group+4:point"})[0] == (
        "intrusion-alarm/begin zone=2.7"
    )


def test_an_answer_is_what_the_reading_rests_on():
    answered = reading(SHORT, answers={"columns": "4:point+5:area"})
    assert answered.settled["columns"] == "4:point+5:area"
    assert "columns" in answered.answered
    found = reading(bare()[0])
    assert "columns" in found.settled
    assert "columns" not in found.answered


@pytest.mark.parametrize("answer", ["4:area+9:point", "4:gizmo", "area", "x"])
def test_an_answer_that_does_not_fit_is_told(answer):
    with pytest.raises(InputError, match="columns"):
        reading(SHORT, answers={"columns": answer})


def test_the_schedule_of_the_site_decides():
    schedule = "site,zone,name,use,area\nA,7,Slip door,perimeter,2\nA,5,Attic,interior,1\n"
    schedule += "A,6,Loft,interior,1\n"
    more = SHORT + "13/03/2025,20:00:00,Tamper,6,1\n"
    assert asked(more) == ["columns"]
    assert told(more, zones=schedule)[0] == "intrusion-alarm/begin zone=7 area=2"


def test_the_site_list_finds_the_account_column():
    rows = "13/03/2025,18:00:00,TV07,Mains failure\n13/03/2025,18:10:00,TV09,Mains failure\n"
    sites = "site,time_zone\nTV07,Europe/London\nTV09,Europe/London\n"
    found = reading(rows, site=None, sites=sites)
    assert not found.questions
    assert found.events["site"].to_list() == ["TV07", "TV09"]


def test_words_before_the_numbers_tell_whose_they_are():
    text = "13/03/2025,18:00:00,Alarm,Zone 7,Area 2,\n13/03/2025,19:00:00,Armed,,Area 2,User 4\n"
    assert told(text) == ["intrusion-alarm/begin zone=7 area=2", "arm area=2 person=4"]


def test_an_unknown_heading_is_no_reason_to_lose_who_it_was():
    lines = ["Dato;Tid;Event;Zone;Område;Bruger"]  # a ninth language
    for day in range(10, 22):
        lines += [
            f"{day}/03/2025;18:00:00;Armed;;1;{1 + day % 3}",
            f"{day}/03/2025;23:00:00;Alarm;{day};1;",
            f"{day + 1}/03/2025;08:00:00;Disarmed;;1;{1 + day % 2}",
        ]
    events = told("\n".join(lines) + "\n")
    assert events[0] == "arm area=1 person=2"
    assert events[1] == "intrusion-alarm/begin zone=10 area=1"


def test_where_openings_are_not_told_an_area_is_never_left_aside():
    text, truth = bare(odd="no openings")
    assert judge(text, truth)[0] == "asked"


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("how", [{"members": "wires"}, {"odd": "together"}])
def test_a_choice_leads_to_what_happened(how, seed):
    text, truth = bare(seed, **how)
    assert judge(text, truth)[0] == "asked"
    assert answerable(text, truth)


def split(members, rows, **known):
    text = f"Date;Time;Event;{members};Input\n"
    text += "".join(f"13/03/2025;18:00:0{n};Alarm;{row}\n" for n, row in enumerate(rows))
    return told(text, **known)


def zones(events):
    return [event.split("zone=")[1] for event in events]


@pytest.mark.parametrize("order", [("Bus", "Module"), ("Module", "Bus")])
def test_bus_module_and_input_are_one_label_in_any_order(order):
    cells = {"Bus": "01", "Module": "2"}
    rows = [";".join([*(cells[name] for name in order), "007"])]
    assert zones(split(";".join(order), rows)) == ["1.2.7"]


def test_a_part_that_is_not_told_keeps_its_place():
    assert zones(split("Bus;Module", ["1;2;7", "1;;7", ";2;7"])) == ["1.2.7", "1.-.7", "-.2.7"]


def test_names_among_the_parts():
    assert zones(split("Bus;Module", ["North;2;7"])) == ["North/2/7"]


@pytest.mark.parametrize("language", MEMBERS["wires"])
def test_members_in_eight_languages(language):
    wide, narrow = MEMBERS["wires"][language]
    heading = ";".join([*HEADINGS[language][:4], wide, narrow])
    text = heading + "\n13/03/2025;18:00:00;Alarm;7;1;2\n"
    assert zones(told(text)) == ["1.2.7"]


def test_buildings_whose_numbers_repeat_are_part_of_the_name():
    assert zones(split("Building;Floor", ["A;1;7", "B;1;7"])) == ["A/1/7", "B/1/7"]


def test_buildings_whose_numbers_do_not_repeat_are_asked_about():
    text = "Date;Time;Event;Building;Point\n13/03/2025;18:00:00;Alarm;2;7\n"
    assert asked(text) == ["point"]
    assert zones(told(text, answers={"point": "together"})) == ["2.7"]
    assert zones(told(text, answers={"point": "alone"})) == ["7"]
    schedule = "site,zone,name,use\nA,7,Slip door,perimeter\n"
    assert zones(told(text, zones=schedule)) == ["7"]
    assert zones(told(text, zones=schedule.replace("A,7", "A,2-07"))) == ["2-07"]
    with pytest.raises(InputError, match="together or alone"):
        reading(text, answers={"point": "maybe"})


def test_a_schedule_in_other_signs_gives_the_label_its_form():
    schedule = "site,zone,name,use\nA,1/02/7,Slip door,perimeter\n"
    assert zones(split("Bus;Module", ["1;2;7"], zones=schedule)) == ["1/02/7"]


def listing(cell, heading="Zone", extra="5"):
    rows = "".join(
        f"13/03/2025;18:00:0{n};Alarm;{c}\n" for n, c in enumerate([cell, extra, "6", "9"])
    )
    return f"Date;Time;Event;{heading}\n{rows}"


@pytest.mark.parametrize(
    "cell",
    ["3, 4 and 7", "Zones 3, 4 and 7", "3;4;7", "3 & 4 & 7", "3+4+7", "Zone 3, Zone 4, Zone 7",
     "3, 4 und 7", "3, 4 et 7", "3, 4 y 7", "3, 4 e 7", "3, 4 en 7", "3, 4 i 7", "3, 4 och 7"],
)  # fmt: skip
def test_several_points_in_a_cell(cell):
    text = listing(f'"{cell}"' if ";" in cell else cell)
    found = reading(text)
    assert zones(shown(found)) == ["3", "4", "7", "5", "6", "9"]
    assert found.events["piece"].to_list() == [1, 2, 3, 1, 1, 1]
    assert found.events["row"].to_list() == [2, 2, 2, 3, 4, 5]
    assert found.read == 4


@pytest.mark.parametrize(
    ("cell", "heading"),
    [("1-4", "Zones"), ("Zones 1-4", "Zone"), ("1 to 4", "Zone"), ("1–4", "Zones")],
)
def test_from_one_point_to_another(cell, heading):
    assert zones(told(listing(cell, heading))) == ["1", "2", "3", "4", "5", "6", "9"]


def test_a_range_among_single_numbers_is_asked_about():
    assert asked(listing("1-4")) == ["several"]
    assert zones(told(listing("1-4"), answers={"several": "each"}))[:4] == ["1", "2", "3", "4"]
    assert zones(told(listing("1-4"), answers={"several": "one"}))[0] == "1-4"


def test_where_most_points_have_that_form_it_is_their_name():
    text = listing("1-4", extra="2-7")
    text = text.replace(";6\n", ";3-2\n").replace(";9\n", ";1-8\n")
    assert zones(told(text)) == ["1-4", "2-7", "3-2", "1-8"]


@pytest.mark.parametrize("cell", ["users 2/5", "2, 5", "Users 2 and 5"])
def test_several_people_in_a_cell(cell):
    text = f"Date;Time;Event;Area;User\n13/03/2025;18:00:00;Armed;1;{cell}\n"
    assert told(text) == ["arm area=1 person=2", "arm area=1 person=5"]


def test_several_points_and_several_people_are_not_put_together():
    text = 'Date;Time;Event;Zone;User\n13/03/2025;18:00:00;Bypassed;"3, 4";"2, 5"\n'
    found = reading(text)
    assert shown(found) == ["unread"]
    assert "several points and several" in found.events["problem"][0]


def test_what_wording_and_column_list_alike_is_told_once():
    text = 'Date;Time;Event;Zone\n13/03/2025;18:00:00;Zones 3 and 4 alarm;"3, 4"\n'
    assert zones(told(text)) == ["3", "4"]


@pytest.mark.parametrize("cell", ["Room 1, Room 2", "Kitchen and hall 2", "Stairs 1, 2nd floor"])
def test_names_with_numbers_are_no_lists(cell):
    assert len(told(listing(cell))) == 4
