"""Codes held against the list of users; every fact is common practice."""

from datetime import date, datetime

import polars as pl
import pytest

from eventlab.analysis.listed_codes import ACTS, against_list, far_apart
from eventlab.context import parse, recognise
from eventlab.report import peopling
from eventlab.schema import KIND, MODE, SITE, USER, Role, conform
from eventlab.settings import Settings
from tests.context.table import table

SETTINGS = Settings()
FIRST, LAST = date(2025, 1, 1), date(2025, 12, 31)
LIST = """Site,User number,Name,Valid from,Valid until
S1,1,A. Reader,2020-01-01,
S1,2,B. Porter,2020-01-01,2025-06-30
S1,3,C. Cleaner,2025-11-15,
S1,4,D. Clerk,2024-01-01,
"""
PLACES = conform(
    pl.DataFrame(
        [
            {"site": "S1", "latitude": 54.5, "longitude": -3.1},
            {"site": "S2", "latitude": 54.9, "longitude": -3.1},  # 44.5 km north of it
            {"site": "S3", "latitude": 54.51, "longitude": -3.1},
        ]
    ),
    SITE,
)


def users(text=LIST):
    return parse(Role.USERS, table(text), sites=PLACES).frame


def used(*rows):
    return pl.DataFrame(
        [(person, datetime.fromisoformat(last), what) for person, last, what in rows],
        schema={"person": pl.String, "last": pl.Datetime("us"), "what": pl.String},
        orient="row",
    )


@pytest.mark.parametrize(
    ("headings", "role"),
    [
        ("site,person,name", None),
        ("Site,User,Name", Role.USERS),
        ("Account,User no,Code holder,From,To", Role.USERS),
        ("Date,Time,User,Name,Site", None),
        ("Site,User,Event,Name", None),
    ],
)
def test_a_list_of_users_is_known_by_its_headings(headings, role):
    told = recognise(headings.split(","))
    assert told is role or (role is None and told is not Role.USERS)


def test_a_list_is_read_with_its_dates():
    frame = users()
    assert frame.schema == pl.Schema(USER)
    assert frame.filter(person="2").row(0, named=True)["until"] == date(2025, 6, 30)


def test_never_used_ended_and_unlisted_codes_are_asked_about():
    seen = used(
        ("1", "2025-12-30 08:00", "person"),
        ("2", "2025-08-01 08:00", "person"),
        ("9", "2025-03-01 08:00", "person"),
        ("99", "2025-12-30 18:00", "timer"),
    )
    asked = against_list(seen, users(), FIRST, LAST, SETTINGS)
    # User 3 was listed for six weeks only; the timer is nobody.
    assert asked.select("person", "asks").rows() == [
        ("2", "ended"), ("4", "never"), ("9", "unlisted"),
    ]  # fmt: skip
    rows = [one | {"label": f"User {one['person']}"} for one in asked.to_dicts()]
    told = peopling.listed_questions(rows, 364)
    assert "was to end on 30 Jun 2025 and was used after that, last on 1 Aug 2025" in told[0]
    assert "not used once in the 364 days" in told[1]
    assert not any(name in " ".join(told) for name in ("Porter", "Clerk"))


def test_without_a_list_nothing_is_asked():
    none = users().clear()
    assert against_list(used(("9", "2025-03-01 08:00", "person")), none, FIRST, LAST,
                        SETTINGS).is_empty()  # fmt: skip


def acts(*rows):
    told = [
        {"site": site, "placed": datetime.fromisoformat(f"{at}+00:00"), "kind": kind,
         "mode": mode, "person": person, "person_name": name}
        for site, at, kind, person, name, mode in rows
    ]  # fmt: skip
    kinds = {"kind": KIND, "mode": MODE}
    return pl.DataFrame(told, infer_schema_length=None).cast(kinds).select(ACTS)


NOON = "2025-03-03 12:00:00"


@pytest.mark.parametrize(
    ("second", "times"),
    [
        (("S2", "2025-03-03 12:05:00", "disarm", "7", "a.  reader", None), 1),
        (("S2", "2025-03-03 12:40:00", "disarm", "7", "A. Reader", None), 0),  # driven there
        (("S3", "2025-03-03 12:01:00", "disarm", "7", "A. Reader", None), 0),  # next door
        (("S2", "2025-03-03 12:05:00", "disarm", "1", "E. Other", None), 0),  # another's number
        (("S2", "2025-03-03 12:05:00", "arm", "7", "A. Reader", "remote"), 0),  # from afar
    ],
)
def test_one_name_at_two_places_at_once_is_a_question(second, times):
    both = acts(("S1", NOON, "disarm", "1", None, None), second)
    far = far_apart(both, users(), PLACES, "S1", SETTINGS)
    assert far["times"].sum() == times
    if times:
        (row,) = far.to_dicts()
        assert (row["person"], row["other"], row["minutes"]) == ("1", "S2", 5)
        # Degrees of latitude are 111.2 km on a sphere of 6371 km.
        assert row["km"] == pytest.approx(44.5, abs=0.2)
        wall = datetime.fromisoformat(NOON)
        (told,) = peopling.apart_questions(
            [row | {"label": "User 1", "local": wall, "other_name": "North"}]
        )
        assert "at North, 44 km away, 5 minutes apart" in told
        assert "Reader" not in told
