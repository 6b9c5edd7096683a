"""A bench as one file and back; and every sort of file that was made to do harm, refused with nothing left behind."""

from __future__ import annotations

import io
import json
import shutil
import signal
import stat
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wattwitness.bench.archive import MANIFEST, read_archive, write_archive
from wattwitness.bench.catalogue import catalogue, new_bench
from wattwitness.bench.lone_recordings import LoneRecording
from wattwitness.bench.manifest import manifest_text
from wattwitness.bench.notes import About
from wattwitness.bench.originals import keep, original_path
from wattwitness.bench.rides import originals_of
from wattwitness.bench.tables import PUT_AWAY, UNITS
from wattwitness.model.claim import Claim, ClaimStatus
from wattwitness.model.errors import ArchiveInvalid, BenchInvalid, BenchNewer, OutputExists, WattwitnessError
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.ride_list import ListedRide, ListedStudy
from wattwitness.workflows import bench_changes as changes
from wattwitness.workflows.bench import add_rides
from wattwitness.workflows.bench_record import changing, undo
from wattwitness.workflows.lone_recordings import keep_lone_recordings, lone_recordings_on


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def quiet(_says: str) -> None:
    """Progress that says nothing."""


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two units, three rides, one empty recording, names in other alphabets, notes, setups, questions, changes."""
    folder = tmp_path_factory.mktemp("bench")
    files = folder / "files"
    files.mkdir()
    for name, content in {
        "p1.fit": b"one" * 5000,
        "b1.fit": b"two",
        "педали.csv": b"",
        "自転車.csv": b"\x00" * 9,
    }.items():
        (files / name).write_bytes(content)
    (files / "meter.toml").write_text('name = "pedals"\n')
    bench = folder / "bench"
    new_bench(bench)
    first = ListedRide(name="ride 1", reference=f"{files}/p1.fit", unit=f"{files}/b1.fit", day="2026-01-02")
    other = ListedRide(name="Fahrt „2“", reference=f"{files}/педали.csv", unit=f"{files}/自転車.csv#2")
    claim = Claim(name="maker", source="<b>page</b>", status=ClaimStatus.STATED, limit_pct=2.0)
    add_rides(bench, ListedStudy(rides=(first,), claim=claim), "bike A")
    add_rides(bench, ListedStudy(rides=(other,)), "bike “B”")
    changes.leave_out(bench, 1, LeftOutStretch(from_s=1.5, to_s=2.0, reason="a bottle"))
    changes.add_note(bench, About.RIDE, 1, "=SUM(A1)\n../../etc/passwd")
    changes.describe_meter(bench, "pedals", since_day="2026-01-01", described=files / "meter.toml")
    changes.reference_is_meter(bench, 1, "pedals")
    alone = keep(bench, files / "b1.fit")
    keep_lone_recordings(bench, [LoneRecording(name="b1.fit, recording 2", original=alone, part=2, mapping=alone)])
    with changing(bench) as (_connection, record):
        record.add(PUT_AWAY, file_sha256=alone.sha256)
        record.done("A file was put away.")
    changes.take_off(bench, 2)
    return bench


@pytest.fixture(scope="module")
def archive(bench: Path) -> Path:
    path = bench.parent / "bench.zip"
    write_archive(bench, path, version="test", replace=False, progress=quiet)
    return path


def content(bench: Path) -> tuple[str, dict[str, bytes]]:
    with catalogue(bench) as connection:
        originals = originals_of(connection)
        text = manifest_text(connection, version="test")
    paths = [original_path(bench, one.sha256, one.file_name) for one in originals]
    return text, {path.name: path.read_bytes() for path in paths}


def test_a_bench_goes_to_another_place_whole(bench: Path, archive: Path, tmp_path: Path) -> None:
    read_archive(archive, tmp_path / "new", progress=quiet)
    assert content(tmp_path / "new") == content(bench)
    assert names(tmp_path) == ["new"]
    said = undo(tmp_path / "new")
    assert "taken off" in said
    kept = [path for path in (tmp_path / "new" / "originals").rglob("*") if path.is_file()]
    assert kept
    assert all(path.stat().st_mode & 0o222 == 0 for path in kept)


def test_the_same_bench_gives_the_same_bytes(bench: Path, archive: Path, tmp_path: Path) -> None:
    write_archive(bench, tmp_path / "again.zip", version="test", replace=False, progress=quiet)
    assert (tmp_path / "again.zip").read_bytes() == archive.read_bytes()
    read_archive(archive, tmp_path / "new", progress=quiet)
    write_archive(tmp_path / "new", tmp_path / "third.zip", version="test", replace=False, progress=quiet)
    assert (tmp_path / "third.zip").read_bytes() == archive.read_bytes()


def test_nothing_is_written_over(bench: Path, archive: Path, tmp_path: Path) -> None:
    with pytest.raises(OutputExists):
        write_archive(bench, archive, version="test", replace=False, progress=quiet)
    with pytest.raises(OutputExists):
        write_archive(bench, bench / "catalogue.sqlite", version="test", replace=True, progress=quiet)
    with pytest.raises(OutputExists):
        write_archive(bench, tmp_path, version="test", replace=True, progress=quiet)
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("mine")
    with pytest.raises(OutputExists):
        read_archive(archive, tmp_path / "full", progress=quiet)
    assert names(tmp_path / "full") == ["mine.txt"]


def test_an_altered_original_is_not_exported_as_if_it_were_whole(archive: Path, tmp_path: Path) -> None:
    read_archive(archive, tmp_path / "new", progress=quiet)
    victim = next(path for path in (tmp_path / "new" / "originals").rglob("*.fit"))
    victim.chmod(0o644)
    victim.write_bytes(victim.read_bytes() + b"!")
    with pytest.raises(BenchInvalid, match="no longer"):
        write_archive(tmp_path / "new", tmp_path / "bad.zip", version="test", replace=False, progress=quiet)
    assert names(tmp_path) == ["new"]


def test_what_no_import_would_take_is_not_exported(archive: Path, tmp_path: Path) -> None:
    read_archive(archive, tmp_path / "new", progress=quiet)
    with catalogue(tmp_path / "new", write=True) as connection:
        connection.execute(UNITS.update().where(UNITS.c.id == 1).values(name="bike\n" * 300))
    with pytest.raises(BenchInvalid, match="“name” of “units”"):
        write_archive(tmp_path / "new", tmp_path / "bad.zip", version="test", replace=False, progress=quiet)
    assert names(tmp_path) == ["new"]


@pytest.mark.parametrize("name", ["a\tb.fit", "a\\b.fit", "a\nb.fit", "a\udcffb.fit"])
def test_a_file_of_any_name_goes_to_another_place(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(b"one")
    (tmp_path / "other.fit").write_bytes(b"two")
    new_bench(tmp_path / "bench")
    ride = ListedRide(name="ride", reference=f"{tmp_path}/{name}", unit=f"{tmp_path}/other.fit")
    add_rides(tmp_path / "bench", ListedStudy(rides=(ride,)), "bike")
    write_archive(tmp_path / "bench", tmp_path / "b.zip", version="test", replace=False, progress=quiet)
    read_archive(tmp_path / "b.zip", tmp_path / "new", progress=quiet)
    assert content(tmp_path / "new") == content(tmp_path / "bench")


def test_a_list_of_contents_that_would_fill_the_memory_is_not_read(tmp_path: Path) -> None:
    packed(tmp_path / "bomb.zip", [(MANIFEST, b"[" + b"{}," * (6 << 20) + b"0]")])
    with pytest.raises(ArchiveInvalid, match="far too large"):
        read_archive(tmp_path / "bomb.zip", tmp_path / "new", progress=quiet)
    assert names(tmp_path) == ["bomb.zip"]


def members(archive: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(archive) as file:
        return {name: file.read(name) for name in file.namelist()}


def packed(path: Path, parts: list[tuple[zipfile.ZipInfo | str, bytes]]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        for name, data in parts:
            file.writestr(name, data)
    return path


def one_more(name: str, *, mode: int = stat.S_IFREG | 0o644, data: bytes = b"x") -> Callable[[Path, Path], Path]:
    def made(archive: Path, path: Path) -> Path:
        member = zipfile.ZipInfo(name)
        member.external_attr = mode << 16
        return packed(path, [*members(archive).items(), (member, data)])

    return made


def changed_manifest(change: Callable[[dict[str, Any]], None]) -> Callable[[Path, Path], Path]:
    def made(archive: Path, path: Path) -> Path:
        parts = members(archive)
        manifest = json.loads(parts[MANIFEST])
        change(manifest)
        parts[MANIFEST] = json.dumps(manifest).encode()
        return packed(path, list(parts.items()))

    return made


def raw_manifest(text: bytes) -> Callable[[Path, Path], Path]:
    return lambda archive, path: packed(path, list((members(archive) | {MANIFEST: text}).items()))


def an_original_as(mode: int, data: bytes) -> Callable[[Path, Path], Path]:
    def made(archive: Path, path: Path) -> Path:
        parts: list[tuple[zipfile.ZipInfo | str, bytes]] = []
        for name, old in members(archive).items():
            member = zipfile.ZipInfo(name)
            member.external_attr = (mode if name != MANIFEST else stat.S_IFREG | 0o644) << 16
            parts.append((member, old if name == MANIFEST else data))
        return packed(path, parts)

    return made


def twice(archive: Path, path: Path) -> Path:
    parts = members(archive)
    name = next(one for one in parts if one != MANIFEST)
    with pytest.warns(UserWarning, match="Duplicate"):
        return packed(path, [*parts.items(), (name, b"another")])


def cut(archive: Path, path: Path) -> Path:
    path.write_bytes(archive.read_bytes()[:-40])
    return path


def no_zip(_archive: Path, path: Path) -> Path:
    path.write_bytes(b"hello")
    return path


def cell(table: str, column: str, value: object) -> Callable[[Path, Path], Path]:
    def change(manifest: dict[str, Any]) -> None:
        manifest["rows"][table][0][manifest["columns"][table].index(column)] = value

    return changed_manifest(change)


DEEP = b'{"format": ' + b"[" * 200_000
HOSTILE: dict[str, Callable[[Path, Path], Path]] = {
    "a path outside": one_more("../outside.txt"),
    "an absolute path": one_more("/tmp/outside.txt"),
    "a path outside with backslashes": one_more("..\\outside.txt"),
    "a drive": one_more("C:outside.txt"),
    "a catalogue smuggled in": one_more("catalogue.sqlite", data=b"SQLite format 3\x00"),
    "a folder": one_more("originals/ff/", mode=stat.S_IFDIR | 0o755, data=b""),
    "a link beside": one_more("originals/link", mode=stat.S_IFLNK | 0o777, data=b"/etc/passwd"),
    "originals that are links": an_original_as(stat.S_IFLNK | 0o777, b"/etc/passwd"),
    "originals that are devices": an_original_as(stat.S_IFCHR | 0o666, b""),
    "other bytes of the same names": an_original_as(stat.S_IFREG | 0o644, b"other"),
    "a member twice": twice,
    "cut short": cut,
    "no zip": no_zip,
    "no manifest": lambda archive, path: packed(path, [i for i in members(archive).items() if i[0] != MANIFEST]),
    "a manifest that is no JSON": raw_manifest(b"import os"),
    "a manifest that is no text": raw_manifest(b"\xff\xfe\x00"),
    "a manifest of endless depth": raw_manifest(DEEP),
    "a pickle": raw_manifest(b"cos\nsystem\n(S'true'\ntR."),
    "another format": changed_manifest(lambda m: m.update(format="other")),
    "another table": changed_manifest(lambda m: m["rows"].update(results=[])),
    "another column": changed_manifest(lambda m: m["columns"]["units"].append("x")),
    "a row too short": changed_manifest(lambda m: m["rows"]["units"][0].pop()),
    "a part that no file has": cell("lone_recordings", "part", 0),
    "a hash that is a path": cell("recordings", "sha256", "../../../../etc/passwd"),
    "a name that is a path": cell("recordings", "file_name", "../x.fit"),
    "a size that is a word": cell("recordings", "size_bytes", "3"),
    "a size that is below nothing": cell("recordings", "size_bytes", -1),
    "another size": cell("recordings", "size_bytes", 1),
    "a huge member": cell("recordings", "size_bytes", 1 << 50),
    "a number beyond all": cell("rides", "offset_s", 10**400),
    "a unit that is not there": cell("rides", "unit_id", 99),
    "a recording that is not there": cell("rides", "reference_sha256", "0" * 64),
    "a day that is none": cell("rides", "day", "'; DROP TABLE rides; --"),
    "a question that is none": cell("studies", "question", '{"rides": 1}'),
    "a change that would undo another table": cell(
        "changes", "back", '[{"table": "recordings", "id": 1, "was": "added", "values": null}]'
    ),
    "a name with signs that steer": cell("units", "name", "bike\u0007\u0000"),
    "a note with signs that steer": cell("notes", "text", "a\u001b[2Jb"),
    "half a sign": raw_manifest(b'{"format": "wattwitness bench", "edition": 1, "catalogue": "\\ud800"}'),
}


@pytest.mark.parametrize("make", HOSTILE.values(), ids=HOSTILE.keys())
def test_a_file_made_to_do_harm_is_refused_and_leaves_nothing(
    archive: Path, tmp_path: Path, make: Callable[[Path, Path], Path]
) -> None:
    place = tmp_path / "deep" / "er"
    place.mkdir(parents=True)
    hostile = make(archive, tmp_path / "hostile.zip")
    with pytest.raises(ArchiveInvalid) as told:
        read_archive(hostile, place / "new", progress=quiet)
    assert "hostile.zip" in str(told.value.where)
    assert told.value.hint
    assert names(place) == []
    assert names(tmp_path) == ["deep", "hostile.zip"]


def test_a_member_that_grows_is_stopped_at_the_size_it_claimed(archive: Path, tmp_path: Path) -> None:
    """A gigabyte of zeros packed small, under a header that claims little: reading ends with the claim."""
    parts = members(archive)
    name = next(one for one in parts if one != MANIFEST and parts[one])
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as file:
        for other, data in parts.items():
            file.writestr(other, b"\0" * (64 << 20) if other == name else data)
    claimed = bytearray(bomb.getvalue())
    with zipfile.ZipFile(io.BytesIO(bytes(claimed))) as file:
        true_size = file.getinfo(name).file_size.to_bytes(4, "little")
    claimed = bytearray(bytes(claimed).replace(true_size, len(parts[name]).to_bytes(4, "little")))
    (tmp_path / "bomb.zip").write_bytes(claimed)
    with pytest.raises(ArchiveInvalid):
        read_archive(tmp_path / "bomb.zip", tmp_path / "new", progress=quiet)
    assert names(tmp_path) == ["bomb.zip"]


def test_a_newer_edition_is_said_to_be_newer(archive: Path, tmp_path: Path) -> None:
    for change in ({"edition": 2}, {"catalogue": "9999"}):
        made = changed_manifest(lambda m, change=change: m.update(change))  # type: ignore[misc]
        with pytest.raises(BenchNewer):
            read_archive(made(archive, tmp_path / "newer.zip"), tmp_path / "new", progress=quiet)


def test_an_export_of_an_older_catalogue_is_taken_in(archive: Path, tmp_path: Path) -> None:
    """Tables that it does not know yet are empty; one that is missing without that reason is refused."""

    def older(manifest: dict[str, Any]) -> None:
        manifest["catalogue"] = "0002"
        for name in ("lone_recordings", "put_away"):
            del manifest["columns"][name], manifest["rows"][name]
        later = ("reference_mapping_sha256", "unit_mapping_sha256")
        assert tuple(manifest["columns"]["rides"][-2:]) == later
        for row in (manifest["columns"]["rides"], *manifest["rows"]["rides"]):
            del row[-2:]
        for change in manifest["rows"]["changes"]:
            steps = [step for step in json.loads(change[3]) if step["table"] not in ("lone_recordings", "put_away")]
            for step in steps:
                if step["table"] == "rides" and step["values"]:
                    step["values"] = {name: cell for name, cell in step["values"].items() if name not in later}
            change[3] = json.dumps(steps)

    read_archive(changed_manifest(older)(archive, tmp_path / "old.zip"), tmp_path / "old", progress=quiet)
    assert lone_recordings_on(tmp_path / "old") == []
    rides = len(changes.rides_on(tmp_path / "old"))
    assert "taken off" in undo(tmp_path / "old")
    assert len(changes.rides_on(tmp_path / "old")) == rides + 1
    read_archive(archive, tmp_path / "new", progress=quiet)
    assert [one.part for one in lone_recordings_on(tmp_path / "new")] == [2]
    bad = changed_manifest(lambda manifest: manifest.update(catalogue="0002"))(archive, tmp_path / "bad.zip")
    with pytest.raises(ArchiveInvalid):
        read_archive(bad, tmp_path / "bad", progress=quiet)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(place=st.floats(0, 1, exclude_max=True), value=st.integers(1, 255))
def test_any_byte_altered_gives_the_same_bench_or_none(
    bench: Path, archive: Path, tmp_path: Path, place: float, value: int
) -> None:
    altered = bytearray(archive.read_bytes())
    altered[int(place * len(altered))] ^= value
    (tmp_path / "altered.zip").write_bytes(altered)
    target = tmp_path / "new"
    try:
        read_archive(tmp_path / "altered.zip", target, progress=quiet)
    except WattwitnessError:
        assert not target.exists()
    else:
        assert content(target) == content(bench)
        shutil.rmtree(target)
    assert names(tmp_path) == ["altered.zip"]


def test_a_killed_import_leaves_no_half_bench_and_is_completed_by_the_next(archive: Path, tmp_path: Path) -> None:
    """The kill of a crash while recordings are unpacked, as slowly as a test needs."""
    code = (
        "import sys, time; from pathlib import Path; from wattwitness.bench.archive import read_archive\n"
        "def slow(says):\n print(says, flush=True); time.sleep(5)\n"
        "read_archive(Path(sys.argv[1]), Path(sys.argv[2]), progress=slow)"
    )
    child = subprocess.Popen([sys.executable, "-c", code, archive, tmp_path / "new"], stdout=subprocess.PIPE)
    assert child.stdout is not None
    assert b"unpacked 1" in child.stdout.readline()
    with pytest.raises(OutputExists, match="under way"):
        read_archive(archive, tmp_path / "new", progress=quiet)
    child.send_signal(signal.SIGKILL)
    child.communicate(timeout=30)
    time.sleep(0.05)
    assert not (tmp_path / "new").exists()
    read_archive(archive, tmp_path / "new", progress=quiet)
    assert names(tmp_path) == ["new"]
