"""Every section of the report, in reading order. A new one is one file beside this and one line below."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from wattwitness.model.comparison import Comparison
from wattwitness.model.registry import Registry
from wattwitness.model.section import Section
from wattwitness.sections import (
    anatomy,
    answer,
    best,
    between,
    bias,
    budget,
    cadence,
    clock,
    efforts,
    episodes,
    limits,
    method,
    notices,
    own_errors,
    periods,
    power,
    response,
    ride,
    settling,
    setup,
    stories,
    unassessed,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionSpec:
    """A section under its name, and how it is built; ``None`` where this comparison has nothing to say in it."""

    name: str
    build: Callable[[Comparison], Section | None]


SECTIONS: Registry[SectionSpec] = Registry(
    "section",
    [
        SectionSpec(name=answer.NAME, build=answer.build),
        SectionSpec(name=ride.NAME, build=ride.build),
        SectionSpec(name=episodes.NAME, build=episodes.build),
        SectionSpec(name=setup.NAME, build=setup.build),
        SectionSpec(name=bias.NAME, build=bias.build),
        SectionSpec(name=periods.NAME, build=periods.build),
        SectionSpec(name=power.NAME, build=power.build),
        SectionSpec(name=cadence.NAME, build=cadence.build),
        SectionSpec(name=efforts.NAME, build=efforts.build),
        SectionSpec(name=anatomy.NAME, build=anatomy.build),
        SectionSpec(name=stories.NAME, build=stories.build),
        SectionSpec(name=settling.NAME, build=settling.build),
        SectionSpec(name=limits.NAME, build=limits.build),
        SectionSpec(name=best.NAME, build=best.build),
        SectionSpec(name=response.NAME, build=response.build),
        SectionSpec(name=clock.NAME, build=clock.build),
        SectionSpec(name=between.NAME, build=between.build),
        SectionSpec(name=own_errors.NAME, build=own_errors.build),
        SectionSpec(name=budget.NAME, build=budget.build),
        SectionSpec(name=unassessed.NAME, build=unassessed.build),
        SectionSpec(name=notices.NAME, build=notices.build),
        SectionSpec(name=method.NAME, build=method.build),
    ],
)


def sections_of(comparison: Comparison) -> tuple[Section, ...]:
    """Every section that has something to say, in reading order."""
    built = (spec.build(comparison) for spec in SECTIONS)
    return tuple(section for section in built if section is not None)
