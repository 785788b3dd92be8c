"""Whose log it is, by which clock, and which of two witnesses wrote it."""

import pytest

from eventlab.errors import InputError
from tests.meaning.exports import asked, reading

ROW = "Date;Time;Event\n13/07/2025;18:00:00;Zone 1 alarm\n14/07/2025;18:00:00;Zone 2 alarm\n"
LIST = "site,name,time_zone\nTV05,Boathouse,Australia/Hobart\nTV06,Archive,Europe/London\n"
ACCOUNTS = """Account;Date/Time;Event
{0};13/07/2025 18:00:00;Mains fail
{1};13/07/2025 18:00:00;Mains fail
"""


@pytest.mark.parametrize(
    "line",
    [
        *("Site: 0042", "Account No. 0042", "Site ID;0042", "Customer number: 0042", "Site = 0042"),
        "Account No: 0042   Name: Reading Room",
    ],
)
def test_a_line_above_the_table_names_the_site(line):
    assert reading(f"{line}\n{ROW}", site=None).sites == ("0042",)


def test_an_address_is_no_site_unless_the_list_knows_it():
    assert asked("Site: 12 Station Road\n" + ROW, site=None) == ["site"]
    assert reading("Site: TV05 Boathouse\n" + ROW, site=None, sites=LIST).sites == ("TV05",)


def test_a_file_is_named_for_a_site_of_the_list():
    named = reading(ROW, site=None, sites=LIST, name="TV05_march.csv", time_zone=None)
    assert named.sites == ("TV05",)
    assert named.events["at"][0].hour == 8  # Hobart keeps UTC+10 in July
    assert asked(ROW, site=None, name="TV05_march.csv") == ["site"]


def test_accounts_are_written_as_the_list_writes_them():
    found = reading(ACCOUNTS.format("tv05", "TV06"), site=None, sites=LIST, time_zone=None)
    assert found.sites == ("TV05", "TV06")
    assert [at.hour for at in found.events["at"]] == [8, 17]


def test_one_site_is_no_name_for_several_accounts():
    with pytest.raises(InputError, match="2 accounts"):
        reading(ACCOUNTS.format("1", "2"))
    assert reading(ACCOUNTS.format("1", "1"), site="A").sites == ("A",)


def test_a_row_without_account_is_unread_among_several_sites_only():
    rows = ACCOUNTS + ";13/07/2025 18:00:05;Mains fail\n"
    assert reading(rows.format("1", "2"), site=None).unread == 1
    assert reading(rows.format("1", "1"), site=None).unread == 0


def test_sites_without_a_zone_are_asked_for_though_others_have_two():
    three = ACCOUNTS.format("TV05", "TV06") + "TV09;13/07/2025 18:00:00;Mains fail\n"
    assert asked(three, site=None, sites=LIST, time_zone=None) == ["time-zone"]
    found = reading(three, site=None, sites=LIST, time_zone="Asia/Kathmandu")
    assert [(at.hour, at.minute) for at in found.events["at"]] == [(8, 0), (17, 0), (12, 15)]
    assert found.said_zones.rows() == [("TV09", "Asia/Kathmandu")]


@pytest.mark.parametrize(
    "text",
    [
        "Times are in Australia/Hobart\n" + ROW,
        "Time zone: Australia/Hobart\n" + ROW,
        "Date;Time (UTC);Event\n13/07/2025;08:00:00;Zone 1 alarm\n",
    ],
)
def test_a_file_that_names_its_zone_is_believed(text):
    assert reading(text, time_zone="Europe/London").events["at"][0].hour == 8


CENTRE = "Monitoring centre history\nAccount;Received;Event\nTV05;13/07/2025 18:00:00;Mains fail\n"


def test_a_centre_keeps_its_own_clock():
    assert asked(CENTRE, site=None, sites=LIST, time_zone=None) == ["time-zone"]
    found = reading(CENTRE, site=None, sites=LIST, time_zone="Europe/Paris")
    assert found.events["witness"].to_list() == ["receiver"]
    assert found.events["at"][0].hour == 16
    assert found.said_zones.is_empty()


def test_site_and_clock_are_asked_for_together_where_no_list_can_tell():
    assert asked(ROW, site=None, time_zone=None) == ["site", "time-zone"]
    assert asked(ROW, site=None, time_zone=None, sites=LIST) == ["site"]
