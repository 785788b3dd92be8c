"""Tables to take away are data, whatever opens them."""

import csv
import io

import polars as pl
import pytest

from dashboards.takeaway import harmless


def test_the_file_holds_every_alarm_of_the_picture(client):
    response = client.get("/site/2102/alarms.csv")
    rows = list(csv.DictReader(io.StringIO(response.text)))
    assert response.mimetype == "text/csv"
    assert len(rows) == 189
    assert rows[0].keys() == {
        "when",
        "night",
        "point",
        "point_name",
        "kind",
        "explained_by",
        "share",
        "text",
    }
    assert "2102" not in response.headers["Content-Disposition"]


def test_the_file_answers_the_same_question_as_the_page(client):
    text = client.get("/site/2102/zone/7/alarms.csv?since=2026-03-01&until=2026-03-31").text
    rows = list(csv.DictReader(io.StringIO(text)))
    assert rows
    assert {row["point"] for row in rows} == {"7"}
    assert all("2026-03-01" <= row["night"] <= "2026-03-31" for row in rows)


def test_a_life_safety_alarm_has_no_share(client):
    rows = csv.DictReader(io.StringIO(client.get("/site/2102/alarms.csv").text))
    life = [row for row in rows if row["explained_by"] == "life safety"]
    assert [row["share"] for row in life] == [""]


def test_an_unknown_site_has_no_file(client):
    assert client.get("/site/9999/alarms.csv").status_code == 404


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_no_text_is_a_formula(start):
    text = pl.DataFrame({"a": [f"{start}cmd()", "plain", None]})
    assert text.select(harmless(pl.col("a")))["a"].to_list() == [f"'{start}cmd()", "plain", None]
