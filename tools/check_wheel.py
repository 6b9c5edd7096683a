"""Build the wheel, install it in an empty environment, and make a report with no Node and no network at hand.

What a person gets who installs the package: nothing of this checkout, of npm or of the development tools is there.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path
from urllib.request import urlopen

ROOT = Path(__file__).resolve().parents[1]
SCRIPTS = Path(sys.executable).parent
WORTH_A_LOOK = ("wattwitness/py.typed", "wattwitness/render/assets/vendor/uPlot.iife.min.js")
NOWHERE = "http://127.0.0.1:9"


def run(command: list[str | Path], **options: object) -> str:
    """Run a command and return what it printed; end naming it if it failed."""
    done = subprocess.run(
        [str(part) for part in command],
        capture_output=True,
        text=True,
        check=False,
        **options,  # type: ignore[call-overload] # passed on as they are
    )
    if done.returncode != 0:
        sys.exit(f"{' '.join(str(part) for part in command)}\n{done.stdout}{done.stderr}\nended with {done.returncode}")
    return str(done.stdout)


def build_wheel(folder: Path) -> Path:
    """Build the wheel into ``folder``, from the source archive as an installer would, and look into it."""
    run([sys.executable, "-m", "build", "--no-isolation", "--outdir", folder, ROOT])
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        missing = set(WORTH_A_LOOK) - set(archive.namelist())
    if missing:
        sys.exit(f"{wheel.name} lacks {', '.join(sorted(missing))}.")
    return wheel


def install(wheel: Path, folder: Path) -> Path:
    """An environment with the locked runtime packages and the wheel, and nothing else; returns its command."""
    run([sys.executable, "-m", "venv", "--without-pip", folder])
    python = folder / "bin" / "python"
    installer: list[str | Path] = [sys.executable, "-m", "pip", "--python", python, "install", "--quiet"]
    if (SCRIPTS / "uv").exists():
        installer = [SCRIPTS / "uv", "pip", "install", "--quiet", "--python", python]
    run([*installer, "--require-hashes", "-r", ROOT / "requirements.txt"])
    run([*installer, "--no-deps", wheel])
    return folder / "bin" / "wattwitness"


def without_network() -> list[str | Path]:
    """What to put before a command so that it has no network: a namespace of its own, where this user may make one."""
    unshare = shutil.which("unshare")
    if unshare and os.geteuid() == 0 and subprocess.run([unshare, "-n", "true"], check=False).returncode == 0:
        return [unshare, "-n"]
    return []


def make_report(command: Path, folder: Path) -> None:
    """Write the demo's recordings, compare them, and see that the page holds its chart library."""
    environment = {"PATH": "/nonexistent", "HOME": str(folder), "LANG": "C.UTF-8"}
    environment |= dict.fromkeys(("http_proxy", "https_proxy", "HTTP_PROXY", "HTTPS_PROXY", "ALL_PROXY"), NOWHERE)
    alone: list[str | Path] = [*without_network(), command]
    run([*alone, "demo", "--folder", folder / "demo"], env=environment, cwd=folder)
    rides = sorted((folder / "demo" / "recordings").glob("*.fit"))[:2]
    page = folder / "page.html"
    said = run([*alone, "compare", *rides, "--html", page, "--format", "json"], env=environment, cwd=folder)
    if json.loads(said)["clock"]["status"] != "found":
        sys.exit("The installed package did not find the clock of the demo's ride.")
    if "uPlot" not in page.read_text(encoding="utf-8"):
        sys.exit("The page that the installed package wrote does not hold its chart library.")


def open_bench(command: Path, folder: Path) -> None:
    """Serve the demo's bench and see that its page and its scripts are in the package."""
    bench = folder / "demo" / "bench"
    serving = subprocess.Popen([command, "serve", bench, "--port", "0"], stdout=subprocess.PIPE, text=True)
    try:
        assert serving.stdout is not None
        address = serving.stdout.readline().split()[-1]
        for path, holds in (("", "studio bike D"), ("static/panels.js", "class Panels"), ("parts/page.css", ":root")):
            with urlopen(f"{address}{path}", timeout=60) as answer:
                if holds not in answer.read().decode():
                    sys.exit(f"The installed package does not serve “/{path}” as it should.")
    finally:
        serving.terminate()
        serving.wait(timeout=60)


def main() -> None:
    """Build, install, run; say so."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        wheel = build_wheel(folder / "dist")
        command = install(wheel, folder / "empty")
        make_report(command, folder)
        open_bench(command, folder)
        (ROOT / "dist").mkdir(exist_ok=True)
        shutil.copy(wheel, ROOT / "dist")
    print(f"The wheel {wheel.name} made a report offline, without Node, and opened a bench.")


if __name__ == "__main__":
    main()
