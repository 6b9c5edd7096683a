"""Every sentence that is published, over every verdict and edge: whole, readable, and never firmer than the numbers.

What is checked is what a reader of the page, the PDF and the small print sees, of comparisons, of one recording alone
and of studies.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import pytest

from tests.factories import COMPARISONS
from tests.unit.alone.test_alone import DROP, recorded, without
from tests.unit.sections.test_over_rides import APART, EDGES, GOOD, LOW, looked, study
from tests.unit.study.figures import figures
from wattwitness.model.claim import Claim, ClaimStatus, VerdictWord
from wattwitness.model.comparison import Comparison
from wattwitness.model.publication import Publication
from wattwitness.model.recording import ChannelName
from wattwitness.model.section import Paragraph, Table
from wattwitness.model.settings import AloneSettings
from wattwitness.model.study import ChangeFinding, RideFigures, Study
from wattwitness.sections.publication import of_comparison, of_recording_alone, of_study
from wattwitness.words.numbers import NBSP
from wattwitness.workflows.alone import alone_recording

NOT_FOR_READERS = re.compile(r"(?<![\w.])(nan|NaN|None|inf|null|True|False|[a-z]+_[a-z_]+)(?![\w.(])")
EMPTY = re.compile(r"\(\s*\)|\[\s*\]|“\s*”|\(,|,\s*\)|\( | \)")
DOUBLED = re.compile(r"\.\.|,,|;;|::|,\.|\.,|;\.|:\s*\.|\.\s*;|\?\.|\s[,.;:!?](\s|$)|\S  +\S")
ONE_OF_MANY = re.compile(r"\b1 (rides|times|samples|windows|episodes|files|minutes|parts|rows|units|rows)\b")
NO_NUMBER = re.compile(r"– (%|W|rpm|s|min|and|on)\b|\b(from|of|to|than|by|at) (–|not assessed)")
INTERVAL = re.compile(r"\(.*\d.* to .*\d.*\)|between .* and |shows no difference|or (lower|higher)|no bound")


def of_groups(before: list[RideFigures], after: list[RideFigures]) -> Study:
    rides = [replace(ride, group="old", name=f"old {k}") for k, ride in enumerate(before)]
    rides += [replace(ride, group="new", name=f"new {k}") for k, ride in enumerate(after)]
    return study(looked(rides), before="old", after="new")


def faulty() -> list[RideFigures]:
    return looked([figures(k, bias, faults=2) for k, bias in enumerate((-0.2, 0.1, 0.0, -0.1))])


def settling() -> list[RideFigures]:
    return looked([figures(k, -4.0 - 0.1 * k, course=(-7.0, -3.9, 12.0)) for k in range(5)])


WIDE = Claim(name="wide", source="the data sheet", status=ClaimStatus.READ, limit_pct=5.0, limit_w=8.0, from_w=50.0)
FAR = replace(WIDE, from_w=400.0, to_w=900.0, spread_pct=1.0, faults_per_h=0.1)


@cache
def studies() -> dict[str, Study]:
    found = {name: study(rides) for name, rides in EDGES.items()}
    found |= {f"{name}, no claim": study(rides, claim=None) for name, rides in EDGES.items()}
    found |= {f"{name}, blind reference": study(rides, reference_uncertainty_pct=3.2) for name, rides in EDGES.items()}
    found |= {f"good, {claim.name} from {claim.from_w:g}": study(GOOD, claim=claim) for claim in (WIDE, FAR)}
    found |= {"faulty": study(faulty()), "settling": study(settling())}
    found["not yet decided"] = study([figures(k, bias) for k, bias in enumerate((-0.9, 0.9, 0.2))])
    found["fixed"] = of_groups(LOW, GOOD)
    found["worse"] = of_groups(GOOD, LOW)
    found["unchanged"] = of_groups(GOOD, GOOD)
    found["one against one"] = of_groups(LOW[:1], GOOD[:1])
    found["faults mended"] = of_groups(faulty(), GOOD)
    found["nothing after"] = of_groups(GOOD, [replace(GOOD[0], left_out="no_power")])
    return found


@cache
def recordings() -> dict[str, Publication]:
    whole = recorded(DROP)
    heart, cadence, resistance = ChannelName.HEART_RATE, ChannelName.CADENCE, ChannelName.RESISTANCE
    cases = {
        "everything": whole,
        "no heart rate": without(whole, heart),
        "no cadence": without(whole, cadence),
        "only power": without(whole, heart, cadence, resistance),
        "no power": without(whole, ChannelName.POWER),
        "nothing wrong": recorded(),
    }
    return {
        f"alone: {name}": of_recording_alone(alone_recording(case, AloneSettings())) for name, case in cases.items()
    }


@cache
def publications() -> dict[str, Publication]:
    found = {f"ride: {name}": of_comparison(make()) for name, make in COMPARISONS.items()}
    found |= {
        f"study: {name}": of_study(one, [("notes.txt", "It is no recording.")]) for name, one in studies().items()
    }
    return found | recordings()


def sentences(publication: Publication) -> Iterator[str]:
    """Everything that is read as sentences, with ordinary blanks."""
    yield from publication.small_print
    for section in publication.sections:
        for block in section.blocks:
            if isinstance(block, Paragraph):
                yield block.text
            elif not isinstance(block, Table):
                yield from filter(None, (block.caption, block.alt, block.empty))


def words(publication: Publication) -> Iterator[str]:
    """Everything that is read at all."""
    yield from (publication.title, publication.when, publication.about, *sentences(publication))
    for section in publication.sections:
        yield section.title
        for block in section.blocks:
            if isinstance(block, Table):
                yield block.caption
                yield from (f"{column.heading} {column.unit}".strip() for column in block.columns)
                yield from (cell for row in block.rows for cell in row[1:])


def plain(text: str) -> str:
    return text.replace(NBSP, " ").replace("\u2069", "").replace("\u2068", "")


def test_every_verdict_and_every_finding_is_among_the_cases() -> None:
    """Else what follows would be checked on less than it says."""
    seen = {
        verdict.verdict
        for one in studies().values()
        for verdict in (one.verdicts.trueness, one.verdicts.consistency, one.verdicts.faults)
    }
    assert seen == set(VerdictWord)
    found = {one.before_after.finding for one in studies().values() if one.before_after is not None}
    assert {ChangeFinding.FIXED, ChangeFinding.WORSE, ChangeFinding.NOT_SHOWN} <= found


@pytest.mark.parametrize("name", list(publications()))
class TestEveryPublication:
    def test_ends_every_sentence(self, name: str) -> None:
        for text in map(plain, sentences(publications()[name])):
            whole = text.rstrip()[-1] in ".!?)…" or text.startswith("SHA-256")
            assert whole or "hostile" in name, text  # what a hostile file says of itself ends as it likes

    def test_says_nothing_that_only_a_program_understands(self, name: str) -> None:
        hostile = "hostile" in name
        for text in map(plain, words(publications()[name])):
            found = NOT_FOR_READERS.search(re.sub(r"Settings: .*|SHA-256.*|\S+\.\w+|[“”][^”]*”", "", text))
            assert not found or hostile, text

    def test_leaves_no_hole_and_no_double_sign(self, name: str) -> None:
        for text in map(plain, words(publications()[name])):
            assert not EMPTY.search(text), text
            assert not DOUBLED.search(text.replace("…", "")) or "hostile" in name, text
            assert not ONE_OF_MANY.search(text), text

    def test_puts_no_missing_number_into_a_sentence(self, name: str) -> None:
        for text in map(plain, sentences(publications()[name])):
            assert not NO_NUMBER.search(text), text

    def test_says_what_it_rests_on_in_small_print(self, name: str) -> None:
        small = " ".join(publications()[name].small_print)
        for needed in ("Made by wattwitness", "left out", "claim" if "ride" not in name else "limit"):
            assert needed in small, needed


def body(publication: Publication) -> str:
    return plain(" ".join(words(publication)))


@pytest.mark.parametrize("name", list(studies()))
def test_a_study_is_never_firmer_than_its_verdicts(name: str) -> None:
    one = studies()[name]
    publication = of_study(one)
    verdicts = (one.verdicts.trueness, one.verdicts.consistency, one.verdicts.faults)
    answer = publication.sections[0]
    paragraphs = [plain(block.text) for block in answer.blocks if isinstance(block, Paragraph)]
    for question, verdict in zip(("right on average", "same every day", "free from faults"), verdicts, strict=True):
        (said,) = [text for text in paragraphs if text.startswith("Is it") and question in text.split("?")[0]]
        firm = re.search(r"\b(does not conform|conforms)\b", said)
        if verdict.verdict in (VerdictWord.UNDECIDED, VerdictWord.NOT_ASSESSED):
            assert not firm, said
            assert re.search(r"undecided|nothing|No |not|cannot|could", said), said
        else:
            assert firm, said
            assert (firm.group() == "does not conform") is (verdict.verdict is VerdictWord.DOES_NOT_CONFORM), said
    if not any(ride.counts for ride in one.rides):
        assert "conforms" not in body(publication)
        assert not re.search(r"\breads \d", body(publication))


@pytest.mark.parametrize("name", list(studies()))
def test_a_bias_stands_with_its_interval(name: str) -> None:
    answer = of_study(studies()[name]).sections[0]
    first = next(block.text for block in answer.blocks if isinstance(block, Paragraph))
    if " reads " in first or "shows no difference" in first:
        assert INTERVAL.search(plain(first)), first


@pytest.mark.parametrize("name", list(COMPARISONS))
def test_a_comparison_reads_high_or_low_only_where_its_interval_does(name: str) -> None:
    comparison: Comparison = COMPARISONS[name]()
    answer = of_comparison(comparison).sections[0]
    first = plain(next(block.text for block in answer.blocks if isinstance(block, Paragraph)))
    for pair in comparison.pairs:
        bias = pair.overall.bias_pct
        holds = bias.value is None or bias.low is None or bias.high is None or bias.low <= 0 <= bias.high
        if holds and len(comparison.pairs) == 1:
            assert not re.search(r"reads \d[\d.]* % (low|high)", first), first
        if re.search(r"reads \d", first):
            assert INTERVAL.search(first), first


def test_apart_rides_are_said_to_differ_and_good_ones_not_to_be_proven() -> None:
    assert "It cannot be corrected" in body(of_study(study(looked(APART))))
    assert "Faults could not be looked for" in body(of_study(study(GOOD)))
