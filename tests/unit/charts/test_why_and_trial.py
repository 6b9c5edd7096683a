"""Charts on why meters differ and on the reference on trial hold what was found, and nothing where nothing was."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.factories import hardly_together, meters_together, no_common_effort, pair, plain
from tests.factories_why import anatomy, settling
from tests.unit.reference.worksheets import TrueMeter, worksheet
from wattwitness.charts import bias_over_time, budget, own_errors, torque_against_torque, weighing
from wattwitness.model.chart import Chart, Level, Line, Points, Role
from wattwitness.model.estimate import Estimate
from wattwitness.model.settling import TimeModel
from wattwitness.workflows.weigh import weigh_worksheets


def marks(chart: Chart, kind: type[Line] | type[Points] | type[Level], panel: int = 0) -> dict[str, object]:
    return {mark.name: mark for mark in chart.panels[panel].marks if isinstance(mark, kind)}


class TestTorqueAgainstTorque:
    def test_holds_the_points_and_both_lines(self) -> None:
        chart = torque_against_torque.build(replace(pair(), anatomy=anatomy(-4.0)))
        fitted = marks(chart, Line)["fitted line"]
        assert isinstance(fitted, Line)
        np.testing.assert_allclose(fitted.y, 0.02 + 0.96 * fitted.x)
        below = marks(chart, Line, 1)["fitted line"]
        assert isinstance(below, Line)
        np.testing.assert_allclose(below.y, fitted.y - fitted.x)
        (dots,) = marks(chart, Points).values()
        assert isinstance(dots, Points)
        np.testing.assert_array_equal(dots.y, anatomy(-4.0).torque_nm[:, 1])
        assert "gain −4.00" in plain(chart.alt)

    def test_draws_no_line_where_none_was_fitted(self) -> None:
        missing = replace(anatomy(), zero_nm=Estimate.missing("not_varied", "N·m"))
        assert "fitted line" not in marks(torque_against_torque.build(replace(pair(), anatomy=missing)), Line)

    def test_without_torque_it_says_why(self) -> None:
        for nothing in (no_common_effort().pairs[0], replace(pair(), anatomy=None)):
            chart = torque_against_torque.build(nothing)
            assert not chart.panels
            assert chart.empty


class TestBiasOverTime:
    def test_a_constant_bias_is_drawn_where_it_is_told(self) -> None:
        steady = settling(TimeModel.CONSTANT)
        steady = replace(steady, fitted_pct=steady.fitted_pct + 0.4)
        line = marks(bias_over_time.build(replace(pair(), settling=steady)), Line)["constant"]
        assert isinstance(line, Line)
        assert set(line.y.tolist()) == {steady.settled_bias_pct.value}

    def test_all_of_the_fitted_course_is_on_the_axis(self) -> None:
        steep = settling()
        steep = replace(steep, fitted_pct=steep.fitted_pct - 20 * np.exp(-steep.at_s / 60))
        low, high = bias_over_time.build(replace(pair(), settling=steep)).panels[0].y_range or (0.0, 0.0)
        assert low < steep.fitted_pct.min()
        assert high > steep.fitted_pct.max()

    @pytest.mark.parametrize(
        ("model", "line", "level"),
        [
            (TimeModel.CONSTANT, "constant", False),
            (TimeModel.LINEAR, "fitted drift", False),
            (TimeModel.SETTLING, "fitted settling", True),
            (TimeModel.STEP, "fitted step", True),
            (TimeModel.CONFOUNDED, None, False),
        ],
    )
    def test_draws_what_was_found_and_no_more(self, model: TimeModel, line: str | None, level: bool) -> None:
        chart = bias_over_time.build(replace(pair(), settling=settling(model)))
        assert list(marks(chart, Line)) == ([line] if line else [])
        assert ("settled" in marks(chart, Level)) is level
        assert ("equal power" in chart.caption) is (model is not TimeModel.CONFOUNDED)

    def test_means_are_of_whole_minutes(self) -> None:
        found = settling()
        means = marks(bias_over_time.build(replace(pair(), settling=found)), Points)["mean of 3 min"]
        assert isinstance(means, Points)
        assert means.x.size == 20
        assert means.y[0] == pytest.approx(found.bias_pct[:9].mean())

    def test_without_a_course_it_says_why(self) -> None:
        for nothing in (no_common_effort().pairs[0], replace(pair(), settling=None)):
            assert bias_over_time.build(nothing).empty


class TestBudget:
    def test_largest_first_then_all_together(self) -> None:
        chart = budget.build(pair())
        words = [plain(text) for _, text in chart.x_axis.ticks]
        assert words[0].startswith("the reference meter: 3")
        assert words[-1].startswith("together: 3")
        roles = [mark.role for mark in chart.panels[0].marks if isinstance(mark, Points)]
        assert roles[0] is Role.EXPECTED, "common to all rides"
        assert roles[1] is Role.UNIT, "of this ride"

    def test_without_a_budget_it_says_why(self) -> None:
        assert "not assessed" in budget.build(replace(pair(), budget=None)).empty


class TestOwnErrors:
    def test_a_case_for_each_meter_and_averaging_time(self) -> None:
        chart = own_errors.build(meters_together("Pedals", "Bike A", "Bike B"))
        assert len(chart.x_axis.ticks) == 9
        assert plain(chart.x_axis.ticks[0][1]).startswith("Pedals, 1 s: 1.20")

    def test_too_few_meters_say_why(self) -> None:
        together = hardly_together().meters
        assert together is not None
        assert own_errors.build(together).empty == "Fewer than three recordings share a clock and power."


class TestWeighing:
    def test_departures_of_each_side_are_those_of_the_result(self) -> None:
        (found,) = weigh_worksheets([worksheet(TrueMeter(bow_nm=0.4), 1)]).weighings
        chart = weighing.departures(found)
        dots = marks(chart, Points)
        assert list(dots) == ["left", "right"]
        left = dots["left"]
        assert isinstance(left, Points)
        np.testing.assert_array_equal(left.y, [load.departure_nm for load in found.sides[0].loads])
        assert weighing.departures(replace(found, sides=())).empty

    def test_gains_stand_under_their_dates_or_a_number(self) -> None:
        dated = weigh_worksheets([worksheet(TrueMeter(gain=1.0 + place / 50), place) for place in range(2)]).weighings
        undated = weigh_worksheets([worksheet(TrueMeter(), place, date="") for place in range(2)]).weighings
        assert [text[:10] for _, text in weighing.gains(dated).x_axis.ticks] == ["2026-01-12"] * 2
        assert weighing.gains(undated).x_axis.ticks[1][1].startswith("weighing 2:")
        assert weighing.gains(()).empty
