"""``wattwitness publish`` as a tester meets it: one folder with everything, private data left out, nothing replaced."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile
from pathlib import Path

import pytest

from tests.private_rides import SECRETS, WITH_SECRETS
from wattwitness.cli.main import run
from wattwitness.render import figures
from wattwitness.workflows.simulate import simulate_scenario

Capture = pytest.CaptureFixture[str]
NOTES = 'First <b>bold</b> words.\n\n#read("/etc/passwd") and = a heading\n\n=1+1'


@pytest.fixture(autouse=True)
def column_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """The small edition alone: the large ones take seconds and are tested by themselves."""
    monkeypatch.setattr(figures, "EDITIONS", (figures.COLUMN,))


@pytest.fixture(scope="module")
def ride(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Pedals and bike, with a rider's name, a serial number and positions in their files."""
    folder = tmp_path_factory.mktemp("josefine-beispiel")
    paths = [path for path in simulate_scenario("falls_away", seed=5, folder=folder) if path.suffix == ".fit"]
    for path in paths:
        path.write_bytes(WITH_SECRETS["fit"](path.read_bytes()))
    return str(paths[0]), str(paths[1])


def held(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_ride_is_published_with_everything_and_names_nobody(
    ride: tuple[str, str], tmp_path: Path, capsys: Capture
) -> None:
    notes, out = tmp_path / "notes.txt", tmp_path / "out"
    notes.write_text(NOTES, "utf-8")
    command = ["publish", "ride", *ride, "--out", str(out), "--quiet", "--notes", str(notes), "--with-evidence"]
    assert run(command) == 0
    assert "begin with" in capsys.readouterr().out.lower()
    files = held(out)
    assert {"report.html", "report.pdf", "results.json", "README.txt", "contents.json", "evidence.zip"} <= set(files)
    assert any(name.startswith("statement-of-defect") for name in files)
    assert {"figures/panels-column.svg", "figures/panels-column.pdf", "tables/bias-1.csv", "tables/bias-1.md"} <= set(
        files
    )
    listed = json.loads(files["contents.json"])["files"]
    assert {item["name"] for item in listed} == set(files) - {"contents.json"}
    assert all(hashlib.sha256(files[item["name"]]).hexdigest() == item["sha256"] for item in listed)
    for name, content in files.items():
        for secret in (*SECRETS, *(Path(path).name for path in ride)):
            assert secret.lower().encode() not in content.lower(), (name, secret)
    stated = next(name for name in files if name.startswith("statement-of-defect"))
    with zipfile.ZipFile(io.BytesIO(files["evidence.zip"])) as archive:
        assert archive.read(stated) == files[stated]
    for words in (
        "Settings: level 0.95",
        "No limit was stated",
        hashlib.sha256(Path(ride[1]).read_bytes()).hexdigest(),
    ):
        assert words in files[stated].decode(), words
    page = files["report.html"].decode()
    assert "The tester’s own words" in page
    assert "First &lt;b&gt;bold&lt;/b&gt; words." in page
    assert json.loads(files["results.json"])["clock"]["status"] == "found"
    readme = files["README.txt"].decode()
    assert "Riders" not in readme, "there are none"
    for words in ("report.pdf", "SHA-256, reference: ", "Settings: level 0.95", "No limit was stated", "left out"):
        assert words in " ".join(readme.split()), words
    for name in files:
        if name.endswith(".csv"):
            rows = list(csv.reader(io.StringIO(files[name].decode("utf-8-sig"), newline="")))
            assert len({len(row) for row in rows}) == 1, name


def test_the_same_input_gives_the_same_bytes(ride: tuple[str, str], tmp_path: Path) -> None:
    for name in ("a", "b"):
        assert run(["publish", "ride", *ride, "--out", str(tmp_path / name), "--quiet"]) == 0
    assert held(tmp_path / "a") == held(tmp_path / "b")


def test_names_that_are_asked_for_stay(ride: tuple[str, str], tmp_path: Path, capsys: Capture) -> None:
    out = tmp_path / "out"
    assert run(["publish", "ride", *ride, "--out", str(out), "--quiet", "--with-names", "--name", "Pedals"]) == 0
    page = held(out)["report.html"].decode()
    assert "Pedals" in page
    assert Path(ride[1]).name in page
    assert "because that was asked for" in capsys.readouterr().out


def test_one_recording_is_published(ride: tuple[str, str], tmp_path: Path) -> None:
    out = tmp_path / "out"
    command = ["publish", "recording", ride[1], "--out", str(out), "--quiet", "--ground", "over-dark"]
    assert run([*command, "--name", "The bike"]) == 0
    files = held(out)
    assert "figures/alone-over-dark-column.png" in files
    assert "The bike" in files["report.html"].decode()
    assert all(secret.encode() not in content for content in files.values() for secret in SECRETS)


@pytest.fixture(scope="module")
def rides(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("rides")
    lines = ["[study]", 'unit = "bike A"', "[claim]", 'source = "data sheet"', "limit_pct = 2.5"]
    for seed, rider in ((1, "Annabel Quist"), (2, "Bo")):
        into = folder / f"{seed}"
        first, second = (
            path for path in simulate_scenario("half_minutes", seed=seed, folder=into) if path.suffix == ".fit"
        )
        lines += ["[[ride]]", f'name = "annabel-{seed}"', f'rider = "{rider}"']
        lines += [f'reference = "{seed}/{first.name}"', f'unit = "{seed}/{second.name}"']
    (folder / "rides.toml").write_text("\n".join(lines), "utf-8")
    return folder


def test_a_study_is_published_from_a_list_and_from_a_bench(rides: Path, tmp_path: Path, capsys: Capture) -> None:
    listed = rides / "rides.toml"
    options = ["--quiet", "--processes", "1"]
    assert run(["publish", "study", str(listed), "--out", str(tmp_path / "a"), *options]) in (0, 1)
    assert run(["bench", "new", str(tmp_path / "bench")]) == 0
    assert run(["bench", "add", str(tmp_path / "bench"), str(listed), "--confirm", "--quiet"]) == 0
    assert run(["publish", "bench", str(tmp_path / "bench"), "--out", str(tmp_path / "b"), *options]) in (0, 1)
    capsys.readouterr()
    for name in ("a", "b"):
        files = held(tmp_path / name)
        assert {"report.pdf", "figures/forest-column.svg", "tables/rides-1.csv"} <= set(files)
        for file, content in files.items():
            assert b"nnabel" not in content, file
    readme = held(tmp_path / "a")["README.txt"].decode()
    assert "Its source: data sheet (as stated by the tester)." in " ".join(readme.split())
    assert "SHA-256, rider 1-1, reference:" in readme
    assert "Riders and files are called by number" in readme
    inside = tmp_path / "bench" / "out"
    assert run(["publish", "bench", str(tmp_path / "bench"), "--out", str(inside), *options]) == 2
    assert "among the recordings" in capsys.readouterr().err
    assert not inside.exists()


def test_nothing_is_replaced_without_being_asked(ride: tuple[str, str], tmp_path: Path, capsys: Capture) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "mine.txt").write_text("mine")
    for more in ((), ("--replace",)):
        assert run(["publish", "recording", ride[1], "--out", str(out), "--quiet", *more]) == 2
        assert "what to do" in capsys.readouterr().err
    assert held(out) == {"mine.txt": b"mine"}


@pytest.mark.parametrize(("content", "slug"), [(None, "file_missing"), (b"\xff\xfe\x00", "file_not_readable")])
def test_notes_that_cannot_be_read_are_said(
    content: bytes | None, slug: str, ride: tuple[str, str], tmp_path: Path, capsys: Capture
) -> None:
    notes = tmp_path / "notes.txt"
    if content is not None:
        notes.write_bytes(content)
    out = tmp_path / "out"
    assert run(["publish", "recording", ride[1], "--out", str(out), "--quiet", "--notes", str(notes)]) == 2
    assert slug in capsys.readouterr().err
    assert not out.exists()


def test_signs_that_cannot_be_drawn_are_said_in_one_sentence(
    ride: tuple[str, str], tmp_path: Path, capsys: Capture
) -> None:
    """Warnings are errors here: none of the drawing library's reaches anybody."""
    out = tmp_path / "out"
    assert run(["publish", "recording", ride[1], "--out", str(out), "--quiet", "--name", "Rad 🚴 自"]) == 0
    said = capsys.readouterr()
    sentence = (
        "The fonts of the PDF and the figures lack signs that a name or a text holds; their names or numbers in "
        "Unicode stand there in square brackets: bicyclist, U+81EA."
    )
    assert said.out.splitlines()[-1] == sentence
    assert said.err == ""
    files = held(out)
    assert sentence in " ".join(files["README.txt"].decode().split())
    assert "Rad 🚴 自" in files["report.html"].decode()
    command = ["compare", *ride, "--quiet", "--name", "Rad 🚴", "--figures", str(tmp_path / "figures")]
    assert run(command) == 0
    assert capsys.readouterr().err.strip().endswith("stand there in square brackets: bicyclist.")
