"""Take the picture of a report for the README: ``python tools/screenshot.py REPORT.html PICTURE.png``."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from tools.find_chromium import find_chromium

WIDTH, HEIGHT = 1200, 1900


def main() -> None:
    """Open the page in a headless Chromium and keep what is seen first."""
    report, picture = Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve()
    chromium = find_chromium()
    if chromium is None:
        sys.exit("A Chromium is needed to take the picture; on Debian: apt-get install chromium.")
    picture.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as profile:
        flags = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--hide-scrollbars"]
        flags += ["--disable-background-networking", "--disable-component-update", "--disable-sync"]
        flags += [f"--user-data-dir={profile}", f"--window-size={WIDTH},{HEIGHT}", f"--screenshot={picture}"]
        subprocess.run([chromium, *flags, report.as_uri()], check=True, stderr=subprocess.DEVNULL)
    print(picture)


if __name__ == "__main__":
    main()
