"""Time and peak memory of one cold process."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Seconds from start to end, seconds of processor time, and peak resident memory in MB."""

    elapsed_s: float
    processor_s: float
    peak_mb: float


def run_python(arguments: Sequence[str]) -> Run:
    """Run ``python ARGUMENTS`` in a process of its own. Raises RuntimeError, with what it printed, if it fails."""
    started = time.perf_counter()
    process = subprocess.Popen([sys.executable, *arguments], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    assert process.stderr is not None
    complaint = process.stderr.read().decode()
    _, status, usage = os.wait4(process.pid, 0)
    elapsed_s = time.perf_counter() - started
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        raise RuntimeError(f"{' '.join(arguments)} ended with {process.returncode}: {complaint}")
    return Run(elapsed_s=elapsed_s, processor_s=usage.ru_utime + usage.ru_stime, peak_mb=usage.ru_maxrss / 1024)


def middle(runs: Sequence[Run]) -> Run:
    """The median of each number."""
    return Run(
        elapsed_s=median(run.elapsed_s for run in runs),
        processor_s=median(run.processor_s for run in runs),
        peak_mb=median(run.peak_mb for run in runs),
    )
