"""The archive: verified by its checksums, the same bytes for the same files, and nothing outside its folder."""

from __future__ import annotations

import hashlib
import io
import zipfile

import pytest

from tests.factories_evidence import drop, found, with_faults
from wattwitness.charts.episode import build
from wattwitness.render.evidence.archive import archive, checksums
from wattwitness.render.evidence.figures import episode_files

MEMBERS = {"README.txt": b"read me\n", "recordings/reference.csv": b"1,2\n", "episodes/figure.png": b"\x89PNG" * 50}


def test_every_member_but_the_list_stands_in_the_list() -> None:
    """As sha256sum writes it: hash, two blanks, name."""
    lines = checksums(MEMBERS).decode().splitlines()
    assert lines == [f"{hashlib.sha256(MEMBERS[name]).hexdigest()}  {name}" for name in sorted(MEMBERS)]
    with zipfile.ZipFile(io.BytesIO(archive(MEMBERS))) as file:
        assert file.read("SHA256SUMS") == checksums(MEMBERS)
        assert set(file.namelist()) == {*MEMBERS, "SHA256SUMS"}
        assert file.testzip() is None


def test_the_order_in_which_files_were_made_does_not_show() -> None:
    """Nor does the time."""
    assert archive(MEMBERS) == archive(dict(reversed(MEMBERS.items())))
    with zipfile.ZipFile(io.BytesIO(archive(MEMBERS))) as file:
        assert {item.date_time for item in file.infolist()} == {(1980, 1, 1, 0, 0, 0)}


@pytest.mark.parametrize("name", ["/etc/x", "../x", "a/../x", "a//x", "a\\x", "C:x", "ä.csv", ""])
def test_no_member_can_be_written_outside(name: str) -> None:
    """Whoever unpacks it gets one folder and nothing else."""
    with pytest.raises(ValueError, match="no name for a member"):
        archive({name: b""})


def test_the_figure_of_an_episode_is_the_same_twice() -> None:
    """As SVG and as PNG."""
    pair = with_faults(found(drop()))
    first, second = (episode_files(build(pair, drop(), place=1), "about") for _ in range(2))
    assert set(first) == {".svg", ".png"}
    assert first == second
    assert first[".png"].startswith(b"\x89PNG")
