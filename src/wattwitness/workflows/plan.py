"""Plan a study: a claim and a reference in, a ride sheet and workouts out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from wattwitness import __version__
from wattwitness.model.errors import OutputExists, SettingInvalid
from wattwitness.model.plan import RidePlan, StudyPlan
from wattwitness.plan.assemble import PlanQuestion, plan_of
from wattwitness.plan.orders import SHARES

MOST_HOURS = 4.0


def plan_study(question: PlanQuestion) -> StudyPlan:
    """The plan. Raises SettingInvalid where the steps asked for make no ride."""
    cadences = question.cadences_rpm
    if len(set(cadences)) != len(cadences) or not cadences:
        raise SettingInvalid(
            "A cadence stands twice in the plan, or there is none.",
            where="--cadence-rpm",
            hint="Give each cadence once, such as --cadence-rpm 65 --cadence-rpm 85 --cadence-rpm 100.",
        )
    steps = len(cadences) * len(SHARES) * question.repeats
    hours = (question.warm_up_s + steps * question.step_s) / 3600
    if question.own is None and hours > MOST_HOURS:
        raise SettingInvalid(
            f"A ride of {hours:.1f} h is too long to plan: {steps} steps of {question.step_s:.0f} s.",
            where="--step-s",
            hint=f"Keep it under {MOST_HOURS:.0f} h with shorter steps, fewer repeats or fewer cadences.",
        )
    try:
        return plan_of(question, version=__version__)
    except ValueError as error:
        raise SettingInvalid(
            f"No ride can be planned: {error}.",
            where="--threshold-w",
            hint="Steps of at least 30 W can be compared: state a higher threshold power, or a higher share of it.",
        ) from error


def ride_of_steps(path: Path) -> RidePlan:
    """A ride of the tester's own, from a list of its steps. Raises StepsInvalid."""
    from wattwitness.readers.ride_steps import load_ride

    return load_ride(path)


def own_ride(steps: Iterable[Mapping[str, object]]) -> RidePlan:
    """The same from steps as data, as a form would give them. Raises StepsInvalid."""
    from wattwitness.readers.ride_steps import ride_of_items

    return ride_of_items(list(steps))


def workout_of(plan: StudyPlan, *, order: int, made_utc_s: float) -> bytes:
    """One order of the plan as the bytes of a FIT workout."""
    from wattwitness.writers.workout import workout_bytes

    ride = plan.orders[order]
    return workout_bytes(ride, title=f"Compare power, {ride.name}", made_utc_s=made_utc_s)


def check_outputs(paths: list[Path | None], *, replace: bool) -> None:
    """Refuse, before any work is done, to write over something, or two things into one file. Raises OutputExists."""
    given = [path for path in paths if path is not None]
    if len({path.resolve() for path in given}) < len(given):
        raise OutputExists(
            "Page and workout would go into one file.", where=str(given[0]), hint="Give them names of their own."
        )
    for path in given:
        if path.exists() and not replace:
            raise OutputExists(
                "There is something of that name already.",
                where=str(path),
                hint="Give another name, or add --replace to write over it.",
            )


def publish_plan(
    plan: StudyPlan,
    *,
    html_path: Path | None,
    workout_path: Path | None,
    order: int,
    made_utc_s: float,
    replace: bool,
) -> None:
    """Write what was asked for; ``order`` is the place of the one that the workout holds.

    Raises OutputExists, OutputNotWritable.
    """
    if html_path is not None:
        from wattwitness.render.plan_html import write_plan_html

        write_plan_html(plan, html_path, replace=replace)
    if workout_path is not None:
        from wattwitness.writers.workout import write_workout

        ride = plan.orders[order]
        title = f"Compare power, {ride.name}"
        write_workout(ride, workout_path, title=title, made_utc_s=made_utc_s, overwrite=replace)
