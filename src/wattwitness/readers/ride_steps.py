"""A ride of a tester's own as a TOML list of steps, checked strictly, to be judged before it is ridden."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from wattwitness.model.errors import StepsInvalid
from wattwitness.model.plan import PlanStep, RidePlan, StepKind
from wattwitness.readers.toml_checks import Check, Invalid, a_number, checked_items, load_toml, one_of, refuse_unknown

LIMIT_BYTES = 1_000_000
MOST_STEPS = 500
MOST_MINUTES = 240.0
NAME = "your own ride"
NEEDED = ("minutes", "power_w", "cadence_rpm")
HINT = "Write [[step]] for each, with minutes, power_w and cadence_rpm; end_w where the power climbs or falls to it."

_STEP: dict[str, Check] = {
    "kind": one_of(StepKind),
    "minutes": a_number(1 / 6, MOST_MINUTES),
    "power_w": a_number(0, 3000),
    "end_w": a_number(0, 3000),
    "cadence_rpm": a_number(0, 200),
}


def load_ride(path: Path) -> RidePlan:
    """The steps of a file, in order. Raises StepsInvalid."""
    invalid = partial(StepsInvalid, where=path.name, hint=HINT)
    content = load_toml(path, limit_bytes=LIMIT_BYTES, kind="list of steps", invalid=invalid)
    refuse_unknown(content, {"step": None}, "table of a list of steps", invalid)
    return _ride(content.get("step"), invalid)


def ride_of_items(steps: Sequence[Mapping[str, Any]]) -> RidePlan:
    """The same from steps as data, as a form would give them. Raises StepsInvalid."""
    return _ride(list(steps), partial(StepsInvalid, where=NAME, hint="Correct the step that is named."))


def _ride(steps: Any, invalid: Invalid) -> RidePlan:
    if not isinstance(steps, list) or not steps:
        raise invalid("The list holds no step.")
    if len(steps) > MOST_STEPS:
        raise invalid(f"The list holds more than {MOST_STEPS} steps.")
    made = []
    for place, step in enumerate(steps, start=1):
        given = checked_items(step, _STEP, invalid, f"step, no. {place}")
        for key in NEEDED:
            if key not in given:
                raise invalid(f"Step no. {place} has no {key}.")
        made.append(
            PlanStep(
                kind=given.get("kind", StepKind.MEASURE),
                seconds=60 * given["minutes"],
                power_w=given["power_w"],
                cadence_rpm=given["cadence_rpm"],
                end_w=given.get("end_w"),
            )
        )
    ride = RidePlan(name=NAME, steps=tuple(made))
    if ride.minutes > MOST_MINUTES:
        raise invalid(f"The steps last {ride.minutes:.0f} min; a ride of more than {MOST_MINUTES:.0f} is no plan.")
    return ride
