"""What a file holds beyond the ride is found before the file itself is handed on. All names are invented."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest

from tests.private_rides import LATITUDE, NAME, SERIAL, WITH_SECRETS
from tests.unit.readers.reading import RECORDINGS, needs_recordings
from wattwitness.model.private_data import PrivateItem, PrivateKind
from wattwitness.readers.private_data import private_data
from wattwitness.workflows.simulate import simulate_scenario


@pytest.fixture(scope="module")
def rides(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One ride in three formats."""
    folder = tmp_path_factory.mktemp("rides")
    simulate_scenario("half_minutes", seed=4, folder=folder, formats=("fit", "tcx", "csv"))
    return folder


def found(path: Path) -> dict[PrivateKind, list[PrivateItem]]:
    """Findings by kind."""
    by_kind: dict[PrivateKind, list[PrivateItem]] = {}
    for item in private_data(path).items:
        by_kind.setdefault(item.kind, []).append(item)
    return by_kind


@pytest.mark.parametrize("kind", list(WITH_SECRETS))
def test_positions_numbers_and_names_are_found_in_every_format(rides: Path, tmp_path: Path, kind: str) -> None:
    """Each with where it stands; a position is counted and never shown."""
    path = tmp_path / f"ride.{kind}"
    path.write_bytes(WITH_SECRETS[kind]((rides / f"bike.{kind}").read_bytes()))
    items = found(path)
    assert any(item.count >= 1 for item in items[PrivateKind.POSITION])
    assert any(
        str(SERIAL) in text for item in items[PrivateKind.SERIAL] + items[PrivateKind.NAME] for text in item.examples
    )
    assert any(NAME in text for item in items[PrivateKind.NAME] for text in item.examples)
    shown = [text for item in items[PrivateKind.POSITION] for text in item.examples]
    assert not [text for text in shown if str(LATITUDE)[:5] in text]


def test_a_plain_ride_holds_times_and_heart_rate_and_no_position(rides: Path) -> None:
    """Nothing is made up."""
    items = found(rides / "bike.fit")
    assert PrivateKind.POSITION not in items
    assert PrivateKind.TIME in items
    assert PrivateKind.HEART in items


def test_a_weight_in_a_profile_is_a_detail_of_a_person(rides: Path, tmp_path: Path) -> None:
    """As the file says it."""
    path = tmp_path / "ride.fit"
    path.write_bytes(WITH_SECRETS["fit"]((rides / "bike.fit").read_bytes()))
    (person,) = found(path)[PrivateKind.PERSON]
    assert person.examples == ("weight 66.0",)


def test_the_name_that_a_packed_file_had_is_found(rides: Path, tmp_path: Path) -> None:
    """It stands in the wrapping, where nobody looks."""
    path = tmp_path / "ride.fit.gz"
    with path.open("wb") as raw, gzip.GzipFile("josefine-beispiel.fit", "wb", fileobj=raw) as packed:
        packed.write((rides / "bike.fit").read_bytes())
    assert any("josefine-beispiel.fit" in item.examples for item in found(path)[PrivateKind.NAME])


@needs_recordings
def test_every_real_file_can_be_searched() -> None:
    """Damaged ones too."""
    searched = 0
    for path in sorted(RECORDINGS.iterdir()):
        if path.suffix in (".fit", ".tcx", ".csv"):
            assert private_data(path).file_name == path.name
            searched += 1
    assert searched > 15
