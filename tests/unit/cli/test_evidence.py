"""The evidence bundle as a maker would take it: unpacked, verified, computed again; and searched for names."""

from __future__ import annotations

import hashlib
import io
import json
import shlex
import shutil
import struct
import subprocess
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.factories_evidence import drop, found, other
from tests.private_rides import POSITION, SECRETS, SERIAL, WITH_SECRETS
from tests.unit.readers.reading import RECORDINGS, needs_recordings
from wattwitness.cli.main import run
from wattwitness.model.comparison import Comparison
from wattwitness.model.episodes import Finding
from wattwitness.model.private_data import PrivateKind
from wattwitness.readers.open import read_recordings
from wattwitness.readers.private_data import private_data
from wattwitness.readers.ride_copy import same_samples
from wattwitness.workflows import evidence as workflow
from wattwitness.workflows.compare import compare_recordings
from wattwitness.workflows.simulate import simulate_scenario
from wattwitness.writers.ride_copy import ride_copy

Capture = pytest.CaptureFixture[str]
OF_THE_FILES = ("sha256", "size_bytes", "format", "part", "version")


def bundle_of(arguments: Sequence[str], folder: Path, *, status: int | None = 0) -> Path:
    """Write a bundle and unpack it; return the folder it lies in."""
    out = folder / "evidence.zip"
    assert run(["evidence", *arguments, "--out", str(out), "--quiet"]) == status or status is None
    unpacked = folder / "unpacked"
    with zipfile.ZipFile(out) as file:
        file.extractall(unpacked)
    return unpacked


def manifest(unpacked: Path) -> dict[str, Any]:
    """The list of a bundle."""
    return dict(json.loads((unpacked / "manifest.json").read_text("utf-8")))


