"""The same stages of the job by wattwitness, each as a cold process.

python -m benchmarks.ours read|clock|whole|report REFERENCE UNIT [PAGE]
"""

from __future__ import annotations

import sys


def main(stage: str, reference_file: str, unit_file: str, page: str = "") -> int:
    """Do the job up to ``stage``; the last two are the command itself."""
    if stage in ("whole", "report"):
        from wattwitness.cli.main import run

        extra = ["--html", page, "--replace"] if stage == "report" else []
        return run(["compare", reference_file, unit_file, "--format", "json", *extra])
    from wattwitness.readers.open import read_one

    reference, unit = read_one(reference_file), read_one(unit_file)
    if stage == "clock":
        from wattwitness.clock.fit import fit_clock

        print(fit_clock(reference, unit).offset_s)
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
