"""A change by hand, and a sentence on which results it concerns, shown on the page that follows."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from wattwitness.model.settings import CompareSettings
from wattwitness.web.answers import told
from wattwitness.web.place import place_of
from wattwitness.workflows.effects_of_changes import effect_words, verdicts_stand_on

Came = TypeVar("Came")


def changed(request: Request, change: Callable[[], Came], goes_to: str | Callable[[Came], str] = "") -> Response:
    """Make the change and say what it concerns.

    ``goes_to`` is the page that shows it, as it is or by what came of the change (empty: the one that asked).
    """
    bench = place_of(request).bench
    before = verdicts_stand_on(bench, CompareSettings())
    came = change()
    effect = effect_words(before, verdicts_stand_on(bench, CompareSettings()))
    says = f"{came} {effect}" if isinstance(came, str) and came else effect
    page = goes_to if isinstance(goes_to, str) else goes_to(came)
    return told({"says": says, "goes_to": page} if page else {"says": says})


async def changed_there(
    request: Request, change: Callable[[], Came], goes_to: str | Callable[[Came], str] = ""
) -> Response:
    """The same from a handler that reads a form, in a thread."""
    return await run_in_threadpool(changed, request, change, goes_to)
