"""A plan as one page that needs nothing else: the ride sheet to print."""

from __future__ import annotations

from pathlib import Path

from wattwitness.model.plan import StudyPlan
from wattwitness.render.html import page_of
from wattwitness.render.saving import save
from wattwitness.sections.plan import plan_sections
from wattwitness.words.estimates import counted
from wattwitness.words.numbers import quantity


def write_plan_html(plan: StudyPlan, path: Path, *, replace: bool = True) -> None:
    """Write the page in one step. Raises OutputExists, OutputNotWritable."""
    save(plan_page(plan).encode("utf-8"), path, replace=replace)


def plan_page(plan: StudyPlan) -> str:
    """The page as text."""
    return page_of(
        plan_sections(plan),
        title="Ride sheet",
        kind="plan",
        when=f"{counted(plan.rides, 'ride')} of {quantity(plan.orders[0].minutes, 'min', 0)}, threshold power "
        f"{quantity(plan.threshold_w, 'W', 0)}",
        version=plan.version,
    )
