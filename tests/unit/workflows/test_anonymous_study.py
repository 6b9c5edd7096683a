"""A study that is handed on names no rider and no file, wherever the name stands."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.sections.test_over_rides import TWO, study
from tests.unit.study.figures import drop, figures
from wattwitness.model.study import Study
from wattwitness.render.html import page
from wattwitness.render.study_json import study_text
from wattwitness.rider.effects import rider_effects
from wattwitness.rider.zone_sets import SEVEN
from wattwitness.sections.publication import of_studies, of_study
from wattwitness.workflows.anonymous_study import without_names

ANNA, BO = "Annabel Quist", "Bo"
UNUSED = [("quist/annabel quist.fit", "annabel quist.fit has no partner")]


def ridden() -> Study:
    rides = [
        replace(
            figures(k, -4.0 - 0.3 * k),
            rider=ANNA if k % 2 else BO,
            name=f"annabel-{k}" if k % 2 else f"ride {k}",
        )
        for k in range(6)
    ]
    rides.append(
        replace(figures(7, 9.0, left_out="no_power"), left_out_why="Annabel stopped early.", rider="Power", name="last")
    )
    found = study(rides)
    effects = rider_effects(
        found.rides, found.consistency, SEVEN, threshold_w=250.0, field=[(ANNA, 300.0), ("Cleo", 290.0)], level=0.95
    )
    return replace(found, rider=effects)


def test_no_name_is_on_the_page_or_in_the_results() -> None:
    plain, unused = without_names(ridden(), UNUSED)
    for text in (page(of_study(plain, unused)), study_text(plain, unused)):
        for name in ("Annabel", "annabel", "Quist", "quist", "Cleo", "Bo against", "against Bo"):
            assert name not in text, name
        assert "rider 1" in text
        assert "file 1" in text


def test_a_rider_is_the_same_number_everywhere() -> None:
    plain, _ = without_names(ridden())
    assert [ride.rider for ride in plain.rides] == [*("rider 1", "rider 2") * 3, "rider 3"]
    assert plain.rides[1].name == "rider 2-1"
    assert plain.rides[-1].left_out_why == "rider 2 stopped early."
    assert plain.rider is not None
    assert [place.rider for place in plain.rider.places] == ["rider 2", "rider 4"]
    moderators = [one.name for one in plain.consistency.moderators if one.name.startswith("rider")]
    assert moderators == ["rider 2 against rider 1"]


@pytest.mark.parametrize(
    ("why", "said"),
    [
        ("The file is broken (My own ride.fit).", "The file is broken (a file)."),
        ("my-ride.csv.gz#2 holds no power.", "a file holds no power."),
        ("Its zero was not taken. It reads 3.5 % low.", "Its zero was not taken. It reads 3.5 % low."),
    ],
)
def test_no_file_is_named_in_a_reason(why: str, said: str) -> None:
    found = study([*(figures(k, -4.0) for k in range(3)), replace(figures(7, 9.0, left_out="x"), left_out_why=why)])
    plain, _ = without_names(found)
    assert plain.rides[-1].left_out_why == said
    assert plain.consistency.left_out[0].why == said


def test_no_name_is_in_what_was_said_of_a_ride_or_of_an_episode() -> None:
    said = ("Left out by the tester: 0:05:00 to 0:07:00 (=ANNABEL drank).", "quist.fit: it was cut short.")
    eased = replace(drop(), reason="The rider eased off: ride0 quist.fit changed by -55 %.")
    rides = [replace(figures(k, -4.0), rider=ANNA, said=said, episodes=(eased,)) for k in range(3)]
    plain, _ = without_names(study(rides))
    assert plain.rides[0].said == (
        "Left out by the tester: 0:05:00 to 0:07:00 (=rider 1 drank).",
        "a file: it was cut short.",
    )
    for text in (page(of_study(plain)), study_text(plain)):
        assert "quist" not in text.casefold()
        assert "annabel" not in text.casefold()


def test_a_claim_whose_source_names_a_rider_names_none_in_any_sentence() -> None:
    said_by = replace(TWO, source="what Annabel said")
    rides = [replace(figures(k, -4.0), rider=ANNA) for k in range(4)]
    found = replace(study(rides, claim=said_by), claim=said_by)
    plain, _ = without_names(found)
    assert "what rider 1 said" in plain.verdicts.trueness.says
    for text in (page(of_study(plain)), study_text(plain), page(of_studies([plain, plain]))):
        assert "Annabel" not in text


def test_keys_numbers_and_other_words_stay_as_they_are() -> None:
    before = ridden()
    plain, _ = without_names(before)
    assert plain.rides[-1].left_out == "no_power", "a rider called Power changes no key"
    assert plain.verdicts == before.verdicts
    assert [ride.bias_pct for ride in plain.rides] == [ride.bias_pct for ride in before.rides]
    nobody = study([figures(0, -4.0), figures(1, -4.2)])
    assert without_names(nobody)[0].verdicts == nobody.verdicts
