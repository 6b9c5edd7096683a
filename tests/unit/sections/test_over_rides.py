"""A study's report: never firmer than the numbers, for every number of rides and every verdict."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from tests.unit.study.figures import figures
from wattwitness.model.claim import Claim, ClaimStatus, VerdictWord
from wattwitness.model.section import Paragraph, Table
from wattwitness.model.study import RideFigures, Study
from wattwitness.render.study_html import study_page
from wattwitness.render.terminal import print_study
from wattwitness.rider.effects import rider_effects
from wattwitness.rider.zone_sets import SEVEN
from wattwitness.sections.over_rides.registry import STUDY_SECTIONS, study_sections
from wattwitness.study.assemble import StudyQuestion, study_of

TWO = Claim(name="two", source="the maker", status=ClaimStatus.STATED, limit_pct=2.0)
GOOD = [figures(k, bias) for k, bias in enumerate((-0.2, 0.1, 0.0, -0.1, 0.2, 0.1))]
LOW = [figures(k, bias) for k, bias in enumerate((-17.1, -16.8, -17.2, -17.0))]
APART = [figures(k, bias) for k, bias in enumerate((-13.0, -1.0, -7.0, -11.0, -3.0, -9.0))]


def looked(rides: list[RideFigures]) -> list[RideFigures]:
    return [replace(ride, faults_looked_for=True) for ride in rides]


def study(rides: list[RideFigures], **asked: object) -> Study:
    question = StudyQuestion(**{"claim": TWO, "reference_uncertainty_pct": 0.3, **asked})  # type: ignore[arg-type]
    found = study_of("bike A", rides, question, version="0")
    effects = rider_effects(
        found.rides, found.consistency, SEVEN, threshold_w=250.0, field=[("A", 300.0), ("B", 290.0)], level=0.95
    )
    return replace(found, rider=effects)


def words(found: Study) -> str:
    said = []
    for section in study_sections(found, [("notes.txt", "no recording")]):
        for block in section.blocks:
            if isinstance(block, Paragraph):
                said.append(block.text)
            elif isinstance(block, Table):
                said += [" ".join(row) for row in block.rows]
    return " ".join(said).replace("\u00a0", " ")


EDGES = {
    "none": [],
    "all left out": [figures(0, -4.0, left_out="clock_ambiguous"), figures(1, -5.0, left_out="no_power")],
    "one": [figures(0, -4.0)],
    "two": [figures(0, -4.0), figures(1, -4.4)],
    "good": GOOD,
    "low": looked(LOW),
    "apart": looked(APART),
}


@pytest.mark.parametrize("name", list(EDGES))
def test_every_section_of_every_study(name: str) -> None:
    found = study(EDGES[name])
    text = words(found)
    assert "nan" not in text
    assert "None" not in text
    page = study_page(found, [("notes.txt", "no recording")])
    assert "notes.txt" in page
    assert {spec.name for spec in STUDY_SECTIONS} >= {"verdict", "consistency", "rides"}


def test_nothing_measured_is_no_pass() -> None:
    text = words(study(EDGES["none"]))
    assert "No ride of bike A counts." in text
    assert "conforms" not in text
    assert "not assessed" in text


def test_one_ride_decides_nothing() -> None:
    text = words(study(EDGES["one"]))
    assert "on the one ride that counts" in text
    assert "says nothing of how rides differ" in text


def test_rides_left_out_are_named_with_the_reason() -> None:
    found = study([*GOOD, replace(figures(7, 9.0, left_out="zero_not_taken"), left_out_why="Its zero was not taken.")])
    text = words(found)
    assert "1 ride was left out" in text
    assert "ride 7 does not count: Its zero was not taken." in text


def test_verdicts_in_words() -> None:
    good, low, apart = (words(study(EDGES[name])) for name in ("good", "low", "apart"))
    assert "conforms" in good
    assert "does not conform" in low
    assert "It can be corrected by one factor" in low
    assert "It cannot be corrected" in apart
    assert "Faults could not be looked for" in good


def test_an_undecided_verdict_says_what_would_decide() -> None:
    found = study([figures(k, bias) for k, bias in enumerate((-0.9, 0.9, 0.2))])
    assert found.verdicts.trueness.verdict is VerdictWord.UNDECIDED
    assert found.verdicts.trueness.further_rides.reason.split(",")[0] in words(found)
    blind = study(GOOD, reference_uncertainty_pct=3.2)
    assert blind.verdicts.trueness.further_rides.value is None
    assert "no number helps" in words(blind)


def test_no_claim_is_no_verdict() -> None:
    text = words(study(GOOD, claim=None))
    assert "No limit on the bias is claimed." in text


def test_before_and_after_judges_the_unit_as_it_is_now() -> None:
    before = [replace(ride, group="old", name=f"old {k}") for k, ride in enumerate(LOW)]
    after = [replace(ride, group="new", name=f"new {k}") for k, ride in enumerate(GOOD)]
    found = study(looked([*before, *after]), before="old", after="new")
    text = words(found)
    assert found.consistency.standardised.rides == len(GOOD)
    assert "Judged as it is now, on the rides of “new”" in text
    assert "It is fixed" in text
    alone = study([before[0], after[0]], before="old", after="new")
    assert "It is fixed" not in words(alone)


@pytest.mark.parametrize("name", ["one", "apart"])
def test_eighty_columns(name: str) -> None:
    out = StringIO()
    print_study(study(EDGES[name]), (), Console(file=out, width=80, highlight=False, markup=False, emoji=False))
    assert max(len(line) for line in out.getvalue().splitlines()) <= 80
