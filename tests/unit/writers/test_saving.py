"""A file appears whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from wattwitness.model.errors import OutputExists, OutputNotWritable
from wattwitness.writers.saving import save


def test_written_whole_and_nothing_left_beside(tmp_path: Path) -> None:
    save(b"one", tmp_path / "a", overwrite=False)
    assert [path.name for path in tmp_path.iterdir()] == ["a"]
    assert (tmp_path / "a").read_bytes() == b"one"


def test_another_file_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"mine")
    with pytest.raises(OutputExists) as caught:
        save(b"one", tmp_path / "a", overwrite=False)
    assert caught.value.where == str(tmp_path / "a")
    assert (tmp_path / "a").read_bytes() == b"mine"
    save(b"two", tmp_path / "a", overwrite=True)
    assert (tmp_path / "a").read_bytes() == b"two"


def test_a_file_that_appears_in_the_meantime_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a").write_bytes(b"mine")
    monkeypatch.setattr(Path, "exists", lambda _path: False)
    with pytest.raises(OutputExists):
        save(b"one", tmp_path / "a", overwrite=False)
    assert (tmp_path / "a").read_bytes() == b"mine"
    assert len(list(tmp_path.iterdir())) == 1


def test_without_hard_links_it_is_moved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path, target: Path) -> None:
        raise PermissionError(1, "no hard links here")

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    save(b"one", tmp_path / "a", overwrite=False)
    assert (tmp_path / "a").read_bytes() == b"one"
    assert len(list(tmp_path.iterdir())) == 1


def test_where_nothing_can_be_written(tmp_path: Path) -> None:
    with pytest.raises(OutputNotWritable):
        save(b"one", tmp_path / "none" / "a", overwrite=False)
    (tmp_path / "folder").mkdir()
    with pytest.raises(OutputExists):
        save(b"one", tmp_path / "folder", overwrite=False)
    with pytest.raises(OutputNotWritable):
        save(b"one", tmp_path / "folder", overwrite=True)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["folder"]


def test_a_failed_write_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(path: Path, target: Path) -> Path:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OutputNotWritable, match="No space left"):
        save(b"one", tmp_path / "a", overwrite=True)
    assert list(tmp_path.iterdir()) == []
