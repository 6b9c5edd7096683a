"""Names from elsewhere: whatever they hold, what comes out is one plain name on every system."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wattwitness.workflows.safe_names import MOST_BYTES, safe_folder, safe_name


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("pedals.fit", "pedals.fit"),
        ("Fahrt über Land.fit", "Fahrt über Land.fit"),
        ("../../etc/passwd", "passwd"),
        ("..\\..\\boot.ini", "boot.ini"),
        ("C:\\rides\\day 1.fit", "day 1.fit"),
        ("..", "recording"),
        ("", "recording"),
        ("/", "recording"),
        (".hidden.fit", "hidden.fit"),
        ("a\0b\r\n.fit", "ab.fit"),
        ("ride\u202etif.exe", "ridetif.exe"),
        ("nul", "_nul"),
        ("COM1.fit", "_COM1.fit"),
        ("com10.fit", "com10.fit"),
        ("ride?.fit ", "ride_.fit"),
        ("ends with dots...", "ends with dots"),
    ],
)
def test_names(sent: str, kept: str) -> None:
    assert safe_name(sent) == kept


def test_a_long_name_keeps_its_ending() -> None:
    kept = safe_name("ü" * 300 + ".fit.gz")
    assert kept.endswith(".gz")
    assert len(kept.encode()) <= MOST_BYTES


def test_folders_become_one_name() -> None:
    assert safe_folder("winter/day 1") == safe_name("winter - day 1")
    assert safe_folder("../..") == ""
    assert safe_folder("") == ""


@given(st.text(max_size=400))
def test_whatever_is_sent(sent: str) -> None:
    for kept in (safe_name(sent), safe_folder(sent) or "x"):
        assert kept
        assert not kept.startswith(".")
        assert not set(kept) & set('/\\<>:"|?*')
        assert all(unicodedata.category(one)[0] != "C" for one in kept)
        assert len(kept.encode()) <= MOST_BYTES + 1
        assert kept == kept.strip(" ").rstrip(".")
