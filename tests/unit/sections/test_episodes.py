"""What is said of episodes: for every finding and edge, and never more than was found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from scipy.stats import poisson

from tests.factories import comparison, pair, percent, plain
from tests.factories_episodes import (
    faulty,
    many_drops,
    no_episode,
    nothing_recorded,
    of_kind,
    open_depth,
    reference_fell,
    rider_eased,
    two_units_with_episodes,
)
from tests.factories_evidence import drop, found, other, with_faults, witness
from wattwitness.charts import bias_over_time, panels
from wattwitness.model.chart import Chart, Shading, Span
from wattwitness.model.comparison import Comparison, NotAssessed
from wattwitness.model.episodes import EpisodeKind, Finding, WitnessKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName
from wattwitness.model.section import Paragraph, Section, Table, Tone
from wattwitness.sections import answer, episodes, unassessed
from wattwitness.words.episodes import episode_sentence, odds_cell
from wattwitness.words.faults import levels_unclear

NO_FAULT_SAID = ("No episode is put down to Studio bike B", "No episode was found")


def section(made: Comparison) -> Section:
    built = episodes.build(made)
    assert built is not None
    return built


def said(made: Comparison) -> str:
    return plain(" ".join(block.text for block in section(made).blocks if isinstance(block, Paragraph)))


def first_words(made: Comparison) -> str:
    first = answer.build(made).blocks[0]
    assert isinstance(first, Paragraph)
    return plain(first.text)


def table(made: Comparison, caption: str = "Every episode, in order of time") -> Table:
    return next(block for block in section(made).blocks if isinstance(block, Table) and block.caption == caption)


class TestOfTheUnit:
    def test_one_drop_is_told_with_depth_duration_place_and_what_went_on(self) -> None:
        words = said(faulty(drop()))
        assert "The number of Studio bike B fell away once, by 31 % (28 to 34) for 2 min 5 s from 0:25:00." in words
        assert "The effort went on: the reference’s power changed by +0.4 % (−1.1 to +1.9), cadence by" in words
        assert "and heart rate by" in words
        assert "Its record lacks 8.4 kJ through it, 1.1 % of the ride’s work." in words

    def test_two_are_told_one_by_one(self) -> None:
        words = said(faulty(drop(), drop(2400.0, 2610.0, -28.0)))
        assert (
            "fell away twice: by 31 % (28 to 34) for 2 min 5 s from 0:25:00 and by 28 % (25 to 31) for 3 min 30 s "
            "from 0:40:00." in words
        )
        assert "Its record lacks 16.8 kJ through them, 2.2 %" in words

    def test_many_are_told_by_their_range(self) -> None:
        words = said(many_drops())
        assert "fell away 40 times between 0:01:00 and 0:56:15, by 12 to 32 %, for 30 s each time." in words

    def test_one_that_lasts_is_told_to_the_end(self) -> None:
        made = faulty(replace(drop(3400.0, 3599.0), lasts=True))
        assert "from 0:56:40 to the end of the recording, 3 min 19 s" in said(made)
        assert table(made).rows[0][0] == "1. drop to the end"

    def test_kinds_without_a_depth_claim_none(self) -> None:
        made = faulty(of_kind(EpisodeKind.MISSING, 300.0, 20.0), of_kind(EpisodeKind.FROZEN, 900.0, 61.0))
        assert "The number of Studio bike B went missing once, for 20 s from 0:05:00. It stood still once, for" in said(
            made
        )
        assert [row[3] for row in table(made).rows] == ["–", "–"]

    @pytest.mark.parametrize("kind", list(EpisodeKind))
    def test_every_kind_has_words_of_its_own(self, kind: EpisodeKind) -> None:
        made = faulty(replace(drop(), kind=kind))
        assert "The number of Studio bike B " in said(made)
        assert "Its number " in first_words(made)

    def test_the_effort_is_only_said_to_go_on_where_the_number_fell(self) -> None:
        assert "The effort went on" not in said(faulty(replace(drop(), kind=EpisodeKind.SURGE)))
        assert "Meanwhile: the reference’s power changed by" in said(faulty(replace(drop(), kind=EpisodeKind.SURGE)))

    def test_a_gain_of_energy_is_no_loss(self) -> None:
        faults = replace(found(replace(drop(), kind=EpisodeKind.SURGE)), lost_kj=-8.4)
        assert "Its record holds 8.4 kJ too much through it" in said(comparison(with_faults(faults)))

    def test_an_open_depth_and_no_witness_claim_neither(self) -> None:
        words = said(open_depth())
        assert "by 30 % (−∞ to +4)" in words
        assert "The effort went on" not in words
        assert "kJ" not in words
        assert table(open_depth()).rows[0][3:7] == ("−30 (−∞ to +4)", "–", "unit", "–")

    def test_no_rate_is_made_of_one_ride(self) -> None:
        assert "count is no rate" in said(faulty(drop()))
        assert "an hour" not in said(faulty(drop()))

    def test_the_bias_is_told_with_and_without(self) -> None:
        words = said(faulty(drop()))
        assert "over the whole ride: 4.3 % low (3.8 to 4.8 % low); without the episodes: 3.1 % low" in words
        assert "of the episodes alone" not in words
        gone = replace(found(drop()), bias_without_pct=percent(-0.1))
        assert "So the bias of the whole ride may be that of the episodes alone." in said(comparison(with_faults(gone)))
        unknown = replace(found(drop()), bias_without_pct=Estimate.missing("too_few_seconds", "%"))
        assert "What the bias is outside the episodes was not assessed: too few seconds." in said(
            comparison(with_faults(unknown))
        )


class TestOfOthers:
    def test_an_unclear_one_blames_nobody_and_gives_the_reason(self) -> None:
        words = said(faulty(other(Finding.UNDETERMINED)))
        assert (
            "1 drop remains unclear: what was recorded does not tell whether Studio bike B or Laboratory pedals"
            in words
        )
        assert "Only power was recorded, and nothing else can be asked." in words
        assert "The number of Studio bike B" not in words

    def test_a_reference_that_fell_is_told_as_that(self) -> None:
        words = said(faulty(reference_fell()))
        assert (
            "The number of Laboratory pedals fell away once, for 45 s from 0:38:20. That is a fault of the "
            "reference, and none of Studio bike B." in words
        )
        assert "rose" not in words
        row = table(faulty(reference_fell())).rows[0]
        assert row[3:] == (
            "+41 (+35 to +47)",
            "–",
            "reference",
            "1\u00a0to\u00a0300",
        )

    def test_a_rider_who_eases_off_is_nobodys_fault(self) -> None:
        made = faulty(rider_eased())
        words = said(made)
        assert "The rider eased off once, by 22 % (17 to 27) for 45 s from 0:48:20: both meters show it" in words
        assert "without the episodes" not in words
        assert "fault" not in first_words(made)
        assert not any(block.tone is Tone.WARNING for block in section(made).blocks if isinstance(block, Paragraph))

    def test_a_rider_who_pushes_is_not_said_to_ease(self) -> None:
        pushed = replace(rider_eased(), kind=EpisodeKind.SURGE, depth_pct=percent(25.0, 4.0))
        assert "The rider pushed harder once, by 25 % (21 to 29)" in said(faulty(pushed))

    def test_a_sentence_for_the_maker_turns_a_surge_against_a_reference_into_its_drop(self) -> None:
        assert episode_sentence(reference_fell(), "Laboratory pedals", "Studio bike B").startswith(
            "A drop of Laboratory pedals"
        )

    @pytest.mark.parametrize("made", [rider_eased, reference_fell])
    def test_what_is_not_the_units_is_no_rate_of_the_unit(self, made: Callable[[], object]) -> None:
        words = said(faulty(made()))  # type: ignore[arg-type]
        assert "No episode is put down to Studio bike B in 0.98 h that both recorded." in words
        assert "fewer than 3.1 an hour" in words


class TestNothingFound:
    @pytest.mark.parametrize("hours", [0.2, 0.9, 3.0, 12.0])
    def test_is_a_bound_that_an_exact_count_agrees_with(self, hours: float) -> None:
        """scipy's own Poisson probabilities: at the bound a ride without an episode has a chance of 5 %."""
        words = said(comparison(with_faults(replace(found(), hours=hours))))
        bound = float(words.split("fewer than ")[1].split(" an hour")[0].replace(" ", ""))
        assert poisson.cdf(0, bound * hours) == pytest.approx(0.05, abs=0.02)
        assert "one-sided 95 % bound of an exact Poisson rate" in words

    def test_counts_the_unclear_ones_into_the_bound(self) -> None:
        words = said(faulty(other(Finding.UNDETERMINED)))
        bound = float(words.split("fewer than ")[1].split(" an hour")[0])
        assert poisson.cdf(1, bound * 0.98) == pytest.approx(0.05, abs=0.005)
        assert "the unclear ones counted" in words

    def test_names_thresholds_and_what_could_be_asked(self) -> None:
        words = said(no_episode())
        assert "under 6 % or 8 s are not told" in words
        assert "Beside both powers cadence, resistance and heart rate could have been asked." in words

    @pytest.mark.parametrize(
        ("channels", "words"),
        [
            ((), "Beside both powers no channel could have been asked."),
            ((ChannelName.CADENCE,), "Beside both powers cadence could have been asked."),
            ((ChannelName.POWER, ChannelName.HEART_RATE), "Beside both powers heart rate could have been asked."),
        ],
    )
    def test_without_heart_rate_or_cadence_claims_no_witness(
        self, channels: tuple[ChannelName, ...], words: str
    ) -> None:
        assert words in said(faulty(channels=channels))

    def test_is_not_said_in_the_first_words_as_a_pass(self) -> None:
        assert "episode" not in first_words(no_episode())


