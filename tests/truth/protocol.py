"""What a truth run is: rides made with a known truth, judged one by one, and a table of how often the truth came back.

A topic is one module ``tests/truth/truth_<topic>.py`` that holds one ``TOPIC = TruthTopic(...)``. The runner
(``python -m tests.truth``) finds the modules by name; see ``README.md`` beside this file.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Generic, TypeVar

Job = TypeVar("Job")
Outcome = TypeVar("Outcome")


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """Something the tool promises, in one plain sentence with its number, and whether the run bore it out.

    ``seen`` is what came out, as shown: ``97.5 % of 200 rides``.
    """

    text: str
    seen: str
    held: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TruthTable:
    """What one topic found. Cells are shown as they are; every row is as long as ``columns``.

    ``claims`` are what the run is for: at least one, so that a table cannot pass by measuring nothing.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    claims: tuple[Claim, ...]
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse ragged rows, and a table that measured or claims nothing."""
        if not self.rows or not self.claims:
            raise ValueError(f"the truth table “{self.title}” has no rows or no claims")
        if any(len(row) != len(self.columns) for row in self.rows):
            raise ValueError(f"a row of the truth table “{self.title}” does not fit its columns")

    def broken(self) -> tuple[str, ...]:
        """The claims that did not hold, each with what was seen."""
        return tuple(f"{claim.text} Seen: {claim.seen}." for claim in self.claims if not claim.held)


@dataclass(frozen=True, slots=True, kw_only=True)
class TruthTopic(Generic[Job, Outcome]):
    """One question put to rides with a known truth.

    ``jobs(full)`` lists what to run: small picklable descriptions (a cell and a seed), many when ``full``, few enough
    for about ten seconds on one core when not. ``judge(job)`` makes that ride, estimates, and compares with the truth;
    it runs in another process, so it must be a function of a module and its outcome picklable. ``tabulate(outcomes,
    full)`` turns all outcomes, in the order of the jobs, into the table; claims about a small sample must allow for
    its chance.
    """

    name: str
    jobs: Callable[[bool], Sequence[Job]]
    judge: Callable[[Job], Outcome]
    tabulate: Callable[[Sequence[Outcome], bool], TruthTable]


def run_topic(topic: TruthTopic[Job, Outcome], *, full: bool, processes: int = 1) -> TruthTable:
    """Judge every job of ``topic``, here or in ``processes`` processes, and return its table."""
    jobs = topic.jobs(full)
    if processes <= 1:
        return topic.tabulate([topic.judge(job) for job in jobs], full)
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        chunk = max(1, min(16, len(jobs) // (4 * processes)))
        return topic.tabulate(list(pool.map(topic.judge, jobs, chunksize=chunk)), full)
