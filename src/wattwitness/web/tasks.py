"""Work that takes longer than a page may wait: begun, told of while it goes on, stopped when the tester says so."""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

from wattwitness.model.errors import WattwitnessError

MOST_KEPT = 50


class TaskState(StrEnum):
    """Where a task stands."""

    RUNNING = "running"
    DONE = "done"
    STOPPED = "stopped"
    FAILED = "failed"


class Stopped(Exception):
    """The tester stopped the task; raised from its own telling of progress."""


@dataclass(slots=True, kw_only=True)
class Task:
    """One piece of work. ``leads_to`` is the page to go to once it is done; ``error`` what a failed one says."""

    name: str
    title: str
    state: TaskState = TaskState.RUNNING
    says: str = "starting"
    leads_to: str = ""
    error: dict[str, str] | None = None
    began_s: float = field(default_factory=time.time)
    stop_asked: threading.Event = field(default_factory=threading.Event)
    ended: threading.Event = field(default_factory=threading.Event)

    def told(self) -> dict[str, object]:
        """What a page shows of it."""
        return {
            "name": self.name,
            "title": self.title,
            "state": self.state.value,
            "says": self.says,
            "leads_to": self.leads_to,
            "error": self.error,
        }


Work = Callable[[Callable[[str], None]], str]
"""Gets a function to tell progress with, and returns the address of the page that shows what came of it."""


class Tasks:
    """The tasks of this process, each in a thread of its own; heavy work within them uses processes."""

    def __init__(self) -> None:
        self._tasks: dict[str, Task] = {}
        self._lock = threading.Lock()

    def begin(self, title: str, work: Work) -> Task:
        """Start ``work``; one of the same title that is still running is given instead of a second."""
        with self._lock:
            for known in self._tasks.values():
                if known.title == title and known.state is TaskState.RUNNING and not known.stop_asked.is_set():
                    return known
            task = Task(name=secrets.token_hex(6), title=title)
            self._tasks[task.name] = task
            self._forget()
        threading.Thread(target=_run, args=(task, work), name=task.name, daemon=True).start()
        return task

    def find(self, name: str) -> Task | None:
        """The task of that name, unless it is long past or from before the program was started anew."""
        return self._tasks.get(name)

    def running(self) -> list[Task]:
        """Those that are still at work."""
        return [task for task in list(self._tasks.values()) if task.state is TaskState.RUNNING]

    def stop_all(self, *, wait_s: float) -> None:
        """Ask every task to stop, and wait a little for them."""
        tasks = self.running()
        for task in tasks:
            task.stop_asked.set()
        for task in tasks:
            task.ended.wait(wait_s)

    def _forget(self) -> None:
        past = [name for name, task in self._tasks.items() if task.state is not TaskState.RUNNING]
        for name in past[: max(0, len(self._tasks) - MOST_KEPT)]:
            del self._tasks[name]


def _run(task: Task, work: Work) -> None:
    def tell(says: str) -> None:
        if task.stop_asked.is_set():
            raise Stopped
        task.says = says

    try:
        task.leads_to = work(tell)
        task.state = TaskState.DONE
    except Stopped:
        task.says, task.state = "stopped; what was done before is kept", TaskState.STOPPED
    except WattwitnessError as error:
        task.error, task.state = told_error(error), TaskState.FAILED
    except Exception as error:  # noqa: BLE001 (a fault of ours is told, and the server goes on)
        task.error, task.state = told_fault(error), TaskState.FAILED
    finally:
        task.ended.set()


def told_error(error: WattwitnessError) -> dict[str, str]:
    """An error in the form that every page shows."""
    return {"slug": error.slug, "what": error.what, "where": error.where or "", "hint": error.hint}


def told_fault(error: Exception) -> dict[str, str]:
    """The same for a fault of the program itself."""
    return {
        "slug": "fault",
        "what": f"This is a fault of wattwitness itself ({type(error).__name__}: {error}).",
        "where": "",
        "hint": "Your files are unchanged. Start the program with WATTWITNESS_TRACEBACK=1 and report what it prints.",
    }