class TestNotLookedFor:
    def test_no_common_time_is_not_assessed(self) -> None:
        words = said(nothing_recorded())
        assert "Freedom from faults of Studio bike B was not assessed" in words
        assert not any(text in words for text in NO_FAULT_SAID)

    def test_the_reason_of_the_comparison_is_given(self) -> None:
        why = NotAssessed(what="episodes", slug="too_short", why="The ride is shorter than three minutes.")
        made = comparison(replace(pair(), not_assessed=(why,)))
        assert episodes.build(made) is None, "the section on what is missing says it"
        missing = unassessed.build(made)
        assert missing is not None
        told = [block.text for block in missing.blocks if isinstance(block, Paragraph)]
        told += [cell for block in missing.blocks if isinstance(block, Table) for row in block.rows for cell in row]
        assert any("shorter than three minutes" in text for text in told)

    def test_single_readings_show_no_freedom_from_faults(self) -> None:
        made = with_faults(found())
        words = said(comparison(replace(made, unit=replace(made.unit, spot=True))))
        assert "only single readings were noted" in words
        assert not any(text in words for text in NO_FAULT_SAID)


class TestFirstWords:
    def test_a_fault_of_the_unit_is_in_the_headline(self) -> None:
        words = first_words(faulty(drop()))
        assert "Its number fell away once while the effort went on, by 31 % (28 to 34) for 2 min 5 s" in words
        assert "apart from its episodes" in words
        assert words.index("apart from") < words.index("over the whole ride")

    def test_of_several_kinds_the_worst_is_named(self) -> None:
        words = first_words(faulty(of_kind(EpisodeKind.SPIKE, 700.0, 1.0), drop(), drop(2400.0, 2420.0, -50.0)))
        assert (
            "Its number failed by itself 3 times: 1 spike and 2 drops; the worst fell away by 31 % (28 to 34) for "
            "2 min 5 s from 0:25:00." in words
        )

    def test_a_fault_is_said_also_where_no_bias_was_measured(self) -> None:
        made = with_faults(found(of_kind(EpisodeKind.MISSING, 300.0, 900.0)))
        missing = Estimate.missing("too_few_seconds", "%")
        made = replace(made, overall=replace(made.overall, bias_pct=missing, bias_with_reference_pct=missing))
        assert "Its number went missing once, for 15 min from 0:05:00." in first_words(comparison(made))

    def test_an_unclear_one_is_a_warning_and_no_headline(self) -> None:
        made = faulty(other(Finding.UNDETERMINED))
        assert "drop" not in first_words(made)
        loud = [block.text for block in answer.build(made).blocks if isinstance(block, Paragraph)]
        assert any("1 drop remains unclear" in plain(text) for text in loud)

    def test_units_side_by_side_show_their_episodes(self) -> None:
        glance = next(block for block in answer.build(two_units_with_episodes()).blocks if isinstance(block, Table))
        place = [column.heading for column in glance.columns].index("episodes of its own")
        assert [plain(row[place]) for row in glance.rows] == ["1 drop", "none in 0.98 h; 1 unclear", "not looked for"]


