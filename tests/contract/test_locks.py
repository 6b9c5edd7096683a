"""The locks: hashed, naming no host, and agreeing with one another and with the project."""

from __future__ import annotations

import json
import re
import tomllib

import pytest

from tools.docs_pages import ROOT

RUNTIME, BUILD, UV, DEV = (f"requirements{suffix}.txt" for suffix in ("", "-build", "-uv", "-dev"))
PIN = re.compile(r"^([a-z0-9][a-z0-9._-]*)==(\S+)( ; [^\\]+?)? \\$")


def pins(name: str) -> set[tuple[str, str]]:
    """Package and version of every pin of a lock."""
    lines = (ROOT / name).read_text(encoding="utf-8").splitlines()
    return {(match[1], match[2]) for line in lines if (match := PIN.match(line))}


@pytest.mark.parametrize("name", [RUNTIME, BUILD, UV, DEV])
def test_a_lock_holds_nothing_but_pins_and_hashes(name: str) -> None:
    """Every line is a pin or a SHA-256: no option, address or path can hide in it."""
    lines = (ROOT / name).read_text(encoding="utf-8").splitlines()
    for before, line in zip(["", *lines], lines, strict=False):
        assert PIN.match(line) or re.match(r"^    --hash=sha256:[0-9a-f]{64}( \\)?$", line), line
        assert not before.endswith("\\") or line.startswith("    --hash"), line
    assert pins(name)


@pytest.mark.parametrize("name", [RUNTIME, BUILD, UV])
def test_the_lock_for_development_holds_all_the_others(name: str) -> None:
    """One version of each package, whatever is set up."""
    assert pins(name) <= pins(DEV)


def test_every_dependency_of_the_project_is_locked() -> None:
    """Nothing is installed at a version that no one has seen."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    groups = project["dependency-groups"].values()
    wanted = project["project"]["dependencies"] + [item for group in groups for item in group if isinstance(item, str)]
    names = {re.split(r"[<>=!~ ;\[]", item)[0].lower().replace("_", "-") for item in wanted}
    assert names <= {name for name, _ in pins(DEV)}
    runtime = {re.split(r"[<>=!~ ;\[]", item)[0].lower() for item in project["project"]["dependencies"]}
    assert runtime <= {name for name, _ in pins(RUNTIME)}


def test_the_lock_of_the_page_holds_integrity_hashes_and_names_no_host() -> None:
    """What npm fetches is told by its hash alone."""
    text = (ROOT / "package-lock.json").read_text(encoding="utf-8")
    packages = {path: item for path, item in json.loads(text)["packages"].items() if path}
    assert packages
    assert all(item["integrity"].startswith("sha512-") for item in packages.values())
    assert "resolved" not in text
    assert "://" not in text
