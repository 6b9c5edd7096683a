"""Each check of a setup finds what it is for, and keeps quiet where all is well."""

from __future__ import annotations

from dataclasses import replace

import pytest

from wattwitness.model.recording import Severity
from wattwitness.model.setup import MeterFile, Place, SetupRecord, Sides
from wattwitness.reference.setup_checks import crank_factor, same_bike_findings, setup_findings

CAREFUL = MeterFile(
    name="pedals",
    place=Place.PEDAL,
    sides=Sides.BOTH,
    setup=SetupRecord(
        crank_set_mm=172.5,
        crank_true_mm=172.5,
        zero_taken=True,
        firmware="3.2",
        battery_pct=90,
        temperature_c=21,
        zero_temperature_c=20,
        warm_up_min=20,
        hours_since_fitted=30,
    ),
)


def slugs(meter: MeterFile, *, is_reference: bool = True) -> set[str]:
    return {notice.slug for notice in setup_findings(meter, "pedals", is_reference=is_reference)}


def test_a_careful_setup_has_no_finding() -> None:
    assert slugs(CAREFUL) == set()


@pytest.mark.parametrize(
    ("change", "slug"),
    [
        ({"crank_set_mm": 175.0}, "crank_length_mismatch"),
        ({"zero_taken": False}, "zero_not_taken"),
        ({"hours_since_fitted": 0.5}, "pedals_not_bedded_in"),
        ({"battery_pct": 10.0}, "battery_low"),
        ({"warm_up_min": 2.0}, "not_warmed_up"),
        ({"zero_temperature_c": 5.0}, "temperature_since_zero"),
        ({"firmware": ""}, "setup_not_recorded"),
        ({"zero_taken": None}, "setup_not_recorded"),
    ],
)
def test_each_finds_its_own(change: dict[str, object], slug: str) -> None:
    meter = replace(CAREFUL, setup=replace(CAREFUL.setup, **change))  # type: ignore[arg-type]
    assert slugs(meter) == {slug}


def test_one_leg_doubled_matters_in_a_reference_only() -> None:
    doubled = replace(CAREFUL, sides=Sides.LEFT_DOUBLED)
    assert slugs(doubled) == {"single_sided_reference"}
    assert slugs(doubled, is_reference=False) == set()


def test_a_wrong_crank_length_says_which_way_and_how_far() -> None:
    meter = replace(CAREFUL, setup=replace(CAREFUL.setup, crank_set_mm=175.0))
    (finding,) = setup_findings(meter, "pedals", is_reference=True)
    assert "1.4 % high" in finding.message
    assert "a common step" in finding.message
    assert finding.severity is Severity.WARNING
    assert crank_factor(meter) is None
    put_right = replace(meter, put_right_crank=True)
    assert crank_factor(put_right) == pytest.approx(172.5 / 175)
    (finding,) = setup_findings(put_right, "pedals", is_reference=True)
    assert "multiplied by 172.5/175" in finding.message


def test_a_spider_does_not_use_the_length() -> None:
    meter = replace(CAREFUL, place=Place.SPIDER, put_right_crank=True, setup=replace(CAREFUL.setup, crank_set_mm=175.0))
    (finding,) = setup_findings(meter, "crank", is_reference=True)
    assert finding.severity is Severity.NOTE
    assert "nothing was put right, though its description asks" in finding.message
    assert crank_factor(meter) is None


def test_a_zero_not_taken_has_the_temperature_of_an_earlier_one() -> None:
    meter = replace(CAREFUL, setup=replace(CAREFUL.setup, zero_taken=False, zero_temperature_c=5.0))
    said = " ".join(finding.message for finding in setup_findings(meter, "pedals", is_reference=True))
    assert "last taken, before an earlier ride" in said


def test_one_bike_has_one_crank_length() -> None:
    other = replace(CAREFUL, setup=replace(CAREFUL.setup, crank_true_mm=170.0))
    assert [notice.slug for notice in same_bike_findings(CAREFUL, other)] == ["crank_true_disagrees"]
    assert same_bike_findings(CAREFUL, CAREFUL) == ()
    assert same_bike_findings(CAREFUL, MeterFile()) == ()


def test_nothing_on_record_is_one_note_that_lists_it() -> None:
    (finding,) = setup_findings(MeterFile(), "a meter", is_reference=True)
    assert finding.slug == "setup_not_recorded"
    assert all(
        words in finding.message for words in ("zero taken", "firmware", "crank length set", "place of the meter")
    )