class TestCharts:
    def spans(self, chart: Chart) -> list[list[Span]]:
        return [[mark for mark in panel.marks if isinstance(mark, Span)] for panel in chart.panels]

    def test_every_panel_is_shaded_alike_and_the_words_name_them(self) -> None:
        made = with_faults(found(drop(), other(Finding.UNDETERMINED), rider_eased(), reference_fell()))
        for chart in (panels.build(made), bias_over_time.build(made)):
            found_spans = self.spans(chart)
            assert all(spans == found_spans[0] for spans in found_spans)
            assert (found_spans[0][0].start, found_spans[0][0].end) == (1500.0, 1625.0)
            assert "Shaded: 4" in plain(chart.alt)
            assert "Drop from 0:25:00 to 0:27:05 (2 min 5 s), put down to the unit" in plain(chart.alt)

    def test_findings_differ_in_filling_and_in_name(self) -> None:
        made = with_faults(found(drop(), other(Finding.UNDETERMINED), rider_eased(), reference_fell()))
        spans = self.spans(panels.build(made))[0]
        assert len({span.shading for span in spans}) == len({span.name for span in spans}) == 4
        assert {span.shading for span in spans} == set(Shading)

    def test_resistance_has_a_panel_where_it_was_logged(self) -> None:
        quantities = [panel.y_axis.quantity for panel in panels.build(with_faults(found())).panels]
        assert quantities == ["power", "difference", "cadence", "resistance", "heart rate"]
        assert "resistance" not in [panel.y_axis.quantity for panel in panels.build(pair()).panels]

    def test_the_list_beside_the_panels_says_what_when_and_whose(self) -> None:
        chart = panels.build(with_faults(found(drop(), reference_fell())))
        assert [(plain(place.title), plain(place.says)) for place in chart.places] == [
            ("Drop, −31 %", "at 0:25:00, 2 min 5 s, put down to the unit"),
            ("Drop", "at 0:38:20, 45 s, put down to the reference"),
        ]
        assert panels.build(pair()).places == ()

    def test_a_long_list_is_cut_short_in_words_only(self) -> None:
        chart = panels.build(many_drops().pairs[0])
        assert "34 more stand in the table" in plain(chart.alt)
        assert len(chart.places) == 40


