"""What the sections say, and that they never say more than is known."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.factories import COMPARISONS, ambiguous, comparison, pair, percent, periods, plain, recording, trend
from wattwitness.model.comparison import Comparison, NotAssessed
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import MeterRecord, Notice, Severity
from wattwitness.model.section import Paragraph, Section, Table, Tone
from wattwitness.sections.registry import SECTIONS, sections_of


def said(section: Section | None) -> str:
    assert section is not None
    return plain(" ".join(block.text for block in section.blocks if isinstance(block, Paragraph)))


def build(name: str, made: Comparison) -> Section | None:
    return SECTIONS.get(name).build(made)


def headline(made: Comparison) -> str:
    section = build("answer", made)
    assert section is not None
    first = section.blocks[0]
    assert isinstance(first, Paragraph)
    assert first.tone is Tone.HEADLINE
    return plain(first.text)


def tables(section: Section | None) -> dict[str, Table]:
    assert section is not None
    return {block.caption: block for block in section.blocks if isinstance(block, Table)}


class TestAnswer:
    @pytest.mark.parametrize(
        ("name", "words"),
        [
            ("ordinary", "Studio bike B reads 4.3 % low (3.8 to 4.8 % low, 95 %)."),
            (
                "no_difference",
                (
                    "Studio bike A shows no difference that this ride could tell from zero: "
                    "between 0.4 % low and 0.7 % high (95 %)."
                ),
            ),
            (
                "ambiguous",
                "Studio bike B cannot be compared second by second: its clock against the reference’s is ambiguous.",
            ),
            (
                "no_common_effort",
                "Nothing is concluded about Studio bike B: the two recordings show no effort in common.",
            ),
            (
                "same_source",
                (
                    "Nothing is concluded about Studio bike B: both files hold the same recording, so this is no "
                    "comparison."
                ),
            ),
            (
                "reference_without_power",
                "Nothing is concluded about the power of Studio bike B: “Laboratory pedals” holds no power.",
            ),
        ],
    )
    def test_comes_as_one_sentence(self, name: str, words: str) -> None:
        assert headline(COMPARISONS[name]()) == words

    @pytest.mark.parametrize(
        ("halves", "half_width", "words"),
        [
            ((-3.0, -5.6), 0.3, "low, 95 %), and it changed: 3.0 % low in the first half, 5.6 % low in the second."),
            ((-4.3, -4.4), 0.3, "low, 95 %), the same in both halves to within 1 percentage point."),
            ((-4.2, -4.4), 0.8, "low, 95 %)."),
        ],
    )
    def test_speaks_of_the_halves_as_firmly_as_they_allow(
        self, halves: tuple[float, float], half_width: float, words: str
    ) -> None:
        made = tuple(
            replace(period, bias_pct=percent(value, half_width))
            for period, value in zip(periods(3600, 2, halves), halves, strict=True)
        )
        assert headline(comparison(replace(pair(), halves=made))).endswith(words)

    def test_does_not_let_the_reference_off(self) -> None:
        words = said(build("answer", comparison()))
        assert "the bias against true power is between 10.4 % low and 1.8 % high (95 %)" in words
        assert "cannot say that it is Studio bike B that is wrong" in words
        sure = pair()
        sure = replace(sure, overall=replace(sure.overall, bias_with_reference_pct=percent(-4.3, 1.0)))
        assert "cannot say that it is" not in said(build("answer", comparison(sure)))

    def test_says_where_the_reference_is_not_counted(self) -> None:
        made = pair()
        overall = replace(made.overall, bias_with_reference_pct=Estimate.missing("reference_is_a_unit", "%"))
        words = said(build("answer", comparison(replace(made, overall=overall))))
        assert "The uncertainty of Laboratory pedals itself is not counted in these numbers." in words

    def test_warns_of_a_clock_by_hand_or_by_power_and_of_a_short_ride(self) -> None:
        assert "by hand, and every number of it here stands on that" in said(build("answer", COMPARISONS["by_hand"]()))
        assert "a late display looks just like a late clock" in said(build("answer", COMPARISONS["with_delay"]()))
        assert "the interval may be too narrow" in said(build("answer", COMPARISONS["three_minutes"]()))

    def test_gives_a_range_where_the_clock_is_ambiguous(self) -> None:
        words = said(build("answer", COMPARISONS["ambiguous"]()))
        assert (
            "Over the 7 offsets that fit, the bias of Studio bike B is 3.1 to 4.9 % low. "
            "That is a range, not an interval." in words
        )
        assert "Give the offset by hand" in words

    def test_says_plainly_that_a_meter_shows_one_number(self) -> None:
        """No advice to ride unevenly, no range over offsets, no episode that is the ride: the thing, and what to do."""
        for comparison_ in (ambiguous(), comparison(pair())):
            (one,) = comparison_.pairs
            dead = replace(one, unit=replace(one.unit, one_power_w=0.0), offset_range=None)
            told = headline(replace(comparison_, pairs=(dead,)))
            assert told.endswith("shows 0 W in every sample, whatever was ridden.")
            text = said(build("answer", replace(comparison_, pairs=(dead,))))
            assert "pair it anew" in text
            assert "uneven efforts" not in text
            held = replace(one, reference=replace(one.reference, one_power_w=150.0))
            told = headline(replace(comparison_, pairs=(held,)))
            assert told.startswith("Nothing is concluded about")
            assert told.endswith("shows 150 W in every sample.")

    def test_speaks_of_power_only_where_a_change_was_shown(self) -> None:
        assert "changes with power" not in said(build("answer", comparison()))
        made = replace(pair(), trend=replace(trend(), per_100_w=percent(-1.0, 0.3)))
        words = "The bias changes with power, by −1.0 (−1.3 to −0.7) percentage points per 100 W."
        assert words in said(build("answer", comparison(made)))

    def test_sets_several_units_side_by_side(self) -> None:
        section = build("answer", COMPARISONS["several_units"]())
        (table,) = tables(section).values()
        assert [row[0] for row in table.rows] == ["Studio bike A", "Studio bike B", "Studio bike C"]
        assert [row[-1] for row in table.rows] == ["kept as measured", "broken as measured", "broken as measured"]
        assert said(section).count("standard uncertainty of 3.2 %") == 1

    def test_a_unit_that_was_not_measured_neither_keeps_nor_breaks_a_limit(self) -> None:
        blank = COMPARISONS["reference_without_power"]().pairs[0]
        (table,) = tables(build("answer", comparison(pair(), blank, limit_pct=2.0))).values()
        assert table.rows[1][-1] == "not assessed"


class TestParts:
    def test_the_naive_interval_stands_beside_and_is_called_too_narrow(self) -> None:
        (table,) = tables(build("bias", comparison())).values()
        naive = next(row for row in table.rows if row[0] == "seconds as independent")
        assert naive[-1].startswith("too narrow")
        assert naive[2] == "−4.4 to −4.2"

    def test_rows_of_periods_lead_to_their_place(self) -> None:
        found = tables(build("periods", comparison()))
        assert list(found["Halves of the ride"].places) == [(0.0, 1800.0), (1800.0, 3600.0)]
        assert len(found["Blocks of the ride"].places) == 6

    def test_a_change_between_halves_is_said_with_its_interval(self) -> None:
        words = said(build("periods", comparison()))
        assert "No change between them is shown: it lies anywhere in −1.3 to +0.9 percentage points." in words
        moved = replace(pair(), halves=periods(3600, 2, (-3.0, -6.0)))
        assert "It changed by −3.0 percentage points (−4.1 to −1.9 percentage points), that is, downward." in said(
            build("periods", comparison(moved))
        )

    def test_mixed_efforts_come_with_a_warning(self) -> None:
        section = build("power", comparison())
        assert section is not None
        warning = next(block for block in section.blocks if isinstance(block, Paragraph) and block.tone is Tone.WARNING)
        assert warning.text.startswith("Read the bands with care: the hard efforts came late")
        calm = build("power", comparison(replace(pair(), trend=trend(mixed=False))))
        assert "Read the bands with care" not in said(calm)

    def test_a_band_with_too_little_riding_shows_a_dash_and_its_seconds(self) -> None:
        table = next(iter(tables(build("power", comparison())).values()))
        row = table.rows[2]
        assert row[2] == row[3] == "–"
        assert row[-1] == "42"

    def test_gaps_hide_best_means(self) -> None:
        table = tables(build("best", comparison()))["Best mean powers; a dash where a gap hides them"]
        assert table.rows[-1][1:] == ("–",) * 5
        assert table.places[-1] is None

    def test_the_clock_says_direction_and_pace(self) -> None:
        words = said(build("clock", comparison()))
        assert "Adding +12.30 s to the time stamps of Studio bike B gives those of Laboratory pedals" in words
        assert "runs fast by 40 ppm (−62 to −18 ppm), 0.14 s an hour" in words
        still = pair()
        drift = Estimate(value=3.0, low=-10.0, high=16.0, unit="ppm")
        still = replace(still, clock=replace(still.clock, drift_ppm=drift))
        assert "No drift between the clocks is shown" in said(build("clock", comparison(still)))

    def test_jumps_are_listed_with_their_cause(self) -> None:
        table = tables(build("clock", COMPARISONS["with_jumps"]()))["Jumps: changes of the seconds to add"]
        assert [row[0] for row in table.rows] == ["0:20:00", "0:40:00"]
        assert table.rows[0][-1] == "the reference’s recorder paused"

    def test_an_undated_file_explains_its_offset(self) -> None:
        made = pair()
        offset = Estimate(value=1.79e9, low=1.79e9, high=1.79e9, unit="s")
        words = said(build("clock", comparison(replace(made, clock=replace(made.clock, offset_s=offset)))))
        assert "carries no date" in words

    def test_reasons_are_grouped(self) -> None:
        words = said(build("unassessed", COMPARISONS["reference_without_power"]()))
        assert words.count("holds no power") == 1
        assert "the power bands" in words
        assert build("unassessed", comparison()) is None

    def test_notices_come_once_and_warnings_first(self) -> None:
        made = pair()
        note = Notice(slug="n", message="Nothing much.", severity=Severity.NOTE)
        warning = Notice(slug="w", message="3 samples were odd.", samples=3, about="bias_pct")
        other = replace(warning, message="Odd samples.", samples=3)
        section = build("notices", comparison(replace(made, notices=(note, warning, warning, other))))
        assert section is not None
        assert [plain(block.text) for block in section.blocks if isinstance(block, Paragraph)] == [
            "the bias: 3 samples were odd.",
            "the bias: Odd samples. (3 samples)",
            "Nothing much.",
        ]
        assert build("notices", comparison(replace(made, notices=()))) is None

    def test_the_method_names_settings_files_and_version(self) -> None:
        section = build("method", comparison(limit_pct=2.0))
        recordings, settings = tables(section)["The recordings"], tables(section)["The settings"]
        assert ("SHA-256 of the bytes", "5f" * 32, "5f" * 32) in recordings.rows
        assert any(row[0] == "limit_pct" and row[1] == "2 %" for row in settings.rows)
        assert "wattwitness 0.1.0" in said(section)

    def test_a_meter_without_words_shows_a_dash(self) -> None:
        made = replace(pair(), unit=replace(recording("Bike"), meter=MeterRecord(), first_sample_utc=""))
        recordings = tables(build("method", comparison(made)))["The recordings"]
        rows = {row[0]: row[2] for row in recordings.rows}
        assert rows["meter, as the file says"] == "–"
        assert rows["first sample"] == "undated"

    def test_units_against_one_another_need_two(self) -> None:
        assert build("between", comparison()) is None
        (table,) = tables(build("between", COMPARISONS["several_units"]())).values()
        assert len(table.rows) == 3


def test_a_missing_part_stands_where_it_is_missed_unless_the_list_says_it() -> None:
    made = pair()
    listed = NotAssessed(what="cadence_bands", slug="no_cadence", why="Neither recording holds cadence.")
    gone = replace(made, cadence_bands=(), not_assessed=(listed,))
    assert build("cadence", comparison(gone)) is None
    assert "Neither recording holds cadence." in said(build("unassessed", comparison(gone)))
    unlisted = build("cadence", comparison(replace(made, cadence_bands=())))
    assert "The bias by cadence of Studio bike B was not assessed: the ride holds too little of it." in said(unlisted)
    one_of_two = build("cadence", comparison(made, gone))
    assert "was not assessed: Neither recording holds cadence." in said(one_of_two)


@pytest.mark.parametrize("make", list(COMPARISONS.values()), ids=list(COMPARISONS))
def test_the_answer_always_comes_first(make: Any) -> None:
    assert sections_of(make())[0].name == "answer"


def test_means_by_minute_leave_missing_seconds_out() -> None:
    table = tables(build("ride", comparison()))["Means over 1\u00a0min, of the seconds that have a sample"]
    assert len(table.rows) == 60
    assert table.rows[15][1] == "–", "the minute that the reference did not record"
    long = tables(build("ride", comparison(pair(seconds=12 * 3600))))
    assert all(len(found.rows) <= 240 for found in long.values())
