"""The commands as a tester meets them: exit status, what goes to which stream, and what is never overwritten."""

from __future__ import annotations

import errno
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from wattwitness.cli.main import run
from wattwitness.workflows.simulate import simulate_scenario

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def ride(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Pedals and bike of the demo's ride, as FIT files."""
    folder = tmp_path_factory.mktemp("ride")
    paths = [path for path in simulate_scenario("laboratory", seed=3, folder=folder) if path.suffix == ".fit"]
    return str(paths[0]), str(paths[1])


@pytest.fixture(scope="module")
def equal_intervals(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """A ride that fits many offsets."""
    folder = tmp_path_factory.mktemp("equal")
    paths = [path for path in simulate_scenario("equal_intervals", seed=3, folder=folder) if path.suffix == ".fit"]
    return str(paths[0]), str(paths[1])


def test_json_goes_to_standard_output_alone(ride: tuple[str, str], capsys: Capture) -> None:
    assert run(["compare", *ride, "--format", "json"]) == 0
    printed = capsys.readouterr()
    answer = json.loads(printed.out)
    assert answer["clock"]["status"] == "found"
    assert answer["bias_pct"]["low"] < answer["bias_pct"]["value"] < answer["bias_pct"]["high"]
    assert printed.err == ""


def test_text_says_the_answer_first_and_in_words(ride: tuple[str, str], capsys: Capture) -> None:
    assert run(["compare", *ride, "--name", "Pedals", "--name", "Bike B"]) == 0
    first = " ".join(capsys.readouterr().out.split())[:300]
    assert "Bike B" in first
    assert re.search(r"\d+\.\d.% (low|high)", first)


@pytest.mark.parametrize(("limit_pct", "status"), [("0.1", 1), ("60", 0)])
def test_a_broken_limit_is_status_1(ride: tuple[str, str], limit_pct: str, status: int, capsys: Capture) -> None:
    assert run(["compare", *ride, "--limit-pct", limit_pct]) == status


def test_an_ambiguous_clock_is_status_3_and_gives_the_range(equal_intervals: tuple[str, str], capsys: Capture) -> None:
    assert run(["compare", *equal_intervals, "--format", "json"]) == 3
    answer = json.loads(capsys.readouterr().out)
    assert answer["clock"]["status"] == "ambiguous"
    assert answer["bias_pct"]["not_assessed"] == "clock_ambiguous"
    assert answer["bias_range_pct"]["low"] <= answer["bias_range_pct"]["high"]


def test_an_offset_by_hand_settles_an_ambiguous_clock(equal_intervals: tuple[str, str], capsys: Capture) -> None:
    assert run(["compare", *equal_intervals, "--format", "json", "--offset-s", "10"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["clock"]["status"] == "by_hand"
    assert answer["clock"]["offset_s"]["value"] == 10
    assert any(notice["slug"] == "clock_by_hand" for notice in answer["notices"])


def test_one_recording_twice_is_no_comparison(ride: tuple[str, str], capsys: Capture) -> None:
    assert run(["compare", ride[0], ride[0]]) == 3
    assert "same recording" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("arguments", "slug"),
    [
        (["compare", "missing.fit", "{unit}"], "file_missing"),
        (["compare", "{folder}", "{unit}"], "is_directory"),
        (["compare", "{unit}"], "too_few_recordings"),
        (["compare", "{reference}#7", "{unit}"], "part_unknown"),
        (["compare", "{reference}", "{unit}", "--level", "7"], "setting_invalid"),
        (["compare", "{reference}", "{unit}", "--offset-s", "nan"], "setting_invalid"),
        (["compare", "{reference}", "{unit}", "--offset-s", "1", "--offset-s", "2"], "setting_invalid"),
        (["compare", "{reference}", "{unit}", "--html", "{unit}", "--replace"], "output_exists"),
        (["compare", "{reference}", "{unit}", "--html", "{folder}/none/such.html"], "output_not_writable"),
        (["simulate", "no_such_scenario"], "unknown_name"),
    ],
)
def test_errors_are_words_on_standard_error_with_status_2(
    ride: tuple[str, str], arguments: list[str], slug: str, capsys: Capture, tmp_path: Path
) -> None:
    filled = [text.format(reference=ride[0], unit=ride[1], folder=tmp_path) for text in arguments]
    before = Path(ride[1]).read_bytes()
    assert run(filled) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert f"docs/errors/{slug}.md" in printed.err
    assert "what to do: " in printed.err
    assert "Traceback" not in printed.err
    assert Path(ride[1]).read_bytes() == before


@pytest.mark.parametrize("arguments", [["compare"], ["compare", "a", "b", "--formt", "json"], ["wat"]])
def test_usage_is_status_2(arguments: list[str], capsys: Capture) -> None:
    assert run(arguments) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_a_page_is_replaced_only_when_asked(ride: tuple[str, str], tmp_path: Path, capsys: Capture) -> None:
    page = tmp_path / "report.html"
    page.write_text("mine")
    assert run(["compare", *ride, "--html", str(page)]) == 2
    assert page.read_text() == "mine"
    assert run(["compare", *ride, "--html", str(page), "--replace"]) == 0
    assert "<html" in page.read_text()


def test_a_fault_of_our_own_is_no_traceback(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    def fail(_command: object) -> str:
        raise RuntimeError("the belt came off")

    monkeypatch.setattr("wattwitness.render.schemas.schema_text", fail)
    assert run(["schema"]) == 2
    assert "fault of wattwitness itself (RuntimeError: the belt came off)" in capsys.readouterr().err


def test_a_comparison_imports_no_heavy_statistics(ride: tuple[str, str]) -> None:
    # Each of the two costs more than a second, half the time a comparison may take in all.
    code = (
        "import sys; from wattwitness.cli.main import run; status = run(sys.argv[1:]);"
        "heavy = {'scipy.signal', 'scipy.stats', 'matplotlib', 'pandas'} & set(sys.modules);"
        "sys.exit(f'imported {heavy}' if heavy else status)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "compare", *ride, "--format", "json"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_help_needs_no_arrays() -> None:
    code = "import sys; from wattwitness.cli.main import run; run(['--help']); sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, check=False).returncode == 0


def test_each_table_may_have_a_mapping_of_its_own(tmp_path: Path, capsys: Capture) -> None:
    watts = [150 + 60 * ((second // 97) % 3) + second % 7 for second in range(1200)]
    first, second = tmp_path / "pedals.csv", tmp_path / "bike.csv"
    first.write_text("a,b\n" + "".join(f"{at},{power}\n" for at, power in enumerate(watts)))
    second.write_text("x;y\n" + "".join(f"{at};{power * 0.95:.1f}\n" for at, power in enumerate(watts)))
    maps = tmp_path / "pedals.toml", tmp_path / "bike.toml"
    for path, (time, power) in zip(maps, (("a", "b"), ("x", "y")), strict=True):
        path.write_text(
            f'[columns]\ntime = "{time}"\npower_w = "{power}"\n[time]\nkind = "seconds"\n[units]\npower_w = "W"\n'
        )
    both = ["--mapping", str(maps[0]), "--mapping", str(maps[1])]
    assert run(["compare", str(first), str(second), *both, "--format", "json", "--offset-s", "0"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["bias_pct"]["value"] == pytest.approx(-5.0, abs=0.05)
    assert run(["compare", str(first), str(second), "--mapping", str(maps[0]), "--offset-s", "0"]) == 2


def test_a_reader_that_has_seen_enough_is_no_failure(ride: tuple[str, str]) -> None:
    command = [sys.executable, "-m", "wattwitness.cli.main", "compare", *ride]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        complaint = process.stderr.read()
        assert process.wait() == 0, complaint
    assert complaint == b""


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_what_is_no_ordinary_file_is_never_replaced(ride: tuple[str, str], tmp_path: Path, capsys: Capture) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert run(["compare", *ride, "--html", str(pipe), "--replace"]) == 2
    assert "output_not_writable" in capsys.readouterr().err
    assert pipe.is_fifo()


def test_a_link_is_written_through(ride: tuple[str, str], tmp_path: Path) -> None:
    page, link = tmp_path / "page.html", tmp_path / "link.html"
    page.write_text("old")
    link.symlink_to(page)
    assert run(["compare", *ride, "--html", str(link), "--replace"]) == 0
    assert link.is_symlink()
    assert "<html" in page.read_text()


def test_a_full_disk_is_said_and_no_fault_of_ours(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def full(_command: object) -> str:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("wattwitness.cli.main.os.dup2", lambda *_: None)
    monkeypatch.setattr("wattwitness.render.schemas.schema_text", full)
    assert run(["schema"]) == 2
    assert "docs/errors/output_not_writable.md" in capfd.readouterr().err


def test_an_invalid_setting_is_named_as_its_option(ride: tuple[str, str], capsys: Capture) -> None:
    assert run(["compare", *ride, "--level", "1.5"]) == 2
    error = capsys.readouterr().err
    assert "level is 1.5, outside 0.5 to 0.999." in error
    assert "where: --level" in error


def test_a_limit_on_nothing_measured_is_answered(equal_intervals: tuple[str, str], capsys: Capture) -> None:
    assert run(["compare", *equal_intervals, "--limit-pct", "2"]) == 3
    words = " ".join(capsys.readouterr().out.split())
    assert "keeps the stated limit of" in words
    assert "was not assessed" in words