class TestAccounts:
    def test_each_witness_is_heard_in_words(self) -> None:
        rows = table(faulty(drop()), "What each witness says").rows
        assert [row[0] for row in rows] == ["1. the reference’s power", "1. cadence", "1. heart rate"]
        assert plain(rows[2][1]).startswith("Heart rate stayed at 152 bpm; it would have fallen by 17 bpm")
        assert rows[2][1].endswith("It speaks against the unit.")

    def test_one_that_decides_nothing_says_so(self) -> None:
        mute = witness(WitnessKind.HEART_RATE, Finding.UNDETERMINED, "Too short to tell", 0.0)
        rows = table(faulty(replace(drop(), witnesses=(mute,))), "What each witness says").rows
        assert rows == (("1. heart rate", "Too short to tell. By itself it decides nothing."),)

    def test_the_table_leads_to_the_panels_of_its_own_unit(self) -> None:
        tables = [block for block in section(two_units_with_episodes()).blocks if isinstance(block, Table)]
        lists = [block for block in tables if block.places]
        assert [block.leads_to for block in lists] == ["panels_1", "panels_2"]
        assert lists[0].places == ((1500.0, 1625.0),)


@pytest.mark.parametrize(
    ("odds", "words"),
    [
        (None, "–"),
        (float("nan"), "–"),
        (5400.0, ">1000 to 1"),
        (1e300, ">1000 to 1"),
        (40.4, "40 to 1"),
        (1.0, "1.0 to 1"),
        (1 / 8, "1 to 8.0"),
        (1e-9, "1 to >1000"),
    ],
)
def test_odds_in_a_narrow_column(odds: float | None, words: str) -> None:
    assert plain(odds_cell(odds)) == words


def test_an_episode_nearer_to_the_reference_may_be_the_sound_part() -> None:
    """Sound for a third of the hour and 30 % low on the rest: the sound part looks like surges of 43 %."""
    surge = replace(drop(), kind=EpisodeKind.SURGE, start_s=0.0, end_s=1200.0, depth_pct=percent(43.0))
    turned = replace(found(surge), bias_without_pct=percent(-30.0))
    assert "cannot be told from this ride" in levels_unclear(turned, "bike B")
    short = replace(found(replace(surge, end_s=30.0)), bias_without_pct=percent(-30.0))
    assert levels_unclear(short, "bike B") == ""
    assert levels_unclear(replace(found(drop()), bias_without_pct=percent(-2.0)), "bike B") == ""
