"""Setting up: what a Python that cannot do it is told."""

from __future__ import annotations

import importlib.util
import os
import shutil
import sys
from pathlib import Path

import pytest

from tools import environment


def test_a_python_without_venv_is_told_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """Debian keeps venv in a package of its own; who is not root gets its name in a sentence."""
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    with pytest.raises(SystemExit) as stopped:
        environment.require_venv()
    message = str(stopped.value)
    assert "cannot make virtual environments" in message
    assert f"apt-get install python3.{sys.version_info[1]}-venv" in message


def test_a_python_that_is_too_old_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where there is no newer one to go on with, the sentence says what is needed and how to name it."""
    monkeypatch.setattr(sys, "version_info", (3, 9, 2))
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(SystemExit) as stopped:
        environment.require_python()
    assert "Python 3.11 or newer is needed" in str(stopped.value)
    assert "make PYTHON=" in str(stopped.value)


def test_an_old_python_hands_over_to_a_newer_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """python3 may be old while a newer one stands beside it."""
    started: list[list[str]] = []
    monkeypatch.setattr(sys, "version_info", (3, 9, 2))
    monkeypatch.setattr(sys, "argv", ["tools/environment.py", "dev"])
    monkeypatch.setattr(shutil, "which", lambda name: f"/opt/{name}" if name == "python3.12" else None)
    monkeypatch.setattr(os, "execv", lambda path, arguments: started.append(arguments))
    with pytest.raises(SystemExit):
        environment.require_python()
    assert started == [["/opt/python3.12", "tools/environment.py", "dev"]]


def test_where_uv_fails_pip_installs_the_same(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The faster installer is a convenience: its failure is no one's problem."""
    tried: list[str] = []

    def run(*command: object) -> bool:
        tried.append(" ".join(str(part) for part in command[1:4]))
        return "-m" in command

    monkeypatch.setattr(environment, "run", run)
    monkeypatch.setattr(environment, "SCRIPTS", tmp_path)
    (tmp_path / "uv").touch()
    environment.install("--require-hashes", "-r", "requirements.txt")
    assert tried == ["pip install --quiet", "-m pip install"]
