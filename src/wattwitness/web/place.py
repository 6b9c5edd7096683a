"""What every page of one running application shares."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from starlette.requests import Request

from wattwitness.web.tasks import Tasks
from wattwitness.workflows.ride_view import OpenRides
from wattwitness.workflows.unit_view import OpenStudies


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """The bench that is open, the token of this start, the work under way, and the rides and studies looked at last."""

    bench: Path
    token: str
    tasks: Tasks
    rides: OpenRides
    studies: OpenStudies


def place_of(request: Request) -> Place:
    """The place that a request is about."""
    place = request.app.state.place
    assert isinstance(place, Place)  # noqa: S101 (for the type checker)
    return place
