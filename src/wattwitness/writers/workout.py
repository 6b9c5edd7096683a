"""A planned ride as a FIT workout: one step after the other, each with its time, power and cadence.

Message and field numbers are those of the FIT profile (read from fitdecode's tables; that custom power targets stand
1000 above the watts is from memory). A date is a whole second, and no serial number or name is written.
"""

from __future__ import annotations

from pathlib import Path

from wattwitness.model.plan import PlanStep, RidePlan, StepKind
from wattwitness.writers.fit_messages import EPOCH_UTC_S, Base, Field, message, whole_file
from wattwitness.writers.saving import save

_FILE_ID, _WORKOUT, _WORKOUT_STEP = 0, 26, 27
_A_WORKOUT = 5
_DEVELOPMENT = 255
_CYCLING, _INDOORS = 2, 6
_BY_TIME, _CADENCE, _POWER = 0, 3, 4
_WATTS_ABOVE = 1000
_INTENSITY = {StepKind.WARM_UP: 2, StepKind.MEASURE: 0, StepKind.COOL_DOWN: 3}
_NAMES = {StepKind.WARM_UP: "warm-up", StepKind.MEASURE: "step", StepKind.COOL_DOWN: "cool-down"}

POWER_SHARE, LEAST_W = 0.03, 5.0
CADENCE_RPM = 3.0
"""How far a target reaches to either side: near enough that steps differ, wide enough to be ridden."""


def write_workout(ride: RidePlan, path: Path, *, title: str, made_utc_s: float, overwrite: bool = False) -> None:
    """Write ``ride`` as a workout called ``title``. Raises OutputExists, OutputNotWritable."""
    save(workout_bytes(ride, title=title, made_utc_s=made_utc_s), path, overwrite=overwrite)


def workout_bytes(ride: RidePlan, *, title: str, made_utc_s: float) -> bytes:
    """The same as bytes."""
    return whole_file(_body(ride, title, made_utc_s))


def _body(ride: RidePlan, title: str, made_utc_s: float) -> bytes:
    file_id = (
        Field(number=0, base=Base.ENUM, value=_A_WORKOUT),
        Field(number=1, base=Base.UINT16, value=_DEVELOPMENT),
        Field(number=2, base=Base.UINT16, value=0),
        Field(number=4, base=Base.UINT32, value=int(made_utc_s) - EPOCH_UTC_S),
    )
    workout = (
        Field(number=4, base=Base.ENUM, value=_CYCLING),
        Field(number=11, base=Base.ENUM, value=_INDOORS),
        Field(number=6, base=Base.UINT16, value=len(ride.steps)),
        Field(number=8, base=Base.STRING, value=title),
    )
    parts = [message(0, _FILE_ID, file_id), message(1, _WORKOUT, workout)]
    parts += [message(2, _WORKOUT_STEP, _step(step, place)) for place, step in enumerate(ride.steps)]
    return b"".join(parts)


def _step(step: PlanStep, place: int) -> tuple[Field, ...]:
    """A power to hold for a time, the cadence as second target and in the step's name."""
    powers = (step.power_w, step.power_w if step.end_w is None else step.end_w)
    around = max(LEAST_W, POWER_SHARE * max(powers))
    low, high = max(min(powers) - around, 0.0), max(powers) + around
    name = f"{_NAMES[step.kind]} {step.power_w:.0f} W {step.cadence_rpm:.0f} rpm"
    return (
        Field(number=254, base=Base.UINT16, value=place),
        Field(number=0, base=Base.STRING, value=name),
        Field(number=1, base=Base.ENUM, value=_BY_TIME),
        Field(number=2, base=Base.UINT32, value=round(step.seconds * 1000)),
        Field(number=3, base=Base.ENUM, value=_POWER),
        Field(number=4, base=Base.UINT32, value=0),
        Field(number=5, base=Base.UINT32, value=round(low) + _WATTS_ABOVE),
        Field(number=6, base=Base.UINT32, value=round(high) + _WATTS_ABOVE),
        Field(number=7, base=Base.ENUM, value=_INTENSITY[step.kind]),
        Field(number=19, base=Base.ENUM, value=_CADENCE),
        Field(number=20, base=Base.UINT32, value=0),
        Field(number=21, base=Base.UINT32, value=round(max(step.cadence_rpm - CADENCE_RPM, 0))),
        Field(number=22, base=Base.UINT32, value=round(step.cadence_rpm + CADENCE_RPM)),
    )