def computed_again(unpacked: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> dict[str, Any]:
    """What the README's own command prints in the unpacked folder."""
    (line,) = [
        text.strip() for text in (unpacked / "README.txt").read_text("utf-8").splitlines() if "    wattwitness" in text
    ]
    words = shlex.split(line)
    assert words == manifest(unpacked)["how_to_read"]["repeat"]
    capsys.readouterr()
    with monkeypatch.context() as context:
        context.chdir(unpacked)
        run(words[1:])
    return dict(json.loads(capsys.readouterr().out))


def without_files(answer: dict[str, Any]) -> dict[str, Any]:
    """An answer without what tells the copies' files from the originals'."""
    recordings = [{key: item[key] for key in item if key not in OF_THE_FILES} for item in answer["recordings"]]
    return {**answer, "recordings": recordings}


def assert_same_numbers(unpacked: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> dict[str, Any]:
    """Every number, sentence and notice of the bundle comes out of its own copies, to the last digit."""
    again = computed_again(unpacked, monkeypatch, capsys)
    first = json.loads((unpacked / "results" / "comparison.json").read_text("utf-8"))
    assert without_files(again) == without_files(first)
    return again


def rides(folder: Path, scenario: str, kind: str, *, secrets: bool = False) -> list[str]:
    """The recordings of a scenario, the reference first, in one format."""
    paths = [
        path for path in simulate_scenario(scenario, seed=5, folder=folder, formats=(kind,)) if path.suffix != ".json"
    ]
    if secrets:
        for path in paths:
            path.write_bytes(WITH_SECRETS[kind](path.read_bytes()))
    return [str(path) for path in paths]


@pytest.mark.parametrize("kind", ["fit", "tcx", "csv"])
def test_a_bundle_verifies_computes_again_and_names_nobody(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """From each format, with private data in the originals."""
    folder = tmp_path / "josefine-beispiel"
    files = rides(folder, "falls_away" if kind == "fit" else "half_minutes", kind, secrets=True)
    unpacked = bundle_of(files, tmp_path)
    answer = assert_same_numbers(unpacked, monkeypatch, capsys)
    assert answer["clock"]["status"] == "found"
    assert answer["bias_pct"]["value"] is not None
    if kind == "fit":
        assert [item["finding"] for item in answer["episodes"]].count("unit") == 2
        assert len(list((unpacked / "episodes" / "unit-1").glob("episode-*/figure.png"))) == len(answer["episodes"])
    hashes = dict(line.split("  ")[::-1] for line in (unpacked / "SHA256SUMS").read_text().splitlines())
    written = {str(path.relative_to(unpacked)) for path in unpacked.rglob("*") if path.is_file()}
    assert set(hashes) == written - {"SHA256SUMS"}
    for name, digest in hashes.items():
        assert hashlib.sha256((unpacked / name).read_bytes()).hexdigest() == digest
    secrets = [text.encode() for text in (*SECRETS, *(Path(path).name for path in files))]
    secrets += [struct.pack("<I", SERIAL), POSITION[:4], POSITION[4:]]
    for path in unpacked.rglob("*"):
        content = path.read_bytes() if path.is_file() else b""
        for secret in secrets:
            assert secret.lower() not in content.lower(), (path.name, secret)
        assert not any(secret.decode().lower() in str(path.relative_to(unpacked)).lower() for secret in secrets[:5])


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="no sha256sum on this machine")
def test_sha256sum_verifies_it(tmp_path: Path) -> None:
    """By the command that the README names."""
    unpacked = bundle_of(rides(tmp_path, "half_minutes", "fit"), tmp_path)
    done = subprocess.run(["sha256sum", "-c", "SHA256SUMS"], cwd=unpacked, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
    (unpacked / "README.txt").write_text("changed")
    done = subprocess.run(["sha256sum", "-c", "SHA256SUMS"], cwd=unpacked, capture_output=True, text=True, check=False)
    assert done.returncode != 0


@pytest.mark.parametrize("scenario", ["event_driven", "recorder_paused", "three_meters"])
def test_what_a_table_does_not_show_comes_along(scenario: str, tmp_path: Path) -> None:
    """Recorders that write on a change, pauses, three meters: copies hold the same, to the last bit."""
    for path in rides(tmp_path, scenario, "fit"):
        for recording in read_recordings(Path(path)):
            assert same_samples(ride_copy(recording), recording)


def test_an_undated_table_comes_along(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    """Its times count from its own zero still."""
    reference, unit = rides(tmp_path, "group_ride", "csv")
    lines = Path(unit).read_text().splitlines()
    rows = [",".join([str(k * 0.999), *line.split(",")[1:]]) for k, line in enumerate(lines[1:])]
    Path(unit).write_text("\n".join([",".join(["elapsed (s)", *lines[0].split(",")[1:]]), *rows]) + "\n")
    answer = assert_same_numbers(bundle_of([reference, unit], tmp_path), monkeypatch, capsys)
    assert answer["recordings"][1]["first_sample_utc"] is None


def test_settings_and_descriptions_come_along(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    """Those that are not the default; a description without its name, its remarks and its texts on sources."""
    files = rides(tmp_path, "half_minutes", "fit")
    meter = tmp_path / "josefine.toml"
    meter.write_text(
        '# serial 3141592653\nname = "Josefine"\nplace = "pedal"\nsides = "both"\n'
        "[crank]\nset_mm = 172.5\ntrue_mm = 170\nput_right = true\n"
        '[setup]\nzero_taken = false\nfirmware = "2.1"\nwarm_up_min = 12\n'
        '[budget.claim]\nhalf_width_pct = 1.5\nsource = "certificate of Josefine"\n'
    )
    options = ["--level", "0.9", "--power-band-w", "40", "--offset-s", "auto", "--reference-meter", str(meter)]
    unpacked = bundle_of([*files, *options], tmp_path)
    answer = assert_same_numbers(unpacked, monkeypatch, capsys)
    assert answer["settings"]["level"] == 0.9
    assert answer["bias_pct"]["level"] == 0.9
    assert [item["slug"] for item in answer["setup_findings"]]
    assert not [path for path in unpacked.rglob("*") if path.is_file() and b"osefine" in path.read_bytes()]
    assert str(tmp_path) not in (unpacked / "README.txt").read_text()


def test_the_same_recordings_give_the_same_bytes(tmp_path: Path) -> None:
    """Wherever they lie, whatever they are called, whenever it is made."""
    first, second = tmp_path / "a.zip", tmp_path / "b.zip"
    files = rides(tmp_path / "one", "half_minutes", "fit")
    moved = [str(shutil.copy(path, tmp_path / f"other-{k}.fit")) for k, path in enumerate(files)]
    assert run(["evidence", *files, "--out", str(first), "--quiet"]) in (0, 3)
    assert run(["evidence", *moved, "--out", str(second), "--quiet"]) in (0, 3)
    assert first.read_bytes() == second.read_bytes()


@pytest.fixture
def with_episodes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every comparison of a bundle finds these episodes, whatever was ridden."""
    faults = found(drop(), other(Finding.RIDER, start_s=900), other(Finding.UNDETERMINED, start_s=2000))

    def compare(*arguments: Any, **options: Any) -> Comparison:
        comparison = compare_recordings(*arguments, **options)
        return replace(comparison, pairs=tuple(replace(pair, faults=faults) for pair in comparison.pairs))

    monkeypatch.setattr(workflow, "compare_recordings", compare)


@pytest.mark.usefixtures("with_episodes")
def test_each_episode_has_its_figure_its_sentence_and_its_samples(tmp_path: Path, capsys: Capture) -> None:
    """Samples from three minutes before to three minutes after, with their own stamps and on both clocks."""
    unpacked = bundle_of(rides(tmp_path, "laboratory", "fit"), tmp_path)
    assert "3 episodes (1 unit, 1 rider, 1 undetermined); a defect is stated" in capsys.readouterr().out
    folder = unpacked / "episodes" / "unit-1" / "episode-01"
    assert {path.name for path in folder.iterdir()} == {
        "figure.png",
        "figure.svg",
        "in-words.txt",
        "reference.csv",
        "unit-1.csv",
    }
    assert (folder / "in-words.txt").read_text("utf-8").startswith("A drop of the unit")
    table = np.genfromtxt(folder / "unit-1.csv", delimiter=",", names=True, dtype=None, encoding="utf-8")
    assert 1500 - 180 <= table["ride_s"].min() < 1500 - 170
    assert 1625 + 170 < table["ride_s"].max() <= 1625 + 180
    assert table["in_episode"].sum() == np.sum((table["ride_s"] >= 1500) & (table["ride_s"] <= 1625))
    clock = json.loads((unpacked / "results" / "comparison.json").read_text("utf-8"))["clock"]["offset_s"]["value"]
    on_reference, on_unit = (
        np.array([stamp.removesuffix("Z") for stamp in table[name].tolist()], dtype="M8[ms]")
        for name in ("reference_clock", "unit_clock")
    )
    assert (on_reference - on_unit).astype(float) / 1000 == pytest.approx(clock, abs=0.2)
    stamps = {
        line.split(",")[1]
        for line in (unpacked / "recordings" / "unit-1.csv").read_text("utf-8").splitlines()
        if line[0] == "1"
    }
    assert set(table["time_as_recorded"].astype(str)) <= stamps
    assert manifest(unpacked)["units"][0]["episodes"] == {"unit": 1, "reference": 0, "rider": 1, "undetermined": 1}
    rows = (unpacked / "episodes" / "unit-1" / "episodes.csv").read_text("utf-8").splitlines()
    assert len(rows) == 4


@pytest.mark.usefixtures("with_episodes")
def test_names_that_are_given_go_in_and_stay_text(tmp_path: Path) -> None:
    """On pages, in tables and in the README; no cell of a table begins as a formula."""
    files = rides(tmp_path, "half_minutes", "fit")
    names = ["--name", "=pedals()", "--name", "<b>+bike</b>"]
    unpacked = bundle_of([*files, *names], tmp_path)
    assert "<b>" not in (unpacked / "statement-of-defect.html").read_text("utf-8")
    for path in unpacked.rglob("*.csv"):
        for line in path.read_text("utf-8").splitlines():
            for cell in line.split(","):
                bare = cell.strip().strip('"')
                assert not bare.startswith(("=", "+", "@")), (path.name, cell)


def test_originals_go_in_only_after_what_they_hold_was_shown_and_confirmed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """By hand or with --yes; a no leaves nothing behind."""
    files = rides(tmp_path, "half_minutes", "fit", secrets=True)
    out = tmp_path / "with.zip"
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    assert run(["evidence", *files, "--out", str(out), "--with-originals"]) == 130
    shown = capsys.readouterr().err
    assert "Josefine Beispiel" in shown
    assert str(SERIAL) in shown
    assert "positions" in shown
    assert not out.exists()
    assert run(["evidence", *files, "--out", str(out), "--with-originals", "--yes"]) in (0, 3)
    with zipfile.ZipFile(out) as file:
        originals = [name for name in file.namelist() if name.startswith("originals/")]
        assert originals == ["originals/original-1.fit", "originals/original-2.fit"]
        assert file.read(originals[1]) == Path(files[1]).read_bytes()
        said = json.loads(file.read("manifest.json"))
        assert said["originals_included"] is True
        assert "positions" in said["recordings"][0]["original"]["holds"]
        assert "They hold private data: positions" in " ".join(file.read("README.txt").decode().split())


def test_nothing_is_overwritten_unless_asked_and_no_recording_ever(tmp_path: Path, capsys: Capture) -> None:
    """Nor a device, nor into a folder that is not there; before any work is done."""
    files = rides(tmp_path, "half_minutes", "fit")
    there = tmp_path / "there.zip"
    there.write_text("mine")
    before = Path(files[0]).read_bytes()
    assert run(["evidence", *files, "--out", str(there)]) == 2
    assert there.read_text() == "mine"
    assert run(["evidence", *files, "--out", files[0], "--replace"]) == 2
    assert Path(files[0]).read_bytes() == before
    assert run(["evidence", *files, "--out", "/dev/null", "--replace"]) == 2
    assert run(["evidence", *files, "--out", str(tmp_path / "no" / "where.zip")]) == 2
    assert "error:" in capsys.readouterr().err
    assert run(["evidence", *files, "--out", str(there), "--replace", "--quiet"]) in (0, 3)
    assert zipfile.is_zipfile(there)
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []


def test_a_clock_that_cannot_be_told_gives_a_bundle_that_says_so(tmp_path: Path, capsys: Capture) -> None:
    """Status 3, no statement of a defect, and the reason."""
    unpacked = bundle_of(rides(tmp_path, "equal_intervals", "fit"), tmp_path, status=3)
    text = (unpacked / "no-defect-stated.md").read_text("utf-8")
    assert "could not be looked for" in text
    assert not list(unpacked.glob("statement-of-defect*"))


@needs_recordings
def test_a_real_pair_computes_again_and_shows_no_number_of_a_device(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """The indoor pair; its files name devices, a sensor's owner and a person's weight."""
    files = [str(RECORDINGS / "pair-indoor-pedals.fit"), str(RECORDINGS / "pair-indoor-trainer.fit")]
    unpacked = bundle_of(files, tmp_path)
    assert_same_numbers(unpacked, monkeypatch, capsys)
    secrets: set[str] = set()
    for file in files:
        for item in private_data(Path(file)).items:
            if item.kind is PrivateKind.SERIAL or "unknown_147" in item.where:
                secrets.update(text for text in item.examples if len(text) >= 6)
    assert len(secrets) >= 3
    for path in unpacked.rglob("*"):
        content = path.read_bytes() if path.is_file() else b""
        assert not [secret for secret in secrets if secret.encode() in content], path.name
