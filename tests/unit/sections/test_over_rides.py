"""A study's report: never firmer than the numbers, for every number of rides and every verdict."""

from __future__ import annotations

import re
from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from tests.unit.study.figures import figures
from wattwitness.charts import episodes_by_minute, forest
from wattwitness.model.chart import Chart, Line
from wattwitness.model.claim import Claim, ClaimStatus, VerdictWord
from wattwitness.model.section import Paragraph, Table
from wattwitness.model.study import RideFigures, Study
from wattwitness.render.html import page
from wattwitness.render.terminal import print_study
from wattwitness.rider.effects import rider_effects
from wattwitness.rider.zone_sets import SEVEN
from wattwitness.sections.over_rides.registry import STUDY_SECTIONS, study_sections
from wattwitness.sections.over_rides.verdict import mean_reads
from wattwitness.sections.publication import of_studies, of_study
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
    assert "notes.txt" in page(of_study(found, [("notes.txt", "no recording")]))
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


def forest_rows(found: Study) -> list[str]:
    return [words.replace("\u00a0", " ") for _, words in forest.build(found).x_axis.ticks]


def test_the_forest_tells_apart_what_is_not_in_the_mean() -> None:
    before = [replace(ride, group="old", name=f"old {k}") for k, ride in enumerate(LOW)]
    after = [replace(ride, group="new", name=f"new {k}") for k, ride in enumerate(GOOD)]
    out = replace(figures(9, 7.0, left_out="zero_not_taken"), name="x" * 200, group="new")
    rows = forest_rows(study([*before, *after, out], before="old", after="new"))
    assert len(rows) == len(GOOD) + 2 + len(LOW) + 1
    assert rows[len(GOOD)].startswith("mean over rides")
    assert all("group old, not in the mean" in row for row in rows[len(GOOD) + 2 : -1])
    assert rows[-1].startswith("x" * 27 + "…, left out: +7.0")


def test_episodes_by_minute() -> None:
    rides = [figures(k, -2.0, faults=2) for k in range(3)]
    chart = episodes_by_minute.build(study(looked(rides)))
    (line,) = chart.panels[0].marks
    assert isinstance(line, Line)
    # Each ride's faults begin at 20 and 25 minutes: three in either slot, none elsewhere.
    begun = {float(start): float(count) for start, count in zip(line.x[::2], line.y[::2], strict=True) if count}
    assert begun == {20.0: 3.0, 25.0: 3.0}
    assert chart.x_axis.unit == "min"
    assert chart.panels[0].y_axis.unit


@pytest.mark.parametrize("rides", [[], GOOD, looked(GOOD)])
def test_no_episode_is_said_and_not_drawn(rides: list[RideFigures]) -> None:
    chart = episodes_by_minute.build(study(rides))
    assert not chart.panels
    assert chart.empty.endswith(".")


@pytest.mark.parametrize("name", list(EDGES))
def test_charts_of_a_study_have_units_or_say_why_they_are_empty(name: str) -> None:
    for section in study_sections(study(EDGES[name])):
        for chart in (block for block in section.blocks if isinstance(block, Chart)):
            assert chart.alt
            assert bool(chart.panels) != bool(chart.empty)
            assert all(panel.y_axis.unit for panel in chart.panels)


def test_no_line_breaks_before_a_percent_sign() -> None:
    for section in study_sections(study(EDGES["low"])):
        for block in section.blocks:
            cells = [block.text] if isinstance(block, Paragraph) else []
            if isinstance(block, Table):
                cells = [cell for row in block.rows for cell in row]
            assert not [cell for cell in cells if re.search(r"\d %", cell)]


def test_a_ratio_has_no_unit_and_one_point_is_one() -> None:
    before = [replace(ride, group="old", name=f"old {k}") for k, ride in enumerate(APART)]
    after = [replace(ride, group="new", name=f"new {k}") for k, ride in enumerate(GOOD)]
    text = words(study(looked([*before, *after]), before="old", after="new"))
    ratio = text.split("variance between rides, after over before ")[1].split(" faults an hour")[0]
    assert ratio.endswith(")")
    assert "by 1 points" not in text


@pytest.mark.parametrize(("rides", "reference_pct"), [(LOW, 1.0), (GOOD, 1.0), (LOW[:1], 1.0), (LOW, 0.0)])
def test_what_is_said_of_the_true_power_holds_the_references_uncertainty(
    rides: list[RideFigures], reference_pct: float
) -> None:
    found = study(rides, reference_uncertainty_pct=reference_pct)
    alone, whole = found.consistency.standardised.mean_bias_pct, found.mean_bias_with_reference_pct
    widths = [(one.high or 0) - (one.low or 0) for one in (alone, whole)]
    assert widths[1] == pytest.approx(widths[0]) if reference_pct == 0 else widths[1] > max(widths[0], 3.9)
    assert ("not counted" in words(found)) == (reference_pct == 0)
    assert ("the bias against true power is" in words(found)) == (reference_pct > 0)


def test_a_difference_within_the_references_uncertainty_blames_nobody() -> None:
    off = [figures(k, bias, error=0.1) for k, bias in enumerate((-1.5, -1.6, -1.4, -1.5, -1.55, -1.45))]
    assert "cannot say that it is the unit that is wrong" in words(study(off, reference_uncertainty_pct=1.0))
    assert "cannot say that it is the unit that is wrong" not in words(study(LOW, reference_uncertainty_pct=1.0))


def test_units_side_by_side_are_told_apart_in_every_part() -> None:
    studies = [replace(study(rides), unit=unit) for rides, unit in ((GOOD, "bike A"), (LOW, "bike A"), ([], "QX"))]
    found = of_studies(studies)
    names = [section.name for section in found.sections]
    assert len(set(names)) == len(names) == 7
    titles = [section.title for section in found.sections]
    assert titles[1:4] == ["Bike A", "Bike A", "QX"]
    captions = [table.caption for name, table in found.tables if name.startswith("verdict_")]
    assert captions == [f"{unit}: three claims, judged apart" for unit in ("Bike A", "Bike A", "QX")]
    assert any(line.startswith("QX: No claim was stated") for line in found.small_print)


def test_a_firm_verdict_never_stands_under_no_difference() -> None:
    """Two rides: a two-sided interval that holds zero, and one side beyond the limit with 95 % and more."""
    found = study([figures(k, bias, error=0.05) for k, bias in enumerate((-5.9, -5.0))], reference_uncertainty_pct=1.0)
    mean = found.consistency.standardised.mean_bias_pct
    assert (mean.high or 0) > 0
    assert found.verdicts.trueness.verdict is VerdictWord.DOES_NOT_CONFORM
    assert "Bike A reads 5.4 % low (between" in words(found) or "Bike A reads 5.5 % low (between" in words(found)
    assert "on one side only" in words(found)
    assert mean_reads(found).startswith("reads 5."), "a card says the same as the page"
