"""Names from files are made harmless and kept apart."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.factories import HOSTILE_NAME, pair, recording
from wattwitness.words.names import clean, pair_names, recording_name, sentence_start, unit_names


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Studio bike B", "Studio bike B"),
        ("  two \n lines\t", "two lines"),
        ("\x1b[31mred\x07", "[31mred"),
        ("a\u202eb\u202c", "ab"),
        ("zero\u200bwidth\u2028line", "zerowidth line"),
        ("", ""),
        ("x" * 100, "x" * 59 + "…"),
        ("مختبر", "\u2068مختبر\u2069"),
    ],
)
def test_clean(text: str, said: str) -> None:
    assert clean(text) == said


def test_a_hostile_name_loses_its_controls_and_direction_marks() -> None:
    said = clean(HOSTILE_NAME, longest=500)
    assert not any(sign in said for sign in "\x1b\u202e\u202c\u2028")
    assert "</script>" in said, "markup is the renderer's to escape, not the name's to lose"


def test_names_fall_back_and_never_clash() -> None:
    nameless = replace(recording("x", file_name="ride.fit"), label="\u202e ")
    assert recording_name(nameless) == "ride.fit"
    assert pair_names(pair("Bike", "Bike")) == ("Bike (reference)", "Bike (unit)")
    assert unit_names((pair("Bike"), pair("Bike"), pair("Other"))) == ("Bike (unit 1)", "Bike (unit 2)", "Other")


def test_sentences_start_large() -> None:
    assert sentence_start("bike") == "Bike"
    assert sentence_start("") == ""
    assert sentence_start("bike.fit reads low.") == "bike.fit reads low."
