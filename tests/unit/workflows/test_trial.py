"""The reference on trial from recordings: budget, setup, a crank put right, three meters; and weights from files."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.unit.reference.worksheets import TrueMeter, worksheet
from wattwitness.model.arrays import FloatArray
from wattwitness.model.comparison import Comparison
from wattwitness.model.errors import MeterFileInvalid, OutputExists, SettingInvalid, WorksheetInvalid
from wattwitness.model.recording import ChannelName, Recording, Source
from wattwitness.model.section import Paragraph, Section
from wattwitness.model.settings import CompareSettings
from wattwitness.model.setup import MeterFile, Place, SetupRecord, Sides, StatedUncertainty
from wattwitness.sections.registry import SECTIONS
from wattwitness.workflows.compare import compare_recordings
from wattwitness.workflows.meters import Meters, read_meters, with_meter
from wattwitness.workflows.weigh import save_blank_worksheet, weigh_files, weigh_worksheets

SECONDS = 1800


def recording(name: str, power_w: FloatArray, cadence_rpm: FloatArray) -> Recording:
    source = Source(file_name=f"{name}.csv", sha256="0" * 64, size_bytes=1, format_name="csv")
    time_s = np.arange(power_w.size, dtype=np.float64)
    channels = {ChannelName.POWER: power_w, ChannelName.CADENCE: cadence_rpm}
    return Recording(source=source, time_s=time_s, dated=False, channels=channels)


def ride(*errors: Callable[[np.random.Generator, FloatArray], FloatArray]) -> tuple[Recording, ...]:
    """One ride of intervals, seen by meters that each do something to the true power."""
    generator = np.random.default_rng(11)
    blocks = np.repeat(generator.uniform(120, 320, SECONDS // 45 + 1), 45)[:SECONDS]
    true_w = blocks * (1 + 0.07 * generator.standard_normal(SECONDS))
    cadence = 85 + np.repeat(generator.uniform(-12, 12, SECONDS // 30 + 1), 30)[:SECONDS]
    cadence = cadence + generator.standard_normal(SECONDS)
    return tuple(recording(f"meter {place}", error(generator, true_w), cadence) for place, error in enumerate(errors))


def gain(factor: float, noise_pct: float = 1.0) -> Callable[[np.random.Generator, FloatArray], FloatArray]:
    return lambda generator, true_w: np.asarray(
        true_w * factor * (1 + noise_pct / 100 * generator.standard_normal(true_w.size))
    )


def paragraphs(section: Section | None) -> str:
    assert section is not None
    return " ".join(block.text for block in section.blocks if isinstance(block, Paragraph))


@pytest.fixture(scope="module")
def pair() -> tuple[Recording, ...]:
    """A reference that was set to 175 mm on cranks of 170, and a good unit."""
    return ride(gain(175 / 170), gain(1.0))


@pytest.fixture(scope="module")
def three() -> Comparison:
    """White errors of 1, 2 and 4 %, gains of their own."""
    return compare_recordings(ride(gain(1.0, 1.0), gain(1.02, 2.0), gain(0.97, 4.0)), CompareSettings())


class TestBudget:
    def test_the_bias_with_the_reference_is_that_of_the_budget(self, pair: tuple[Recording, ...]) -> None:
        found = compare_recordings(pair, CompareSettings()).pairs[0]
        bias, budget = found.overall.bias_with_reference_pct, found.budget
        assert budget is not None
        assert bias.value is not None
        assert bias.high is not None
        assert bias.high - bias.value == pytest.approx(budget.expanded_pct)
        assert found.overall.reference_uncertainty_pct == pytest.approx(3.2)
        own = found.overall.bias_pct
        assert own.low is not None
        assert bias.low is not None
        assert bias.low < own.low

    def test_a_described_reference_is_believed_as_far_as_it_states(self, pair: tuple[Recording, ...]) -> None:
        stated = {"claim": StatedUncertainty(half_width=1.0)}
        setup = SetupRecord(zero_taken=True, crank_set_mm=170, crank_true_mm=170)
        meter = MeterFile(source="pedals.toml", place=Place.PEDAL, stated=stated, setup=setup)
        found = compare_recordings(pair, CompareSettings(), meters=Meters(reference=meter)).pairs[0]
        assert found.budget is not None
        assert found.budget.expanded_pct < 2
        assert "pedals.toml" in found.overall.reference_uncertainty_origin
        assert {part.name for part in found.budget.contributions} >= {"claim", "zero", "crank_length", "statistics"}

    def test_units_among_themselves_have_no_budget(self, three: Comparison) -> None:
        assert all(pair.budget is not None for pair in three.pairs)
        assert three.between_units[0].budget is None


class TestSetup:
    def test_a_crank_is_put_right_on_record_and_not_in_the_original(self, pair: tuple[Recording, ...]) -> None:
        setup = SetupRecord(crank_set_mm=175, crank_true_mm=170)
        meter = MeterFile(name="Pedals", place=Place.PEDAL, setup=setup, put_right_crank=True)
        before = pair[0].channels[ChannelName.POWER].copy()
        plain = compare_recordings(pair, CompareSettings()).pairs[0]
        found = compare_recordings(pair, CompareSettings(), meters=Meters(reference=meter)).pairs[0]
        assert plain.overall.bias_pct.value == pytest.approx(100 * (170 / 175 - 1), abs=0.3)
        assert found.overall.bias_pct.value == pytest.approx(0.0, abs=0.3)
        assert "crank_length_put_right" in {notice.slug for notice in found.notices}
        assert "crank_length_mismatch" in {notice.slug for notice in found.setup_findings}
        comparison = compare_recordings(pair, CompareSettings(), meters=Meters(reference=meter))
        assert paragraphs(SECTIONS.get("notices").build(comparison)).count("were multiplied by") == 1
        answer = paragraphs(SECTIONS.get("answer").build(comparison))
        assert "with its crank length put right" in answer
        assert "as it stands" not in answer
        assert found.reference.label == "Pedals"
        assert np.array_equal(pair[0].channels[ChannelName.POWER], before)

    def test_findings_of_both_meters_and_of_one_bike(self, pair: tuple[Recording, ...]) -> None:
        reference = MeterFile(
            place=Place.CRANK, sides=Sides.LEFT_DOUBLED, setup=SetupRecord(crank_set_mm=170, crank_true_mm=170)
        )
        unit = MeterFile(place=Place.BRAKE, setup=SetupRecord(zero_taken=False, crank_true_mm=172.5))
        meters = Meters(reference=reference, units=(unit,))
        found = compare_recordings(pair, CompareSettings(), meters=meters).pairs[0]
        slugs = {notice.slug for notice in found.setup_findings}
        assert slugs == {"single_sided_reference", "setup_not_recorded", "zero_not_taken", "crank_true_disagrees"}
        assert found.budget is not None
        assert any("about 2." in note for note in found.budget.notes)

    def test_a_recording_without_a_description_is_left_alone(self, pair: tuple[Recording, ...]) -> None:
        assert with_meter(pair[0], None) is pair[0]

    def test_descriptions_are_read_in_the_order_of_the_units(self, tmp_path: Path) -> None:
        path = tmp_path / "bike.toml"
        path.write_text('name = "Bike B"\nplace = "brake"\n', encoding="utf-8")
        meters = read_meters(None, [None, path], compared=2)
        assert meters.reference is None
        assert meters.unit(0) is None
        assert meters.unit(1) is not None
        assert meters.unit(2) is None
        assert read_meters(None, [], compared=1) == Meters()
        with pytest.raises(SettingInvalid, match="2 descriptions"):
            read_meters(None, [path, path], compared=1)
        with pytest.raises(MeterFileInvalid):
            read_meters(tmp_path / "none.toml", [], compared=1)


class TestThreeMeters:
    def test_each_gets_its_own_error_back(self, three: Comparison) -> None:
        together = three.meters
        assert together is not None
        assert not together.not_assessed
        assert [meter.recording for meter in together.meters] == [0, 1, 2]
        for meter, own in zip(together.meters, (1, 2, 4), strict=True):
            estimate = meter.spreads[0].own_sd_pct
            assert estimate.value == pytest.approx(own, rel=0.3)
        assert together.seconds > 1700

    def test_the_triangle_closes(self, three: Comparison) -> None:
        assert three.meters is not None
        (closure,) = three.meters.closures
        assert (closure.first, closure.second) == (1, 2)
        assert closure.closes
        assert closure.closure_pct.value == pytest.approx(0.0, abs=0.2)

    def test_two_recordings_are_too_few_to_ask(self, pair: tuple[Recording, ...]) -> None:
        assert compare_recordings(pair, CompareSettings()).meters is None

    def test_a_meter_that_shares_nothing_leaves_too_few(self) -> None:
        first, second = ride(gain(1.0), gain(1.02))
        nothing = recording("other", np.full(SECONDS, np.nan), np.full(SECONDS, np.nan))
        together = compare_recordings((first, second, nothing), CompareSettings()).meters
        assert together is not None
        assert together.not_assessed == "too_few_meters"
        assert together.meters == ()


class TestWeigh:
    def test_worksheets_are_put_in_order_of_date(self) -> None:
        sheets = [worksheet(TrueMeter(), n, date=date) for n, date in enumerate(("2026-03-01", "2026-01-01"))]
        report = weigh_worksheets(sheets)
        assert [weighing.date for weighing in report.weighings] == ["2026-01-01", "2026-03-01"]
        assert len(report.drifts) == 1

    def test_a_worksheet_with_one_load_is_refused_in_words(self) -> None:
        made = worksheet(TrueMeter(), 1, positions=1, repeats=1)
        one_load = tuple(item for item in made.readings if item.mass_kg in (0.0, 5.0))
        with pytest.raises(WorksheetInvalid, match="fewer than 3 different loads"):
            weigh_worksheets([type(made)(meter="m", readings=one_load)])

    def test_a_blank_worksheet_is_written_once(self, tmp_path: Path) -> None:
        path = tmp_path / "sheet.csv"
        save_blank_worksheet(path)
        assert path.read_text(encoding="utf-8").startswith("# hanging weights")
        with pytest.raises(OutputExists):
            save_blank_worksheet(path)
        with pytest.raises(WorksheetInvalid, match="No row has a reading"):
            weigh_files([path])
