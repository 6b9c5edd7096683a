"""Worksheets gone wrong: slips are pointed at with their line, copies count once, a zero that jumps is allowed for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.unit.reference.worksheets import TrueMeter, worksheet
from wattwitness.model.hanging_weights import HungReading, LoadStep, Side, Weighing, Worksheet
from wattwitness.model.recording import Severity
from wattwitness.reference.hanging_weights import weigh
from wattwitness.reference.weighing_doubts import SLIPS, likely_slip
from wattwitness.workflows.weigh import weigh_worksheets


def changed(sheet: Worksheet, change: Callable[[HungReading], HungReading]) -> Worksheet:
    return replace(sheet, readings=tuple(change(item) for item in sheet.readings))


def numbered(sheet: Worksheet) -> Worksheet:
    return replace(sheet, readings=tuple(replace(item, line=12 + n) for n, item in enumerate(sheet.readings)))


def message(weighing: Weighing, slug: str) -> str:
    return " ".join(item.message for item in weighing.notices if item.slug == slug)


def slugs(weighing: Weighing) -> set[str]:
    return {item.slug for item in weighing.notices if item.severity is Severity.WARNING}


@pytest.mark.parametrize("shown", [5.0, 0.0])
def test_a_display_that_never_moves_is_said_and_breaks_nothing(shown: float) -> None:
    held = changed(worksheet(TrueMeter(), 1), lambda item: replace(item, reading_nm=shown))
    weighing = weigh(held)
    assert "Nothing follows for the meter" in message(weighing, "reading_never_changes")
    assert weighing.correction_factor.not_assessed == "gain_not_positive"


@pytest.mark.parametrize(
    ("positions", "repeats", "place"), [(4, 2, 3), (4, 2, 0), (4, 2, 9), (1, 1, 2), (1, 1, 4), (2, 1, 13)]
)
def test_one_mistyped_cell_is_pointed_at_with_its_line(positions: int, repeats: int, place: int) -> None:
    sheet = numbered(worksheet(TrueMeter(gain=1.02), 3, positions=positions, repeats=repeats, sides=(Side.LEFT,)))
    wrong = sheet.readings[place]
    loaded = wrong.step in (LoadStep.UP, LoadStep.DOWN)
    slip = replace(wrong, mass_kg=wrong.mass_kg / 10) if loaded else replace(wrong, reading_nm=wrong.reading_nm + 5)
    weighing = weigh(changed(sheet, lambda item: slip if item is wrong else item))
    (notice,) = [item for item in weighing.notices if item.slug == "readings_off_the_line"]
    assert notice.samples == 1
    assert f"Line {12 + place}:" in notice.message
    if loaded:
        assert f"{wrong.mass_kg:g} kg would fit" in notice.message or positions == 1
    without = float(notice.message.split(" with it and ")[1].split()[0])
    assert without == pytest.approx(2.0, abs=0.5)


@pytest.mark.parametrize(
    "meter",
    [
        TrueMeter(),
        TrueMeter(bow_nm=0.3),
        TrueMeter(hysteresis_nm=0.2),
        TrueMeter(position_pct=0.5),
        TrueMeter(scatter_nm=0.3),
        TrueMeter(zero_shift_nm=0.3),
    ],
)
def test_readings_that_scatter_bend_or_lag_are_no_slips(meter: TrueMeter) -> None:
    """40 worksheets each, large and small."""
    made = [weigh(worksheet(meter, seed)) for seed in range(20)]
    made += [weigh(worksheet(meter, seed, positions=1, repeats=1, sides=(Side.LEFT,))) for seed in range(20)]
    assert sum("readings_off_the_line" in slugs(item) for item in made) <= 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda item: replace(item, lever_mm=item.lever_mm / 10), "the lever in centimetres"),
        (lambda item: replace(item, reading_nm=item.reading_nm * 0.737562), "pound-force feet"),
        (lambda item: replace(item, reading_nm=item.reading_nm * 8.850746), "pound-force inches"),
        (lambda item: replace(item, mass_kg=item.mass_kg / 0.453592), "masses may be in pounds"),
        (lambda item: replace(item, reading_nm=item.reading_nm * 100), "N·cm"),
        (lambda item: replace(item, reading_nm=item.reading_nm * 2), "double the side"),
        (lambda item: replace(item, reading_nm=item.reading_nm * 1.3), "check the units"),
    ],
)
def test_a_slope_that_no_meter_has_names_the_likely_slip(
    change: Callable[[HungReading], HungReading], words: str
) -> None:
    weighing = weigh(changed(worksheet(TrueMeter(), 2), change))
    assert words in message(weighing, "slope_implausible")
    assert "slope_implausible" in slugs(weighing)


def test_units_of_torque_have_the_factors_of_their_definitions() -> None:
    """1 lbf = 0.45359237 kg x 9.80665 m/s², 1 in = 0.0254 m, 1 kgf = 9.80665 N: exact by definition (from memory)."""
    pound_force, inch = 0.45359237 * 9.80665, 0.0254
    exact = (1 / (pound_force * 12 * inch), 1 / (pound_force * inch), 100 / 9.80665, 1 / 9.80665, 0.45359237)
    factors = [factor for factor, _ in SLIPS]
    for value in exact:
        assert min(abs(factor / value - 1) for factor in factors) < 1e-5
    assert likely_slip(1.05) == ""


def test_levers_and_zeros_that_cannot_be() -> None:
    sheet = numbered(worksheet(TrueMeter(), 2, sides=(Side.LEFT,)))
    short = weigh(changed(sheet, lambda item: replace(item, lever_mm=17.25)))
    assert "17.25 mm (first on line 13)" in message(short, "lever_implausible")
    assert "In centimetres it would be 172.5 mm" in message(short, "lever_implausible")
    far = weigh(worksheet(TrueMeter(zero_nm=15.0), 2))
    assert "+15.0 N·m" in message(far, "zero_implausible")
    doubtful = {"slope_implausible", "lever_implausible", "zero_implausible", "reading_never_changes"}
    assert not doubtful & slugs(weigh(sheet))


def test_rows_that_stand_twice_count_once() -> None:
    sheet = worksheet(TrueMeter(), 5)
    twice = numbered(replace(sheet, readings=sheet.readings + sheet.readings))
    once, doubled = weigh(sheet), weigh(twice)
    assert doubled.gain_pct == once.gain_pct
    assert doubled.sides[0].readings == once.sides[0].readings
    assert "lines" in message(doubled, "rows_repeated")
    (notice,) = [item for item in doubled.notices if item.slug == "rows_repeated"]
    assert notice.samples == len(sheet.readings)


def test_a_zero_read_three_times_is_no_copy() -> None:
    sheet = worksheet(TrueMeter(), 5, positions=1, repeats=1, sides=(Side.LEFT,))
    weighing = weigh(replace(sheet, readings=(sheet.readings[0],) * 2 + sheet.readings))
    assert "rows_repeated" not in slugs(weighing)
    assert weighing.sides[0].readings == len(sheet.readings) + 2


def test_copies_of_a_worksheet_are_no_second_weighing() -> None:
    first = replace(worksheet(TrueMeter(), 1), source="a.csv", sha256="1" * 64)
    same = replace(first, source="b.csv")
    redated = replace(first, source="c.csv", sha256="2" * 64, date="2026-02-01")
    other = replace(worksheet(TrueMeter(), 2, date="2026-03-01"), source="d.csv", sha256="3" * 64)
    report = weigh_worksheets([first, first, same, redated, other])
    assert len(report.weighings) == 2
    assert report.drifts[0].weighings == 2
    said = message(report.weighings[0], "worksheet_repeated")
    assert "a.csv is the same file again" in said
    assert "b.csv is the same file as a.csv, byte for byte" in said
    assert "c.csv holds the same readings as a.csv" in said
    assert weigh_worksheets([first, first]).drifts == ()


@pytest.mark.parametrize(("positions", "repeats"), [(4, 2), (1, 1)])
@pytest.mark.parametrize("moment", [1, 4, 7, 9])
def test_a_zero_that_jumps_at_any_moment_is_inside_the_interval(positions: int, repeats: int, moment: int) -> None:
    """1.5 N·m in every series alike, at the last step or earlier; the true gain is +1 %."""
    sheet = worksheet(TrueMeter(zero_shift_nm=0.0), 4, positions=positions, repeats=repeats)
    jumped = []
    for place, item in enumerate(sheet.readings):
        jumped.append(replace(item, reading_nm=item.reading_nm + 1.5 * (place % 10 >= moment)))
    weighing = weigh(replace(sheet, readings=tuple(jumped)))
    assert weighing.gain_pct.low is not None
    assert weighing.gain_pct.high is not None
    assert weighing.gain_pct.low <= 1.0 <= weighing.gain_pct.high
    assert "zero_moved" in slugs(weighing)


def test_a_steady_zero_costs_next_to_nothing() -> None:
    weighing = weigh(worksheet(TrueMeter(zero_shift_nm=0.0), 4))
    (part,) = [part for part in weighing.budget.contributions if part.name == "zero_path"]
    assert part.contribution_pct < 0.1


def test_a_zero_that_was_not_read_after_is_said() -> None:
    sheet = worksheet(TrueMeter(), 4)
    kept = tuple(item for item in sheet.readings if item.step is not LoadStep.ZERO_AFTER)
    weighing = weigh(replace(sheet, readings=kept))
    assert "in no interval" in message(weighing, "zero_not_followed")
