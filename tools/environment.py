"""Make the virtual environment ``.venv`` of a source checkout: ``python3 tools/environment.py runtime|dev``.

Only the standard library is used, and nothing newer than Python 3.8, so that an old Python gets a sentence instead of
a syntax error. Packages come from the hashed locks beside the project file, by uv where it can be had and by pip
otherwise; both keep to whatever index, proxy and certificates this machine is set up with.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
VENV = ROOT / ".venv"
SCRIPTS = VENV / ("Scripts" if os.name == "nt" else "bin")
VENV_PYTHON = SCRIPTS / "python"
OLDEST = (3, 11)
NEWER_PYTHONS = ("python3.11", "python3.12", "python3.13", "python3.14")
LOCKS = {"runtime": ("requirements.txt", "requirements-build.txt"), "dev": ("requirements-dev.txt",)}


def fail(*sentences: str) -> None:
    """End with plain sentences on stderr."""
    sys.exit("\n".join(sentences))


def run(*command: str | Path) -> bool:
    """Run a command in the project's folder; whether it succeeded."""
    done = subprocess.run([str(part) for part in command], cwd=ROOT, stdout=subprocess.DEVNULL, check=False)
    return done.returncode == 0


def require_python() -> None:
    """Go on with a newer Python if this one is too old and there is one."""
    if sys.version_info >= OLDEST:
        return
    for name in NEWER_PYTHONS:
        found = shutil.which(name)
        if found:
            os.execv(found, [found, *sys.argv])
    fail(
        f"Python {OLDEST[0]}.{OLDEST[1]} or newer is needed; {sys.executable} is {sys.version.split()[0]}.",
        "Install a newer one, or name it: make PYTHON=/path/to/python3.11 …",
    )


def require_venv() -> None:
    """Make sure that this Python can make virtual environments; Debian puts that into a package of its own."""
    if importlib.util.find_spec("venv") and importlib.util.find_spec("ensurepip"):
        return
    package = f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    if root and shutil.which("apt-get"):
        print(f"This Python cannot make virtual environments yet: installing {package}.", file=sys.stderr)
        if run("apt-get", "update", "-qq") and run("apt-get", "install", "-y", "-qq", package):
            return
    fail(
        f"{sys.executable} cannot make virtual environments: its modules venv and ensurepip are missing.",
        f"On Debian or Ubuntu: apt-get install {package}. Elsewhere install a full Python {OLDEST[0]}.{OLDEST[1]}.",
    )


def make_venv() -> None:
    """Make ``.venv`` if there is no working one."""
    if VENV_PYTHON.exists() and run(VENV_PYTHON, "-c", "import pip"):
        return
    require_venv()
    if not run(sys.executable, "-m", "venv", "--clear", VENV):
        fail(f"The virtual environment could not be made in {VENV}.", "The messages above say why.")


def install(*arguments: str) -> None:
    """Install with uv, or with pip where uv cannot be had or does not reach its index."""
    pip = (VENV_PYTHON, "-m", "pip", "install", "--quiet", "--disable-pip-version-check")
    uv = SCRIPTS / "uv"
    if not uv.exists():
        run(*pip, "--require-hashes", "-r", "requirements-uv.txt")
    if uv.exists() and run(uv, "pip", "install", "--quiet", "--python", VENV_PYTHON, *arguments):
        return
    print("Installing with pip instead of uv; this takes a little longer.", file=sys.stderr)
    if not run(*pip, *arguments):
        fail("The packages could not be installed.", "The messages above say why; a network is needed once.")


def main() -> None:
    """Set up what the one argument names."""
    kind = sys.argv[1] if len(sys.argv) == 2 else ""
    if kind not in LOCKS:
        fail(f"Say what to set up: {' or '.join(LOCKS)}.")
    require_python()
    make_venv()
    for lock in LOCKS[kind]:
        install("--require-hashes", "-r", lock)
    install("--no-deps", "--no-build-isolation", "--editable", ".")


if __name__ == "__main__":
    main()
