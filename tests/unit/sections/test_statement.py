"""The page for the maker says what was found, no more, and says so where that is nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.factories import HOSTILE_NAME, ambiguous, plain, several_units
from tests.factories_evidence import drop, found, other, with_faults, witness
from wattwitness.model.episodes import Episode, EpisodeKind, FaultsFound, Finding, Pattern, WitnessKind
from wattwitness.model.recording import ChannelName
from wattwitness.model.section import Paragraph, Table
from wattwitness.render.evidence.statement_page import statement_page
from wattwitness.render.evidence.statement_text import statement_text
from wattwitness.sections.small_print import of_statement
from wattwitness.sections.statement import Statement, statement_of
from wattwitness.words.numbers import ABSENT

REFERENCE, UNIT = "Laboratory pedals", "Studio bike B"


def made(faults: FaultsFound | None) -> Statement:
    """The page on the ordinary pair with these episodes."""
    return statement_of(with_faults(faults), REFERENCE, UNIT)


def words(statement: Statement) -> str:
    """All its sentences, with ordinary blanks."""
    blocks = [block for section in statement.sections for block in section.blocks]
    return plain(" ".join([statement.title, *(block.text for block in blocks if isinstance(block, Paragraph))]))


def test_a_defect_is_stated_with_what_how_often_when_and_how_surely() -> None:
    """Two drops, counted, timed, with conditions and an interval; and with what was left out."""
    statement = made(found(drop(), drop(2100, 2160, -26), other(Finding.RIDER), other(Finding.UNDETERMINED)))
    text = words(statement)
    assert statement.defect
    assert "Statement of a defect of Studio bike B" in text
    for part in (
        "2 drops in this ride",
        "16.8 kJ of work (14.6 to 19.0 kJ",
        "2 times in 0.98 h recorded by both; they began 25 to 35 minutes into the ride",
        "232 W and 86 rpm",
        "takes more rides of Studio bike B",
        "1 episode that cannot be told apart and 1 episode put down to the rider",
        "95 %",
    ):
        assert part in text, part
    (table,) = [block for section in statement.sections[:1] for block in section.blocks if isinstance(block, Table)]
    assert len(table.rows) == 2


def test_how_to_see_it_again_carries_the_cautions() -> None:
    """It asks for a ride, so it says what riding hard asks for, and leaves the machine shut."""
    text = words(made(found(drop())))
    assert "at about 232 W and 86 rpm" in text
    assert "One episode does not show that it comes again" in text
    for caution in ("stop at pain", "asks a doctor", "Do not open the bike", "qualified people"):
        assert caution in text


def test_a_witness_on_which_neither_meter_has_a_hold_is_needed_to_clear_the_reference() -> None:
    """With the reference's and cadence's word alone, the reference is not cleared, and it is said."""
    with_heart = words(made(found(drop())))
    assert "spoken against by heart rate" in with_heart
    assert "not ruled out" not in with_heart
    two = tuple(item for item in drop().witnesses if item.kind is not WitnessKind.HEART_RATE)
    without = words(made(found(replace(drop(), witnesses=two))))
    assert "failed instead is less likely, but not ruled out" in without
    alone = words(made(found(replace(drop(), witnesses=()))))
    assert "That Laboratory pedals failed instead is not ruled out" in alone


def test_a_ride_to_see_it_again_need_not_last_until_the_last_of_many() -> None:
    """Half of them will do."""
    two, five = (
        words(made(found(drop(600, 660), drop(3000, 3060)))),
        words(made(found(*(drop(600.0 * k, 600.0 * k + 60) for k in range(1, 6))))),
    )
    assert "for at least 60 min at about" in two
    assert "for at least 40 min, by when half of them had come, at about" in five


def test_each_witness_is_counted_for_what_it_said() -> None:
    """A channel that spoke the other way in one episode is not hidden."""
    against = replace(
        drop(2100, 2160), witnesses=(witness(WitnessKind.HEART_RATE, Finding.UNDETERMINED, "Too short to tell."),)
    )
    text = words(made(found(drop(), against)))
    assert "Heart rate speaks against Studio bike B in 1 of 2 episodes and for neither in 1 of 2 episodes" in text


def test_what_stands_in_the_unit_s_own_record_needs_no_second_meter() -> None:
    """A frozen number is seen in the samples themselves."""
    frozen = replace(drop(), kind=EpisodeKind.FROZEN, witnesses=(), odds=None)
    text = words(made(found(frozen)))
    assert "seen in the record of Studio bike B itself" in text
    assert "not ruled out" not in text


def test_a_gap_is_no_number_that_departs_from_the_effort() -> None:
    """What broke the record is left open, beside a drop and alone."""
    gap = replace(drop(2100, 2160), kind=EpisodeKind.MISSING, witnesses=(), odds=None)
    alone, both = words(made(found(gap))), words(made(found(drop(), gap)))
    assert "The record of Studio bike B has breaks in time: one missing stretch" in alone
    assert "departs from the effort" not in alone
    assert "departs from the effort while the effort goes on: one drop" in both
    assert all("bike, radio or recorder, cannot be read from a record" in text for text in (alone, both))


def test_patterns_that_hold_more_than_the_unit_s_episodes_say_so() -> None:
    """And those that only say that there are too few are left out."""
    rate = Pattern(name="how_often", says="2 episodes in 1.0 h: 2 an hour (0.24 to 7.2).", chance=None)
    few = Pattern(name="when_they_begin", says="Too few episodes to tell.", chance=None)
    only = words(made(replace(found(drop()), patterns=(rate, few))))
    wider = words(made(replace(found(drop(), other(Finding.UNDETERMINED)), patterns=(rate, few))))
    assert " 2 episodes in 1.0 h" in only
    assert "Too few episodes to tell." not in only
    assert "With those that cannot be told: 2 episodes in 1.0 h" in wider


def test_channels_that_were_not_recorded_are_named() -> None:
    """What was not asked ruled nothing out."""
    text = words(made(found(drop(), channels=(ChannelName.POWER, ChannelName.CADENCE))))
    assert "Not recorded, so not asked: resistance and heart rate" in text


def whole(kind: EpisodeKind) -> Episode:
    """All of the hour but its first minutes."""
    return replace(drop(180, 3520, -100), kind=kind, witnesses=(), odds=22000.0)


@pytest.mark.parametrize(("shown_w", "cause"), [(0.0, "sensor was not paired"), (180.0, "a target")])
def test_a_unit_of_one_number_is_no_defect_stated_but_the_likeliest_cause(shown_w: float, cause: str) -> None:
    """A recording cannot tell a meter that shows nothing from one that was not recorded."""
    plain_pair = with_faults(found(replace(drop(0, 3528, -100), kind=EpisodeKind.ZEROS)))
    dead = replace(plain_pair, unit=replace(plain_pair.unit, one_power_w=shown_w))
    statement = statement_of(dead, REFERENCE, UNIT)
    text = words(statement)
    assert not statement.defect
    assert statement.title == "No defect of Studio bike B is stated"
    assert f"Studio bike B shows {shown_w:.0f} W in every sample, whatever was ridden." in text
    assert "Laboratory pedals measured" in text
    assert cause in text
    assert "no witness independent of both meters spoke" in text
    assert "own relation" not in text
    reference = replace(plain_pair, reference=replace(plain_pair.reference, one_power_w=shown_w))
    assert not statement_of(reference, REFERENCE, UNIT).defect


def test_zeros_that_no_independent_witness_confirms_say_so() -> None:
    """And are said to be seen in the record, not weighed to odds that nobody weighed."""
    statement = made(found(whole(EpisodeKind.ZEROS)))
    text = words(statement)
    assert "No witness that is independent of both meters spoke" in text
    assert "is the word of Laboratory pedals alone" in text
    assert "wrote zeros while it had no connection" in text
    assert "no connection" not in words(made(found(drop())))
    assert "before this is sent" in text
    (table,) = [block for section in statement.sections[:1] for block in section.blocks if isinstance(block, Table)]
    assert table.rows[0][-1] == "seen in its own record"
    assert table.rows[0][4] == ABSENT, "a zero has no interval"
    with_heart = replace(whole(EpisodeKind.ZEROS), witnesses=drop().witnesses)
    assert "No witness that is independent" not in words(made(found(with_heart)))
    assert "No witness that is independent" not in words(made(found(whole(EpisodeKind.MISSING))))


def test_no_relation_on_the_rest_of_the_ride_is_claimed_where_there_is_hardly_any() -> None:
    text = words(made(found(whole(EpisodeKind.ZEROS))))
    assert "on the rest of the ride" not in text
    assert "only 3 min 8 s lie outside the episodes" in text
    assert "no noise or wander makes it" in text
    assert "its own relation" not in text, "how deep a zero is needs no relation"
    usual = words(made(found(drop())))
    assert "The depth is measured against Studio bike B’s own relation" in usual
    assert "on the rest of the ride" in usual


def test_nothing_found_is_said_and_is_no_clearance() -> None:
    """No statement of a defect, and no word that there is none."""
    statement = made(found())
    text = words(statement)
    assert not statement.defect
    assert "Statement of a defect" not in text
    assert "No episode was found in 0.98 h" in text
    assert "no proof that there is no defect" in text
    assert "A steady error is no episode" in text


@pytest.mark.parametrize(
    ("finding", "said"),
    [
        (Finding.REFERENCE, "1 put down to Laboratory pedals"),
        (Finding.RIDER, "1 put down to the rider"),
        (Finding.UNDETERMINED, "1 put down to neither, since it cannot be told"),
    ],
)
def test_what_is_not_the_unit_s_states_no_defect(finding: Finding, said: str) -> None:
    """Of the reference, the rider, or of nobody that could be told."""
    statement = made(found(other(finding)))
    assert not statement.defect
    assert said in words(statement)


def test_where_episodes_could_not_be_looked_for_nothing_is_stated_either_way() -> None:
    """An ambiguous clock: the reason is said."""
    pair = ambiguous().pairs[0]
    statement = statement_of(pair, REFERENCE, UNIT)
    assert not statement.defect
    text = words(statement)
    assert "could not be looked for" in text
    assert "neither for nor against it" in text
    assert plain(pair.clock.reason)[1:] in text


@pytest.mark.parametrize("faults", [None, found(), found(drop())], ids=["blind", "nothing", "drop"])
def test_names_from_files_stay_text_on_the_page_and_in_markdown(faults: FaultsFound | None) -> None:
    """No element, no link, no heading comes out of a name."""
    statement = statement_of(with_faults(faults), REFERENCE, HOSTILE_NAME)
    hostile = (f"SHA-256, unit: {HOSTILE_NAME}", "# no heading <b>")
    page = statement_page(statement, version="0.1.0", small_print=hostile)
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "http" not in page.replace("http-equiv", "")
    text = statement_text(statement, small_print=hostile)
    assert "<" not in text
    assert all(line.startswith("#") is False or line[1] in "# " for line in text.splitlines())


def test_a_statement_carries_the_small_print_and_a_foot_that_is_true_wherever_it_stands() -> None:
    """Version, settings, whole hashes, limit and what was left out, of this unit alone."""
    whole = several_units()
    first, own = whole.pairs[0], whole.pairs[1].unit
    other = replace(first, unit=replace(first.unit, source=replace(first.unit.source, sha256="0a" * 32)))
    whole = replace(whole, pairs=(other, *whole.pairs[1:]))
    small = of_statement(replace(whole, settings=replace(whole.settings, limit_pct=2.0)), whole.pairs[1])
    statement = statement_of(whole.pairs[1], REFERENCE, UNIT)
    page = statement_page(statement, version=whole.version, small_print=small)
    for said in (plain(page), plain(statement_text(statement, small_print=small)).replace("\\", "")):
        for part in (
            f"Made by wattwitness {whole.version}.",
            "Held against a limit of ±2.00 % on the bias, as stated by the tester.",
            "Settings: level 0.95, ",
            f"SHA-256, reference: {whole.pairs[1].reference.source.sha256}",
            f"SHA-256, unit: {own.source.sha256}",
            "The tester left out no stretch of the ride.",
            "Positions, serial numbers and names of riders in the files are left out.",
            "The archive of evidence that this page belongs to holds copies of the recordings",
        ):
            assert part in said, part
        assert "beside this page" not in said
        assert "0a" * 32 not in said, "nothing of another unit"
