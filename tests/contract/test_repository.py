"""What is committed belongs to the project alone: no place of one machine, no host that packages come from."""

from __future__ import annotations

import re
import shutil
import subprocess

import pytest

from tools.docs_pages import ROOT

# Written in pieces, so that this file does not hold what it looks for.
HOSTS = ("pypi" + ".org", "python" + "hosted.org", "npm" + "js.org", "npm" + "js.com", "deb." + "debian.org")
PLACES = ("/wo" + "rk/", "/ro" + "ot/", "/ho" + "me/")
FORBIDDEN = re.compile("|".join(re.escape(part) for part in (*HOSTS, *PLACES)))


def committed_texts() -> dict[str, str]:
    """Every committed file that is text, by its path."""
    git = shutil.which("git")
    if git is None or not (ROOT / ".git").exists():
        pytest.skip("this is no git checkout")
    listed = subprocess.run([git, "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    texts = {}
    for path in filter(None, listed.split("\0")):
        if not (ROOT / path).is_file():
            continue
        content = (ROOT / path).read_bytes()
        if b"\0" not in content:
            texts[path] = content.decode("utf-8", errors="replace")
    return texts


def test_no_committed_file_names_a_package_host_or_a_place_of_one_machine() -> None:
    """A checkout works wherever it is put, with whatever index it is given."""
    texts = committed_texts()
    assert len(texts) > 100
    found = [
        f"{path}: {match.group()}"
        for path, text in texts.items()
        for match in [FORBIDDEN.search(text)]
        if match is not None
    ]
    assert not found


def test_nothing_that_is_built_is_committed() -> None:
    """The page's chart library, environments and sites come from elsewhere or are made."""
    made = re.compile(r"(^|/)(vendor|node_modules|site|dist|build|demo|\.venv|__pycache__)/")
    assert not [path for path in committed_texts() if made.search(path)]
