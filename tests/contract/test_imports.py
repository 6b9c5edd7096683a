"""What a command imports: start-up stays quick because what is heavy is imported late, or not at all."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from wattwitness.workflows.simulate import simulate_scenario

# Runs a command in a process of its own, and ends its standard error with the names of all modules it imported.
RUN_AND_LIST = """
import json, sys
from wattwitness.cli.main import run
status = run(sys.argv[1:])
print("\\n" + json.dumps(sorted(sys.modules)), file=sys.stderr)
sys.exit(status)
"""
NOT_IN_A_COMPARISON = ("scipy.signal", "scipy.stats", "pandas", "statsmodels", "matplotlib")
NOT_AT_START = ("numpy", "scipy", "rich", "matplotlib", "lxml", "fitdecode")


def imported_by(*arguments: str) -> tuple[int, set[str]]:
    """Exit status of a command, and every module it imported."""
    done = subprocess.run([sys.executable, "-c", RUN_AND_LIST, *arguments], capture_output=True, text=True, check=False)
    return done.returncode, set(json.loads(done.stderr.splitlines()[-1]))


def test_a_comparison_imports_neither_scipy_signal_nor_scipy_stats(tmp_path: Path) -> None:
    """From two files to JSON and a page, without the modules whose import alone takes more than a second."""
    paths = simulate_scenario("laboratory", seed=1, folder=tmp_path, formats=("fit",))
    rides = [str(path) for path in paths if path.suffix == ".fit"][:2]
    page = tmp_path / "page.html"
    status, modules = imported_by("compare", *rides, "--format", "json", "--quiet", "--html", str(page))
    assert status == 0
    assert page.exists()
    assert "scipy" in modules
    assert not modules.intersection(NOT_IN_A_COMPARISON)


@pytest.mark.parametrize("arguments", [("--help",), ("--version",), ("compare", "--help"), ("inspect", "--help")])
def test_help_imports_nothing_heavy(arguments: tuple[str, ...]) -> None:
    """What is asked for most often answers at once."""
    status, modules = imported_by(*arguments)
    assert status == 0
    assert "click" in modules
    assert not modules.intersection(NOT_AT_START)
