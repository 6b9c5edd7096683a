"""What pages ask for while they are open: tasks under way, told and stopped, and whether the bench was changed."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import BaseRoute, Route

from wattwitness.web.answers import told
from wattwitness.web.place import place_of
from wattwitness.web.tasks import Task, TaskState
from wattwitness.workflows.bench_record import state_of_bench

LOOK_S = 0.15
STILL_THERE_S = 5.0
"""A page hears at least so often that the server is there."""


def _task(request: Request) -> Task:
    task = place_of(request).tasks.find(request.path_params["name"])
    if task is None:
        raise HTTPException(404)
    return task


async def _events(request: Request) -> Response:
    """Every change of the task, until it has ended."""
    task = _task(request)

    async def changes() -> AsyncIterator[str]:
        last, quiet_s = "", 0.0
        while True:
            ended = task.state is not TaskState.RUNNING
            now = json.dumps(task.told())
            if now != last:
                yield f"data: {now}\n\n"
                last, quiet_s = now, 0.0
            elif quiet_s >= STILL_THERE_S:
                yield ": still there\n\n"
                quiet_s = 0.0
            if ended or await request.is_disconnected():
                return
            await asyncio.sleep(LOOK_S)
            quiet_s += LOOK_S

    return StreamingResponse(changes(), media_type="text/event-stream")


def _stop(request: Request) -> Response:
    task = _task(request)
    task.stop_asked.set()
    return told(task.told())


def _state(request: Request) -> Response:
    """Whether the bench is still as a page that was loaded earlier shows it."""
    return told({"state": state_of_bench(place_of(request).bench)})


ROUTES: list[BaseRoute] = [
    Route("/state", _state),
    Route("/tasks/{name}/events", _events),
    Route("/tasks/{name}/stop", _stop, methods=["POST"]),
]
