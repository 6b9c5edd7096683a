"""Find a Chromium for the browser tests: ``python tools/find_chromium.py [--install]`` prints where it is.

With ``--install`` it is installed where this user may (as root, with apt-get). Without a browser the tests that need
one are skipped, saying so.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")


def find_chromium() -> str | None:
    """The path of an installed Chromium, or None. ``WATTWITNESS_CHROMIUM`` names one that stands elsewhere."""
    named = os.environ.get("WATTWITNESS_CHROMIUM")
    return named or next((path for path in map(shutil.which, NAMES) if path), None)


def install_chromium() -> None:
    """Install Debian's package if this user may; a failure is only said, since the tests can do without."""
    apt_get = shutil.which("apt-get")
    if apt_get is None or os.geteuid() != 0:
        return
    for arguments in (("update", "-qq"), ("install", "-y", "-qq", "--no-install-recommends", "chromium")):
        environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        if subprocess.run([apt_get, *arguments], env=environment, stdout=subprocess.DEVNULL, check=False).returncode:
            print(f"apt-get {arguments[0]} failed.", file=sys.stderr)
            return


def main() -> None:
    """Say where a Chromium is, or that there is none."""
    if find_chromium() is None and "--install" in sys.argv[1:]:
        install_chromium()
    print(find_chromium() or "No Chromium was found: the browser tests will be skipped.")


if __name__ == "__main__":
    main()
