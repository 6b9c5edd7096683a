"""The budget of a ride: what enters, what does not, and how it is combined."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from wattwitness.model.budget import Budget, Contribution, Distribution, Origin
from wattwitness.model.setup import MeterFile, Place, SetupRecord, Sides, StatedUncertainty
from wattwitness.reference.combining import budget_of
from wattwitness.reference.propagation import Input, monte_carlo, propagate
from wattwitness.reference.ride_budget import ride_budget
from wattwitness.reference.ride_facts import RideFacts, ride_facts

FACTS = RideFacts(
    ratio=0.95,
    mean_w=200.0,
    mean_rpm=90.0,
    cadence_known=True,
    clock_s=0.02,
    clock_pct_per_s=0.05,
    response_pct=0.01,
    rounding_pct=0.003,
    statistics_pct=0.3,
    statistics_degrees=6.0,
)
CLAIM = {"claim": StatedUncertainty(half_width=1.0)}


def made(reference: MeterFile | None = None, unit: MeterFile | None = None, given_pct: float | None = None) -> Budget:
    return ride_budget(FACTS, reference=reference, unit=unit, given_pct=given_pct, level=0.95)


def parts(budget: Budget) -> dict[str, Contribution]:
    return {part.name: part for part in budget.contributions}


def part(size: float, distribution: Distribution, *, degrees: float = math.inf, name: str = "a") -> Contribution:
    return Contribution(
        name=name,
        title=name,
        unit="%",
        standard_uncertainty=size,
        sensitivity=1.0,
        distribution=distribution,
        origin=Origin.ASSUMED,
        source="",
        degrees=degrees,
    )


class TestCombining:
    def test_independent_parts_add_as_squares(self) -> None:
        budget = budget_of([part(3.0, Distribution.NORMAL), part(4.0, Distribution.NORMAL, name="b")], level=0.95)
        assert budget.standard_pct == pytest.approx(5.0)
        assert budget.expanded_pct == pytest.approx(1.959964 * 5.0, rel=1e-5)
        assert math.isinf(budget.degrees)

    def test_one_part_of_few_degrees_takes_students_t(self) -> None:
        budget = budget_of([part(1.0, Distribution.NORMAL, degrees=6)], level=0.95)
        assert budget.degrees == pytest.approx(6)
        assert budget.expanded_pct == pytest.approx(2.4469, abs=1e-4)
        assert budget.monte_carlo_high_pct == pytest.approx(2.45, abs=0.1)

    @pytest.mark.parametrize(
        ("distribution", "reach"),
        [(Distribution.RECTANGULAR, 0.95 * math.sqrt(3)), (Distribution.TRIANGULAR, math.sqrt(6) * (1 - 0.05**0.5))],
    )
    def test_drawing_knows_the_shape_where_the_law_takes_a_normal(
        self, distribution: Distribution, reach: float
    ) -> None:
        """95 % of a rectangle of half-width a lie within 0.95 a; of a triangle within (1 - sqrt 0.05) a."""
        budget = budget_of([part(1.0, distribution)], level=0.95)
        assert budget.monte_carlo_high_pct == pytest.approx(reach, rel=0.02)
        assert budget.monte_carlo_low_pct == pytest.approx(-reach, rel=0.02)

    def test_an_arcsine_part_lies_at_its_ends(self) -> None:
        drawn = monte_carlo(
            lambda x: x[0],
            [Input(estimate=0.0, standard_uncertainty=1 / math.sqrt(2), distribution=Distribution.ARCSINE)],
            0.95,
        )
        assert drawn.standard == pytest.approx(1 / math.sqrt(2), rel=0.02)
        assert 0.99 < drawn.high <= 1.0

    def test_a_model_that_bends(self) -> None:
        """y = x²: the law takes the slope, 2x·u; drawing finds the shift of the mean, u², as well."""
        inputs = [Input(estimate=3.0, standard_uncertainty=0.1)]
        assert propagate(lambda x: x[0] ** 2, inputs, 0.95).standard == pytest.approx(0.6, rel=1e-6)
        assert monte_carlo(lambda x: x[0] ** 2, inputs, 0.95, draws=100_000).mean == pytest.approx(9.01, abs=0.01)

    def test_nothing_uncertain_is_certain(self) -> None:
        budget = budget_of([part(0.0, Distribution.NORMAL, degrees=6)], level=0.95)
        assert budget.expanded_pct == 0.0
        assert budget.monte_carlo_low_pct == budget.monte_carlo_high_pct == 0.0


class TestRideBudget:
    def test_without_a_word_the_spread_among_meters_in_use_covers_the_reference(self) -> None:
        budget = made()
        found = parts(budget)
        assert set(found) == {"claim", "clock", "response", "sampling", "statistics"}
        assert found["claim"].standard_uncertainty == 3.2
        assert found["claim"].is_default
        assert found["claim"].common
        assert budget.reference_pct == pytest.approx(3.2 * 0.95)
        assert budget.common_pct == pytest.approx(3.2 * 0.95)
        assert any("1 to 4 %" in note for note in budget.notes)

    def test_a_number_given_takes_its_place(self) -> None:
        found = parts(made(given_pct=1.7))
        assert (found["claim"].standard_uncertainty, found["claim"].is_default) == (1.7, False)
        assert made(given_pct=0.0).standard_pct == pytest.approx(
            math.hypot(0.3, 0.001, 0.01 / math.sqrt(3), 0.003 * 0.95), rel=1e-6
        )

    def test_a_claim_brings_what_it_does_not_cover_each_saying_that_it_is_a_default(self) -> None:
        budget = made(MeterFile(place=Place.PEDAL, stated=CLAIM))
        found = parts(budget)
        assert {"claim", "zero", "temperature", "crank_length"} <= set(found)
        assert found["claim"].contribution_pct == pytest.approx(0.95 / math.sqrt(3))
        assert not found["claim"].is_default
        assert all(found[name].is_default for name in ("zero", "temperature", "crank_length"))
        # 1 N·m at 90 rpm is 9.42 W of 200.
        assert found["zero"].sensitivity == pytest.approx(0.95 * 9.42478 / 2, rel=1e-5)
        assert found["zero"].standard_uncertainty == pytest.approx(0.5 / math.sqrt(3))
        assert found["crank_length"].standard_uncertainty == pytest.approx(2.5 / math.sqrt(3))

    def test_what_is_on_record_narrows_the_defaults(self) -> None:
        setup = SetupRecord(
            zero_taken=True, crank_set_mm=170, crank_true_mm=170, temperature_c=22.0, zero_temperature_c=21.0
        )
        found = parts(made(MeterFile(place=Place.PEDAL, stated=CLAIM, setup=setup)))
        assert found["zero"].standard_uncertainty == pytest.approx(0.1 / math.sqrt(3))
        assert not found["zero"].common
        assert found["crank_length"].contribution_pct == pytest.approx(0.95 * 100 * 0.5 / math.sqrt(3) / 170)
        assert found["temperature"].standard_uncertainty == pytest.approx(1.0 / math.sqrt(3))
        assert found["temperature"].origin is Origin.MEASURED

    def test_a_spider_has_no_crank_length(self) -> None:
        assert "crank_length" not in parts(made(MeterFile(place=Place.SPIDER, stated=CLAIM)))

    def test_stated_beside_a_default_reference_counts_only_what_is_stated(self) -> None:
        stated = {"zero": StatedUncertainty(standard_uncertainty=0.2, degrees=5, source="ten zeros", common=True)}
        found = parts(made(MeterFile(stated=stated)))
        assert set(found) == {"claim", "zero", "clock", "response", "sampling", "statistics"}
        zero = found["zero"]
        assert (zero.standard_uncertainty, zero.degrees, zero.source, zero.common) == (0.2, 5, "ten zeros", True)
        assert zero.distribution is Distribution.NORMAL

    def test_a_transmission_between_the_two_is_unsure_and_not_taken_out(self) -> None:
        pedal, brake = MeterFile(place=Place.PEDAL), MeterFile(place=Place.BRAKE)
        budget = made(pedal, brake)
        # (3.5 - 2.3 W over 200 W) + (1.4 - 1.0 %) is 1 % from end to end; 2.5 W + 1.2 % is 2.45 %.
        assert parts(budget)["transmission"].contribution_pct == pytest.approx(0.95 * 0.5 / math.sqrt(3))
        assert any("about 2.5 %" in note or "about 2.4 %" in note for note in budget.notes)
        assert "transmission" not in parts(made(pedal, MeterFile(place=Place.CRANK)))

    def test_a_claim_without_a_size_is_no_claim(self) -> None:
        budget = made(MeterFile(stated={"claim": StatedUncertainty(source="x")}))
        assert budget.expanded_pct == made().expanded_pct
        assert any("states no size" in note for note in budget.notes)

    def test_a_number_given_beats_the_file_and_says_so(self) -> None:
        budget = made(MeterFile(place=Place.PEDAL, stated=CLAIM), given_pct=5.0)
        assert parts(budget)["claim"].standard_uncertainty == 5.0
        assert any("5 % given" in note for note in budget.notes)

    def test_what_the_record_says_is_wrong_counts_whatever_covers_the_reference(self) -> None:
        setup = SetupRecord(zero_taken=False, crank_set_mm=172.5, crank_true_mm=170)
        meter = MeterFile(place=Place.PEDAL, sides=Sides.LEFT_DOUBLED, setup=setup)
        budget = made(meter)
        found = parts(budget)
        assert found["zero"].standard_uncertainty == pytest.approx(0.5 / math.sqrt(3))
        assert found["crank_length"].contribution_pct * math.sqrt(3) > 0.95 * 100 * 2.5 / 170
        assert any("doubles one leg" in note for note in budget.notes)
        assert any("2.5 mm wrong" in note for note in budget.notes)
        assert "crank_length" not in parts(made(replace(meter, put_right_crank=True)))

    def test_a_response_that_was_not_taken_out_is_no_row_of_nothing(self) -> None:
        budget = ride_budget(replace(FACTS, response_pct=0.0), reference=None, unit=None, given_pct=None, level=0.95)
        assert "response" not in parts(budget)
        assert any("No response was taken out" in note for note in budget.notes)
        assert parts(budget)["sampling"].origin is Origin.ASSUMED

    def test_without_cadence_it_says_what_was_taken(self) -> None:
        facts = replace(FACTS, cadence_known=False)
        budget = ride_budget(facts, reference=None, unit=None, given_pct=None, level=0.95)
        assert any("85 rpm" in note for note in budget.notes)


class TestRideFacts:
    def test_of_a_ride(self) -> None:
        generator = np.random.default_rng(3)
        expected = 200 + 50 * generator.standard_normal(3600)
        facts = ride_facts(
            reference_w=expected,
            expected_w=expected,
            compared_w=0.97 * expected,
            cadence_rpm=np.full(3600, 80.0),
            clock_s=math.nan,
            statistics_pct=0.2,
            statistics_degrees=6,
        )
        assert facts.ratio == pytest.approx(0.97)
        assert facts.mean_rpm == 80
        assert facts.clock_s == 0.5
        assert facts.clock_pct_per_s < 0.1
        assert facts.response_pct == 0
        assert facts.rounding_pct < 0.01

    def test_a_display_that_never_changes_errs_by_its_rounding(self) -> None:
        held = np.full(600, 100.0)
        facts = ride_facts(
            reference_w=held,
            expected_w=held,
            compared_w=held,
            cadence_rpm=np.full(600, np.nan),
            clock_s=0.0,
            statistics_pct=0.0,
            statistics_degrees=6,
        )
        assert facts.rounding_pct == pytest.approx(math.sqrt(2 / 12))
        assert not facts.cadence_known

    def test_nothing_in_common_is_refused(self) -> None:
        nothing = np.full(60, np.nan)
        with pytest.raises(ValueError, match="no power in common"):
            ride_facts(
                reference_w=nothing,
                expected_w=nothing,
                compared_w=nothing,
                cadence_rpm=nothing,
                clock_s=0.0,
                statistics_pct=0.0,
                statistics_degrees=6,
            )
