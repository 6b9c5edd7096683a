"""The same work on many items, over all cores, in the order given."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

Item = TypeVar("Item")
Answer = TypeVar("Answer")

FEW = 2
"""Starting processes takes longer than so few rides."""


def usable_cores() -> int:
    """Cores that this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not every system tells
        return os.cpu_count() or 1


def in_order(
    work: Callable[[Item], Answer], items: Sequence[Item], *, processes: int | None = None
) -> Iterator[Answer]:
    """Yield ``work`` of each item, in their order; ``work`` and items have to be importable from another process.

    Processes are started fresh, so that no state of this one is in them, and get one item at a time: rides are long and
    of different length. An error of one item is raised where its answer would come.
    """
    count = min(processes or usable_cores(), len(items))
    if count < 2 or len(items) <= FEW:
        yield from map(work, items)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    pool = ProcessPoolExecutor(max_workers=count, mp_context=get_context("spawn"), initializer=_end_with_parent)
    try:
        yield from pool.map(work, items)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _end_with_parent() -> None:
    """In a worker: end when the process that started it is gone, which else would leave it waiting for ever."""
    import threading
    from multiprocessing import parent_process
    from multiprocessing.connection import wait

    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, name="watches the parent", daemon=True).start()
