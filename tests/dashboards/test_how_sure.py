"""The page that says how sure the causes are."""

import json

import pytest

from dashboards import question
from dashboards.figures import reliability
from dashboards.layouts import how_sure
from dashboards.palette import Theme
from dashboards.question import HowSure
from tests.dashboards.fake_lab import FakeLab


def text(component):
    return json.dumps(component.to_plotly_json(), default=lambda one: one.to_plotly_json())


def test_the_address_is_read_and_written():
    assert question.read("/how-sure", "") == HowSure()
    assert question.href(HowSure()) == "/how-sure"


def test_without_outcomes_the_page_says_so_and_asks_for_them():
    told = text(how_sure.draw(FakeLab().how_sure()))
    assert "from the table of common practice, no outcomes recorded" in told
    assert "outcomes of at least two sites are needed" in told
    assert "site, at, outcome" in told
    assert "None is recorded." in told


def test_with_outcomes_sentence_curve_and_table_tell_the_same():
    sure = FakeLab(outcomes=240).how_sure()
    told = text(how_sure.draw(sure))
    assert "from 240 recorded outcomes" in told
    assert "no random sample" in told
    assert "Over 240 nights" in told
    assert "The Brier score is 0.31, better than the 0.78" in told
    assert "something odd" in told
    for one in sure.curve.iter_rows(named=True):
        assert f"{100 * one['told']:.0f} in 100" in told


@pytest.mark.parametrize("theme", list(Theme))
def test_the_curve_shows_each_group_with_its_limits(theme):
    curve = FakeLab(outcomes=240).how_sure().curve
    figure = reliability.draw(curve, theme=theme)
    line = figure.data[1]
    assert list(line.x) == pytest.approx((100 * curve["told"]).to_list())
    assert list(line.y) == pytest.approx((100 * curve["true"]).to_list())
    assert min(line.error_y.array) >= 0
    assert min(line.error_y.arrayminus) >= 0
    assert len(reliability.draw(curve.clear(), theme=theme).data[1].x) == 0
