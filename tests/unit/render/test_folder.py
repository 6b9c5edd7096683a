"""A folder of ours is written whole or not at all, and nothing of anybody else's is ever replaced."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.factories import comparison
from wattwitness.model.errors import OutputExists, OutputNotWritable
from wattwitness.model.publication import Publication
from wattwitness.render.folder import check_folder, write_folder
from wattwitness.render.publication_readme import LIST, contents
from wattwitness.sections.publication import of_comparison

PUBLICATION: Publication = replace(of_comparison(comparison()), sections=())


def members(text: str = "one") -> list[tuple[str, bytes]]:
    files = {"report.html": text.encode(), "figures/a.svg": b"<svg/>"}
    return [*files.items(), (LIST, contents(PUBLICATION, files))]


def held(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_folder_is_written_and_listed(tmp_path: Path) -> None:
    written = write_folder(members(), tmp_path / "out", replace=False)
    assert held(tmp_path / "out") == dict(members())
    assert set(written) == {tmp_path / "out" / name for name, _ in members()}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_an_empty_folder_may_be_filled_and_a_full_one_not(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    write_folder(members(), folder, replace=False)
    with pytest.raises(OutputExists):
        write_folder(members("two"), folder, replace=False)
    assert held(folder) == dict(members())


def test_an_earlier_publication_is_replaced_only_when_asked(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    write_folder(members(), folder, replace=False)
    write_folder([(LIST, contents(PUBLICATION, {"new.txt": b"n"})), ("new.txt", b"n")], folder, replace=True)
    assert set(held(folder)) == {LIST, "new.txt"}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize("theirs", ["ride.fit", "figures/mine.png", "more/notes.txt"])
def test_what_is_the_testers_own_keeps_a_folder_from_being_replaced(theirs: str, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    write_folder(members(), folder, replace=False)
    own = folder / theirs
    own.parent.mkdir(exist_ok=True)
    own.write_text("mine")
    with pytest.raises(OutputExists, match="no earlier publication") as caught:
        check_folder(folder, replace=True)
    assert Path(theirs).parts[0] in str(caught.value.where)
    assert own.read_text() == "mine"


@pytest.mark.parametrize("listed", ["", "[]", "{}", '{"made_by": "somebody", "files": []}', '{"files": 3}'])
def test_a_folder_with_no_list_of_ours_is_never_replaced(listed: str, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / LIST).write_text(listed)
    with pytest.raises(OutputExists):
        check_folder(folder, replace=True)


def test_what_is_no_folder_is_left_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    for name in ("file", "link", "missing/out"):
        with pytest.raises(OutputNotWritable):
            check_folder(tmp_path / name, replace=True)


def test_stopping_half_way_leaves_everything_as_it_was(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    write_folder(members(), folder, replace=False)

    def stops() -> Iterator[tuple[str, bytes]]:
        yield from members("two")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_folder(stops(), folder, replace=True)
    assert held(folder) == dict(members())
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
