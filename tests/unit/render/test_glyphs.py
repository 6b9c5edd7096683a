"""Signs that the fonts lack: a readable substitute is drawn, one sentence says so, and nothing warns."""

from __future__ import annotations

import unicodedata
from dataclasses import replace

import pytest

from tests.factories import COMPARISONS, comparison, pair
from wattwitness.charts import panels
from wattwitness.model.section import Section
from wattwitness.render import figures
from wattwitness.render.evidence.figures import episode_files
from wattwitness.render.figures import COLUMN, chart_files
from wattwitness.render.glyphs import MOST_IN_A_ROW, drawable, drawable_tree, sentence
from wattwitness.sections.publication import of_comparison

STRANGE = "Fahrrad 🚴🏽 自行车 دراجة"


@pytest.mark.parametrize(
    ("text", "drawn"),
    [
        ("Bike B, 200 W", "Bike B, 200 W"),
        ("−4.3 % “Ωμέγα” École ± ½ € → 😀 עברית", "−4.3 % “Ωμέγα” École ± ½ € → 😀 עברית"),
        (STRANGE, "Fahrrad [bicyclist] [U+81EA U+884C U+8F66] دراجة"),
        ("👩🏽\u200d🚴\ufe0f!", "[woman, bicyclist]!"),
        ("\U0001fae8", "[U+1FAE8]"),  # no name in the character tables of every Python that runs this
        ("漢" * 60, "[U+6F22 U+6F22 U+6F22 and 57 more]"),
        ("한국어", "[U+D55C U+AD6D U+C5B4]"),
        ("a\x07b\ud800\nc", "ab\nc"),
    ],
)
def test_a_sign_without_a_shape_stands_by_name_or_number(text: str, drawn: str) -> None:
    if text == "\U0001fae8" and unicodedata.category(text) != "Cn":
        pytest.skip("this Python knows the sign's name")
    assert drawable(text) == drawn
    assert drawable(drawn) == drawn
    assert bool(sentence((text,), where="x")) is ("[" in drawn)


def test_names_that_differ_stay_apart() -> None:
    names = ["自行车一", "自行车二", "🚴", "🚲", "सायकल १", "सायकल २"]
    assert len({drawable(name) for name in names}) == len(names)
    assert all(len(name) <= MOST_IN_A_ROW for name in names)


def test_one_sentence_of_plain_letters_says_which() -> None:
    said = sentence((STRANGE, ("🚴", "漢字漢字仮名")), where="the figures")
    assert said == (
        "The fonts of the figures lack signs that a name or a text holds; their names or numbers in Unicode stand "
        "there in square brackets: bicyclist, U+81EA, U+884C, U+8F66, U+6F22, U+5B57 and 2 more."
    )
    assert sentence(("plain", "− “é”"), where="the figures") == ""


def test_a_chart_with_nothing_to_change_is_the_same_chart() -> None:
    chart = panels.build(pair(seconds=300))
    assert drawable_tree(chart) is chart


@pytest.mark.parametrize("name", [STRANGE, "\u2068مختبر\u2069 2", "ไทย हिन्दी", "\U0001fae8 \ue000"])
def test_no_chart_warns_whatever_the_names(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Warnings are errors here; the drawing library warns of every sign that its font lacks."""
    monkeypatch.setattr(figures, "PNG_EFFORT", 1)
    whole = comparison(pair(seconds=900))
    (one,) = whole.pairs
    named = replace(one, reference=replace(one.reference, label=f"{name} R"), unit=replace(one.unit, label=f"{name} U"))
    publication = of_comparison(replace(whole, pairs=(named,)))
    assert publication.charts
    for chart in publication.charts[:2]:
        made = chart_files(chart, COLUMN, f"{publication.about}\n{name}")
        assert made["-column.svg"].startswith(b"<?xml")
    assert episode_files(publication.charts[0], name)


def test_a_name_is_drawn_as_its_substitute_and_kept_in_the_words_inside() -> None:
    strange, plain = (
        replace(panels.build(pair(seconds=300)), title=title, alt=title) for title in ("Bike 🚴", "Bike [bicyclist]")
    )
    first, second = (chart_files(chart, COLUMN, "about") for chart in (strange, plain))
    assert "Bike 🚴" in first["-column.svg"].decode("utf-8")
    drawn, wanted = (content["-column.svg"].split(b"</metadata>")[1] for content in (first, second))
    assert drawn == wanted


def test_ordinary_reports_need_no_sentence() -> None:
    for make in COMPARISONS.values():
        publication = of_comparison(make())
        assert sentence(publication.sections, where="x") == "" or "hostile" in make.__name__


def test_words_of_the_program_are_left_as_they_are() -> None:
    section = Section(name="a", title="b", blocks=())
    assert drawable_tree(section.voice) is section.voice
