"""A list of rides: read as written, or refused with what is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from wattwitness.model.claim import DecisionRule
from wattwitness.model.errors import StudyFileInvalid
from wattwitness.readers.study_file import load_question_file, load_study_file

WHOLE = """
[study]
unit = "studio bike A"
rule = "guard_band"
at_w = 200
before = "1.04"
after = "1.05"

[claim]
source = "data sheet"
limit_pct = 2.0
from_w = 100

[[ride]]
name = "Monday"
reference = "mon/pedals.fit"
unit = "mon/bike.fit"
group = "1.04"
day = 2026-01-12
temperature_c = 21

[[ride]]
name = "Tuesday"
reference = "tue/pedals.fit"
unit = "tue/bike.fit#2"
group = "1.05"
exclude = "a flat battery"

[[rider]]
name = "A"
mean_w = 280
"""


def load(tmp_path: Path, text: str) -> object:
    path = tmp_path / "rides.toml"
    path.write_text(text, encoding="utf-8")
    return load_study_file(path)


def test_a_whole_list(tmp_path: Path) -> None:
    (tmp_path / "rides.toml").write_text(WHOLE, encoding="utf-8")
    listed = load_study_file(tmp_path / "rides.toml")
    assert [ride.name for ride in listed.rides] == ["Monday", "Tuesday"]
    assert listed.rides[0].reference == str(tmp_path / "mon/pedals.fit")
    assert listed.rides[1].unit == str(tmp_path / "tue/bike.fit#2")
    assert (listed.rides[0].day, listed.rides[0].temperature_c) == ("2026-01-12", 21.0)
    assert listed.rides[1].excluded == "a flat battery"
    assert listed.rule is DecisionRule.GUARD_BAND
    assert listed.claim is not None
    assert (listed.claim.limit_pct, listed.claim.from_w, listed.claim.source) == (2.0, 100.0, "data sheet")
    assert listed.field_riders[0].mean_w == 280.0


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (("at_w", "at_watts"), "at_watts"),
        (('name = "Tuesday"', 'name = "Monday"'), "“Monday”"),
        (("limit_pct = 2.0", "limit_pct = 200"), "[claim] limit_pct"),
        (("limit_pct = 2.0", "to_w = 300"), "promises nothing"),
        (("from_w = 100", "from_w = 100\nto_w = 50"), "from_w"),
        (('unit = "mon/bike.fit"', ""), "“unit”"),
        (("day = 2026-01-12", 'day = "last Monday"'), "day"),
        (('rule = "guard_band"', 'rule = "lenient"'), "rule"),
        (("mean_w = 280", "mean_w = true"), "mean_w"),
        (("[study]", "[study"), "TOML"),
    ],
)
def test_what_is_wrong_is_named(tmp_path: Path, change: tuple[str, str], named: str) -> None:
    assert change[0] in WHOLE
    with pytest.raises(StudyFileInvalid) as caught:
        load(tmp_path, WHOLE.replace(*change, 1))
    assert named in caught.value.what
    assert caught.value.where == "rides.toml"


def test_a_list_without_rides(tmp_path: Path) -> None:
    with pytest.raises(StudyFileInvalid, match="no ride"):
        load(tmp_path, '[study]\nunit = "a"\n')
    with pytest.raises(StudyFileInvalid, match="two brackets"):
        load(tmp_path, '[ride]\nreference = "a"\nunit = "b"\n')
    with pytest.raises(StudyFileInvalid, match="cannot be read"):
        load_study_file(tmp_path / "none.toml")
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(StudyFileInvalid, match="UTF-8"):
        load_study_file(tmp_path / "bytes.toml")


ZONES = """
[zones]
names = ["easy", "steady", "hard"]
upper_pct = [70, 95.5]
"""


def test_zones_of_the_testers_own(tmp_path: Path) -> None:
    (tmp_path / "asked.toml").write_text(ZONES)
    zones = load_question_file(tmp_path / "asked.toml").own_zones
    assert zones is not None
    assert zones.names == ("easy", "steady", "hard")
    assert zones.upper == (0.70, 0.955)
    assert zones.source == "the tester's own"


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (("[70, 95.5]", "[95.5, 70]"), "rise"),
        (("[70, 95.5]", "[70, 80, 90]"), "3 names and 3 boundaries"),
        (("[70, 95.5]", "[70, true]"), "upper_pct"),
        (("[70, 95.5]", "70"), "list in brackets"),
        (('"hard"', '"easy"'), "name of its own"),
        (('"hard"', '""'), "name of its own"),
        (('names = ["easy", "steady", "hard"]', ""), "“names”"),
        (("[zones]", "[zone]"), "“zone”"),
        (("names", "name_s"), "name_s"),
        (("[zones]", "[[ride]]\nreference='a'\nunit='b'\n[zones]"), "lists rides"),
    ],
)
def test_zones_that_make_no_sense_are_named(tmp_path: Path, change: tuple[str, str], named: str) -> None:
    assert change[0] in ZONES
    (tmp_path / "asked.toml").write_text(ZONES.replace(*change))
    with pytest.raises(StudyFileInvalid) as caught:
        load_question_file(tmp_path / "asked.toml")
    assert named in caught.value.what
