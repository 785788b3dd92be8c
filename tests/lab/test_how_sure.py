"""Recorded outcomes of a store: what is learned from them, whichever site is asked about."""

import polars as pl
import pytest

from eventlab.lab import Lab
from eventlab.schema import OUTCOME
from tests.lab.test_portfolio import store as store  # noqa: PLC0414 - a fixture

NONE = "from the table of common practice, no outcomes recorded"


def write(path, rows):
    lines = [f"{site},{at:%Y-%m-%dT%H:%M:%SZ},{what},yes" for site, at, what in rows]
    path.write_text("\n".join(["site,at,outcome,attended", *lines]), encoding="utf-8")
    return path


@pytest.fixture
def told(store, tmp_path):
    lab = Lab(store)
    before = lab.episodes()
    words = ["sun on detector", "mains failure", "burglary", "something odd"]
    rows = [
        (site, at, words[number % 4])
        for number, (site, at) in enumerate(before.select("site", "since").rows())
        if site in {"S1", "S2", "S4"}
    ]
    (result,) = lab.take([write(tmp_path / "outcomes.csv", rows)])
    assert result.error is None
    return lab, before, rows, result


def test_without_outcomes_it_is_the_table(store):
    sure = Lab(store).how_sure()
    assert sure.basis == NONE
    assert sure.curve.is_empty()
    assert sure.error is None
    assert sure.causes["share"].to_list() == sure.causes["table"].to_list()


def test_outcomes_move_the_odds_of_all_sites(told):
    lab, before, rows, result = told
    learned = sum(what != "something odd" for _, _, what in rows)
    sure = lab.how_sure()
    assert sure.basis.startswith(f"from {learned} recorded outcomes")
    assert "no random sample" in sure.basis
    assert sure.unknown.rows() == [("something odd", len(rows) - learned)]
    assert "“something odd”" in " ".join(result.notes)
    assert dict(sure.uses.rows())["learned from"] == learned
    assert sure.causes["told"].sum() == learned
    assert sure.curve["nights"].sum() == learned
    assert sure.brier is not None
    untouched = pl.col("site") == "S3"
    after = lab.episodes().filter(untouched)
    assert not after["probability"].equals(before.filter(untouched)["probability"])


def test_a_site_is_told_the_same_alone_and_with_others(told, store):
    lab = told[0]
    every = lab.episodes()
    for site in ("S1", "S3"):
        alone = Lab(store).episodes(site=site)
        assert alone.equals(every.filter(site=site))
        assert lab.site(site).odds_from == lab.how_sure().basis


def test_an_outcome_with_a_suggestion_is_kept_with_it(store, tmp_path):
    lab = Lab(store)
    path = tmp_path / "suggested.csv"
    path.write_text(
        "site,at,outcome,suggested\nS1,2025-01-06T23:10:00Z,environment,environment\n",
        encoding="utf-8",
    )
    lab.take([path])
    assert lab.store.table("outcomes", OUTCOME)["suggested"].to_list() == ["environment"]
    assert lab.how_sure().uses.rows() == [("only repeats what was suggested", 1)]
    assert lab.how_sure().basis == NONE
