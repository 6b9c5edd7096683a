"""Sections on why meters differ and on the reference on trial: never firmer than the numbers, and never silent."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.factories import (
    COMPARISONS,
    around,
    budget,
    comparison,
    hardly_together,
    meters_together,
    on_trial,
    pair,
    percent,
    plain,
)
from tests.factories_why import anatomy, settling, stories
from tests.unit.reference.worksheets import TrueMeter, worksheet
from wattwitness.agreement.change import change_of_bias
from wattwitness.model.anatomy import Anatomy, StoryStatus
from wattwitness.model.comparison import Comparison
from wattwitness.model.estimate import Estimate
from wattwitness.model.hanging_weights import Side
from wattwitness.model.section import Paragraph, Section, Table, Tone
from wattwitness.model.settling import TimeModel
from wattwitness.sections.registry import SECTIONS
from wattwitness.sections.weighing import weighing_sections
from wattwitness.words.estimates import holds_zero
from wattwitness.workflows.weigh import weigh_worksheets

WITHOUT_POWER = ("reference_without_power", "ambiguous", "no_common_effort", "same_source")


def said(section: Section | None, tone: Tone | None = None) -> str:
    assert section is not None
    blocks = [block for block in section.blocks if isinstance(block, Paragraph)]
    return plain(" ".join(block.text for block in blocks if tone is None or block.tone is tone))


def build(name: str, made: Comparison) -> Section | None:
    return SECTIONS.get(name).build(made)


def table(section: Section | None, start: str) -> Table:
    assert section is not None
    (found,) = (item for item in section.blocks if isinstance(item, Table) and item.caption.startswith(start))
    return found


def with_anatomy(found: Anatomy | None) -> Comparison:
    return comparison(replace(pair(), anatomy=found))


@pytest.mark.parametrize("part", ["anatomy", "stories", "settling", "budget"])
@pytest.mark.parametrize("name", WITHOUT_POWER)
def test_without_common_power_nothing_is_claimed(part: str, name: str) -> None:
    section = build(part, COMPARISONS[name]())
    if section is not None:
        assert "was not assessed" in said(section)
        assert not [block for block in section.blocks if isinstance(block, Table)]


class TestAnatomy:
    SHOWN, HELD = around(0.4, 0.1, "N·m"), around(0.02, 0.06, "N·m")

    @pytest.mark.parametrize(
        ("zero", "gain", "words"),
        [
            (SHOWN, percent(-4.0), "with a gain of −4.00 (−4.50 to −3.50) % and a zero of +0.40"),
            (HELD, percent(-4.0), "no zero is shown"),
            (SHOWN, percent(0.1), "no gain is shown"),
            (HELD, percent(0.1), "torque and the reference’s no zero"),
        ],
    )
    def test_an_interval_that_holds_zero_shows_nothing(self, zero: Estimate, gain: Estimate, words: str) -> None:
        text = said(build("anatomy", with_anatomy(replace(anatomy(), zero_nm=zero, gain_pct=gain))))
        assert words in text
        assert ("no zero" in text) is (zero is self.HELD)

    def test_an_end_without_bound_claims_nothing(self) -> None:
        endless = replace(percent(-4.0), high=float("inf"))
        text = said(build("anatomy", with_anatomy(replace(anatomy(), gain_pct=endless))))
        assert "no gain (−4.00 (−4.50 to +∞) %) is shown" in text

    def test_zero_and_gain_that_are_one_thing_are_said_to_be(self) -> None:
        for correlation, told in ((-0.91, False), (-0.985, True)):
            text = said(build("anatomy", with_anatomy(replace(anatomy(), zero_gain_correlation=correlation))))
            assert ("hardly varies the torque" in text) is told

    def test_strays_warn(self) -> None:
        steady = build("anatomy", with_anatomy(anatomy()))
        stray = build("anatomy", with_anatomy(replace(anatomy(), median_zero_nm=1.5, median_gain_pct=-11.0)))
        assert "goes its own way" not in said(steady, Tone.WARNING)
        assert "goes its own way" in said(stray, Tone.WARNING)

    def test_what_was_not_assessed_stands_in_the_table_with_its_reason(self) -> None:
        rows = {row[0]: row for row in table(build("anatomy", with_anatomy(anatomy())), "Change of the bias").rows}
        assert rows["after a rise of power less after a fall"][3]
        assert rows["after a rise of power less after a fall"][1] == "–"
        assert rows["per point of left share"][3]

    def test_none_is_not_assessed(self) -> None:
        assert "not assessed" in said(build("anatomy", with_anatomy(None)))


class TestStories:
    def test_allowed_is_never_proven(self) -> None:
        section = build("stories", comparison())
        text = said(section)
        assert "the ride allows" in text
        assert "What is not excluded is not proven." in text
        assert "Look the length up in the meter’s setting and on the crank." in text
        assert len(table(section, "Stories the ride allows").rows) == 2
        excluded = table(section, "Stories the ride excludes")
        assert excluded.folded
        chances = {row[1].replace("\u00a0", " ") for row in excluded.rows}
        assert chances == {"under 0.1", "–"}
        assert "no probability of the story" in text

    def test_none_allowed_is_said(self) -> None:
        none = tuple(replace(story, status=StoryStatus.EXCLUDED) for story in stories())
        assert "none of the stories told here fits" in said(build("stories", comparison(replace(pair(), stories=none))))

    def test_none_told_is_not_assessed(self) -> None:
        assert "not assessed" in said(build("stories", comparison(replace(pair(), stories=()))))


class TestSettling:
    @pytest.mark.parametrize("model", list(TimeModel))
    def test_only_confounded_warns(self, model: TimeModel) -> None:
        section = build("settling", comparison(replace(pair(), settling=settling(model))))
        assert bool(said(section, Tone.WARNING)) is (model is TimeModel.CONFOUNDED)
        assert "At equal power the second half reads" in said(section)

    def test_no_time_is_told_where_nothing_settles(self) -> None:
        section = build("settling", comparison(replace(pair(), settling=settling(TimeModel.CONSTANT))))
        rows = {row[0]: row for row in table(section, "The course of the bias").rows}
        assert rows["time constant"][1] == "–"
        assert rows["time constant"][4]

    def test_without_a_model_it_is_not_assessed(self) -> None:
        for nothing in (None, settling(None)):
            assert "not assessed" in said(build("settling", comparison(replace(pair(), settling=nothing))))


class TestTheAnswerAgreesWithWhatFollows:
    def test_a_course_and_a_zero_stand_in_the_answer(self) -> None:
        shown = replace(anatomy(), zero_nm=around(0.4, 0.1, "N·m"))
        text = said(build("answer", comparison(replace(pair(), settling=settling(), anatomy=shown))))
        assert "its bias settles along the ride, from 7.3 % low to 4.3 % low." in text
        assert "a zero of +0.40 (+0.30 to +0.50) N·m" in text
        none = said(build("answer", comparison(replace(pair(), settling=settling(TimeModel.CONSTANT)))))
        assert "along the ride, from" not in none

    @pytest.mark.parametrize("change", [around(2.4, 0.8, "percentage points"), around(0.1, 0.8, "percentage points")])
    def test_two_judgements_of_the_halves_are_both_said_where_they_differ(self, change: Estimate) -> None:
        made = pair()
        ridden = change_of_bias(*made.halves)
        differ = holds_zero(ridden) is not holds_zero(change)
        text = said(build("answer", comparison(replace(made, settling=replace(settling(), halves_change_pct=change)))))
        assert ("At equal power" in text) is differ

    def test_a_settling_beyond_the_end_is_extrapolated(self) -> None:
        short = replace(settling(), settled_at_min=around(90.0, 9.0, "min"))
        assert "extrapolated" in said(build("settling", comparison(replace(pair(), settling=short))))
        assert "extrapolated" not in said(build("settling", comparison(replace(pair(), settling=settling()))))

    def test_zero_and_gain_are_those_of_the_end_where_the_bias_changes(self) -> None:
        for model in (TimeModel.LINEAR, TimeModel.CONSTANT):
            text = said(build("anatomy", comparison(replace(pair(), anatomy=anatomy(), settling=settling(model)))))
            assert ("those of the end of the ride" in text) is (model is TimeModel.LINEAR)


class TestBudget:
    def test_says_the_half_width_the_largest_part_and_the_defaults(self) -> None:
        text = said(build("budget", comparison()))
        assert "known within ±6" in text or "known within ±5.98" in text
        assert "the reference meter makes most" in text
        assert "which more rides do not shrink" in text
        assert "Nobody stated the reference meter: a default stands in." in text

    def test_nothing_is_called_a_default_where_all_was_stated(self) -> None:
        stated = replace(
            budget(), contributions=tuple(replace(part, is_default=False) for part in budget().contributions)
        )
        assert "default" not in said(build("budget", comparison(replace(pair(), budget=stated))))


class TestSetup:
    def test_each_finding_once_and_none_without_a_description(self) -> None:
        assert build("setup", comparison()) is None
        assert said(build("setup", on_trial())).count("its zero was not taken") == 1


class TestBetween:
    def test_only_where_there_are_several(self) -> None:
        assert build("between", comparison()) is None
        section = build("between", on_trial())
        assert len(table(section, "Second unit over first").rows) == 1
        assert "Neither is taken as true" in said(section)

    def test_no_difference_is_no_difference(self) -> None:
        made = on_trial()
        (one,) = made.between_units
        same = replace(one, overall=replace(one.overall, bias_pct=percent(0.1)))
        (row,) = table(build("between", replace(made, between_units=(same,))), "Second unit over first").rows
        assert row[-1].startswith("no difference shown")


class TestOwnErrors:
    def test_a_negative_variance_is_said_to_be_one(self) -> None:
        section = build("own_errors", on_trial())
        remarks = [row[-1].replace("\u00a0", " ") for row in table(section, "Own error of each meter").rows]
        assert sum("beyond chance" in remark for remark in remarks) == 1
        assert sum(remark.startswith("variance") for remark in remarks) == 3
        assert "below zero" in said(section, Tone.WARNING)
        assert "do not close" in said(section)
        assert "nobody taken as true" in said(section).lower()

    def test_biases_that_close_are_said_to(self) -> None:
        together = meters_together("Pedals", "Bike A", "Bike B")
        closes = tuple(replace(item, closes=True) for item in together.closures)
        text = said(build("own_errors", replace(on_trial(), meters=replace(together, closures=closes))))
        assert "The three biases close" in text

    def test_two_recordings_have_no_section_and_too_few_a_reason(self) -> None:
        assert build("own_errors", comparison()) is None
        section = build("own_errors", hardly_together())
        assert said(section) == (
            "The meters’ own errors were not assessed: Fewer than three recordings share a clock and power."
        )


class TestWeighing:
    def test_a_gain_within_its_interval_of_one_is_no_gain(self) -> None:
        first, *_, last = weighing_sections(weigh_worksheets([worksheet(TrueMeter(gain=1.0), 1)]))
        assert "shows no difference that these weights could tell from zero" in said(first, Tone.HEADLINE)
        assert "nothing that these weights show to be corrected" in said(first)
        assert "Block the wheel or brake" in said(last, Tone.WARNING)
        assert "cranks that swing" in said(last, Tone.WARNING)

    def test_a_gain_is_said_with_its_interval(self) -> None:
        first, *_ = weighing_sections(weigh_worksheets([worksheet(TrueMeter(gain=1.03), 1)]))
        assert "reads 3" in said(first, Tone.HEADLINE)
        assert "95 %" in said(first, Tone.HEADLINE)
        assert "Left less right" in said(first)

    def test_what_one_series_cannot_show_has_a_reason(self) -> None:
        sheet = worksheet(TrueMeter(), 1, sides=(Side.LEFT,), positions=1, repeats=1)
        first, *_ = weighing_sections(weigh_worksheets([sheet]))
        rows = {row[1]: row for row in table(first, "What the weights show").rows}
        assert rows["from position to position"][3] == "–"
        assert rows["from position to position"][4] == "–", "a reason in a cell bursts the table"
        assert "rom position to position (left): not assessed" in said(first)
        assert "Left less right" not in said(first)

    @pytest.mark.parametrize(("gains", "drifts"), [((1.0, 1.0), False), ((1.0, 1.03), True)])
    def test_a_drift_only_beyond_chance(self, gains: tuple[float, float], drifts: bool) -> None:
        sheets = [
            worksheet(TrueMeter(gain=gain, scatter_nm=0.2), place + 1, date=f"2026-0{place + 1}-12")
            for place, gain in enumerate(gains)
        ]
        (drift,) = (item for item in weighing_sections(weigh_worksheets(sheets)) if item.name.startswith("drift"))
        assert ("has drifted" in said(drift, Tone.HEADLINE)) is drifts
        assert ("no drift that" in said(drift, Tone.HEADLINE)) is not drifts
