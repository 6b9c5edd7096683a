"""Every section of a study's report, in reading order. A new one is one file beside this and one line below."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from wattwitness.model.registry import Registry
from wattwitness.model.section import Section
from wattwitness.model.study import Study
from wattwitness.sections.over_rides import change, consistency, correction, episodes, method, rider, rides, verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class StudySectionSpec:
    """A section under its name, and how it is built; ``None`` where this study has nothing to say in it."""

    name: str
    build: Callable[[Study], Section | None]


STUDY_SECTIONS: Registry[StudySectionSpec] = Registry(
    "section of a study",
    [
        StudySectionSpec(name=verdict.NAME, build=verdict.build),
        StudySectionSpec(name=consistency.NAME, build=consistency.build),
        StudySectionSpec(name=correction.NAME, build=correction.build),
        StudySectionSpec(name=change.NAME, build=change.build),
        StudySectionSpec(name=episodes.NAME, build=episodes.build),
        StudySectionSpec(name=rider.NAME, build=rider.build),
        StudySectionSpec(name=rides.NAME, build=rides.build),
    ],
)


def study_sections(study: Study, unused: Sequence[tuple[str, str]] = ()) -> tuple[Section, ...]:
    """Every section that has something to say, the method last."""
    built = (spec.build(study) for spec in STUDY_SECTIONS)
    return (*(section for section in built if section is not None), method.build(study, unused))
